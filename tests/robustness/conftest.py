"""The estimate with round numbers, for what is done with estimates here too."""

import pytest

import fem.estimation.one_design
from tests.unit.conftest import hand_made

__all__ = ["hand_made"]


@pytest.fixture
def computed(monkeypatch, hand_made, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda design, **_: hand_made)
