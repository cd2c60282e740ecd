"""Every mutation is noticed by a named test of the default run."""

import importlib.util
from pathlib import Path

import pytest

spec = importlib.util.spec_from_file_location("mutation_run", Path(__file__).with_name("run.py"))
assert spec is not None
assert spec.loader is not None
run = importlib.util.module_from_spec(spec)
spec.loader.exec_module(run)


@pytest.mark.slow
@pytest.mark.parametrize("mutation", run.MUTATIONS, ids=lambda m: m.name)
def test_it_is_noticed(mutation) -> None:
    assert run.noticed_by(mutation) is not None


def test_each_changes_what_stands_once_in_its_file() -> None:
    astray = {m.name: n for m in run.MUTATIONS if (n := (run.ROOT / m.file).read_text("utf-8").count(m.old)) != 1}
    assert not astray
