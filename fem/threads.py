"""How many threads linear algebra may use: one, in every process, as sums in another order have other last digits.

Libraries read this when they are loaded, so it has to be said before numpy is.
"""

from __future__ import annotations

import os

VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def use_one_thread() -> None:
    """Tell libraries that are loaded from now on to use one thread."""
    os.environ.update(dict.fromkeys(VARIABLES, "1"))
