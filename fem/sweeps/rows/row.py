"""One point of a sweep, and how it ended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any


class Status(Enum):
    """How a point ended."""

    DONE = "done"
    REFUSED = "refused"
    FAILED = "failed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One point of a sweep.

    Parameters
    ----------
    key
        Digest of the whole design, the solver's version and what was asked for.
    position
        In the sweep.
    point
        What was varied, and its values.
    status, reason
        How it ended, and why where it did not end well; where it did, which results could not be computed and why.
    results
        Dotted JSON keys to numbers and texts; empty unless done.
    """

    key: str
    position: int
    point: Mapping[str, Any]
    status: Status
    reason: str
    results: Mapping[str, Any]

    @property
    def has_gaps(self) -> bool:
        """Whether a point that was done lacks results that could not be computed."""
        return self.status is Status.DONE and self.reason != ""
