"""Values kept by their key: the one unused for longest goes, threads share or do not, a failure leaves nothing."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from fem.kept import Recent


def made(kept: Recent[int], keys: str) -> str:
    """Ask for keys in turn; return those that had to be made."""
    new = []
    for key in keys:
        assert kept.get(key, lambda key=key: new.append(key) or ord(key)) == ord(key)
    return "".join(new)


def test_the_one_unused_for_longest_goes() -> None:
    kept: Recent[int] = Recent(2)
    assert made(kept, "aba") == "ab"
    assert made(kept, "ca") == "c"  # b went, as a was asked for after it
    assert made(kept, "b") == "b"
    assert len(kept) == 2
    kept.clear()
    assert made(kept, "b") == "b"


@pytest.mark.parametrize(("by_thread", "again"), [(False, ""), (True, "a")])
def test_threads_share_or_do_not(by_thread: bool, again: str) -> None:
    kept: Recent[int] = Recent(2, by_thread=by_thread)
    assert made(kept, "a") == "a"
    with ThreadPoolExecutor(1) as other:
        assert other.submit(made, kept, "a").result() == again
    assert made(kept, "a") == ""


def test_a_failure_is_told_and_nothing_kept() -> None:
    kept: Recent[float] = Recent(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 / 0)
    assert len(kept) == 0
    assert kept.get("a", lambda: 2.0) == 2.0


def test_what_makes_a_value_may_ask_for_another() -> None:
    kept: Recent[int] = Recent(2)
    assert kept.get("a", lambda: 1 + kept.get("b", lambda: 1)) == 2
    assert len(kept) == 2
