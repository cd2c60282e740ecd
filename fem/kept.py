"""What was computed once and is asked for again: the values used last, by their key, and no more than so many.

Kept this way in each process (readers of shipped tables keep theirs for good, by `functools.cache`):

| in | values, by all that they depend on | at most | size of one |
|---|---|---|---|
| `field/static/topology.py` | numbering, pattern and symbolic factors, by the triangles | 8 a thread | some 10 MB |
| `characteristics/magnetising/planar.py` | curves, by section, mesh, laws and winding | 64 a thread | some kB |
| `characteristics/magnetising/by_key.py` | their derivatives, by these and what moves how | 16 a thread | some 100 kB |
| `field/static/starts.py` | canonical states, by section, laws and ampere-turns | 16 a thread | some 2 MB |
| `materials/varied.py` | derivatives of laws, by curve and share of iron | 2 | up to 25 MB |
| `characteristics/laws.py` | laws of iron and bridged joints, by curve and share of iron | 16 | some 100 kB |
| `characteristics/resistance/leads.py` | pairs of leads, by sizes, metal and frequency | 64 | three numbers |
| `estimation/fields/kept.py` | characteristics, derivatives, slices, by what is built | 64, or as told | some 50 kB |

So a thread holds some 80 MB of topologies, the least that lets the leakage's and the curve's levels of a few sections
that a sweep goes to and fro between stay; of all else some MB are held, for as many cores as a sweep's worker meets
before it comes back to one.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from types import SimpleNamespace
from typing import Generic, TypeVar

T = TypeVar("T")


class Recent(Generic[T]):
    """Values by key, made when first asked for; beyond a number of them the one unused for longest goes.

    A value must follow from its key alone, to the last digit, so that no answer depends on what was asked before; but
    for where an iteration starts, which counts who asked and no answer depends on.

    Parameters
    ----------
    most
        How many are kept.
    by_thread
        Whether each thread keeps as many of its own: for values that change while they are used, as factors do.
        Otherwise all threads share them; two that ask for the same at once may both make it.
    """

    def __init__(self, most: int, *, by_thread: bool = False) -> None:
        self.most = most
        self._lock = threading.Lock()
        self._place: threading.local | SimpleNamespace = threading.local() if by_thread else SimpleNamespace()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return the value of a key, made where it is not kept; where making it raises, nothing is."""
        with self._lock:
            if key in (values := self._values()):
                values.move_to_end(key)
                return values[key]
        made = make()
        with self._lock:
            values[key] = made
            values.move_to_end(key)
            while len(values) > self.most:
                values.popitem(last=False)
        return made

    def clear(self) -> None:
        """Forget what all threads share, or what this one keeps."""
        with self._lock:
            self._values().clear()

    def __len__(self) -> int:
        return len(self._values())

    def _values(self) -> OrderedDict[Hashable, T]:
        if not hasattr(self._place, "values"):
            self._place.values = OrderedDict()
        values: OrderedDict[Hashable, T] = self._place.values
        return values
