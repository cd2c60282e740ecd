"""Libraries that tests compare with, on a machine where they do not load."""

from pathlib import Path

import pytest

from tests.support.needed import needed


@pytest.mark.parametrize("error", ["OSError", "ImportError"])
def test_a_library_that_does_not_load_is_a_reason_to_skip(
    error: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / f"broken_{error}.py").write_text(f"raise {error}('libx.so.0: cannot open')", "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(pytest.skip.Exception, match=f"broken_{error} does not load: libx.so.0"):
        needed(f"broken_{error}")
    with pytest.raises(pytest.skip.Exception, match="No module"):
        needed("no_such_library")
