"""What could not be computed: a part that fails leaves a gap with its reason, and everything else stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from fem.errors import NotConverged, OutOfRange

Found = TypeVar("Found")

FAILURES = (NotConverged, OutOfRange)
"""What the parts of an estimate declare to raise; anything else is a fault of the program and goes through."""


class Gaps:
    """Collect the reasons of what fails, by dotted JSON key."""

    def __init__(self) -> None:
        self.reasons: dict[str, str] = {}

    def attempt(self, keys: str | tuple[str, ...], compute: Callable[[], Found]) -> Found | None:
        """Return what is computed, or None and keep the reason under each key.

        Parameters
        ----------
        keys
            Dotted JSON keys of the results that fail together.
        compute
            What gives them.
        """
        try:
            return compute()
        except FAILURES as error:
            reason = f"no convergence: {error}" if isinstance(error, NotConverged) else str(error)
            self.reasons.update(dict.fromkeys((keys,) if isinstance(keys, str) else keys, reason))
            return None
