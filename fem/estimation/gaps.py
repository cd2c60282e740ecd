"""What could not be computed: a part that fails leaves a gap with its reason, and everything else stands."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from fem.errors import NotConverged, OutOfRange

Found = TypeVar("Found")

FAILURES = (NotConverged, OutOfRange)
"""What the parts of an estimate declare to raise; anything else is a fault of the program and goes through."""


class Gaps:
    """Collect, by dotted JSON key, why results are None: `reasons` of all, `failed` the keys of those that failed."""

    def __init__(self) -> None:
        self.reasons: dict[str, str] = {}
        self.failed: list[str] = []

    def explain(self, key: str, reason: str) -> None:
        """Keep the reason of a result that is None without anything having failed."""
        self.reasons[key] = reason

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
            failed = (keys,) if isinstance(keys, str) else keys
            self.reasons.update(dict.fromkeys(failed, reason))
            self.failed += failed
            return None
