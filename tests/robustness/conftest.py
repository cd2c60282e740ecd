"""The estimate with round numbers, for what is done with estimates here too."""

import pytest

import fem.study.estimate
from tests.unit.conftest import hand_made

__all__ = ["hand_made"]


@pytest.fixture
def computed(monkeypatch, hand_made, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(fem.study.estimate, "estimate", lambda design, **_: hand_made)
