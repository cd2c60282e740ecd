"""Digits do not depend on how many threads linear algebra may take, and what was set before comes back."""

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Thread

import pytest
from threadpoolctl import ThreadpoolController

from fem.threads import one_thread


@pytest.mark.parametrize("which", ['.vary("work_piece", None)', pytest.param("", marks=pytest.mark.slow)])
def test_the_whole_estimate_is_the_same_to_the_last_digit(which: str) -> None:
    """All fields are solved by either; a work piece, whose matrices are small, on request."""
    wanted = "set(fem.Part) - {fem.Part.PICTURES}"
    code = f"import fem; print(fem.estimate(fem.example_design(){which}, wanted={wanted}).to_dict())"
    command = [sys.executable, "-c", code]
    both = [
        subprocess.Popen(command, env={**os.environ, "OMP_NUM_THREADS": number}, stdout=subprocess.PIPE)
        for number in ("1", "2")
    ]
    one, two = (running.communicate(timeout=300)[0] for running in both)
    assert b"'idle'" in one
    assert one == two


def test_what_was_set_comes_back_with_the_last_of_several() -> None:
    with one_thread():
        libraries = ThreadpoolController().select(user_api="blas")

    def threads() -> set[int]:
        return {library.num_threads for library in libraries.lib_controllers if library.prefix != "libopenblas"}

    first_is_in, first_may_go = Barrier(2), Barrier(2)

    def first() -> None:
        with one_thread():
            first_is_in.wait(10)
            first_may_go.wait(10)

    # Set in a thread that ends: threadpoolctl leaves it to the first living one that ever did.
    with ThreadPoolExecutor(1) as apart:
        outer = apart.submit(lambda: libraries.limit(limits=2)).result()
    before = threads()
    running = Thread(target=first)
    running.start()
    first_is_in.wait(10)
    with one_thread():
        first_may_go.wait(10)
        running.join(10)
        assert threads() == {1}
    assert threads() == before
    outer.restore_original_limits()
