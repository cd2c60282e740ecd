"""What is said to a person who is about to do it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Caution:
    """One caution: what it is about, and the sentence."""

    about: str
    text: str
