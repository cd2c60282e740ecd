"""What is said to a person who is about to do it: the worst first, general words last."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

LINE = 63
"""Letters of a line behind what it is about, on a screen of 80."""
COMPUTED, PRACTICE = "computed", "common practice"
"""Sources of what is no published figure."""


class Danger(StrEnum):
    """What disregard of a caution does, the worst first."""

    KILLS = "kills"
    BURNS = "burns"
    """Or blinds, poisons, sets fire."""
    DAMAGES = "damages"
    """The machine, the work, the installation."""
    DISTURBS = "disturbs"
    """Trips a breaker, or leaves numbers in doubt."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Caution:
    """One caution.

    Parameters
    ----------
    about
        Its subject, in a word or two.
    text
        The first sentence says what to mind with its number, in a line (`short`); others say why.
    danger
        What disregard does.
    source
        Where its figures stand: what is published, `COMPUTED`, `PRACTICE`, or one "from memory".
    numbers
        The results it is about by dotted JSON key [SI]; no two cautions of an estimate are about the same one.
    general
        Whether it holds at this work whatever the numbers: such stand last.
    """

    about: str
    text: str
    danger: Danger
    source: str = COMPUTED
    numbers: Mapping[str, float] = field(default_factory=dict)
    general: bool = False

    @property
    def short(self) -> str:
        """The first sentence, which says it all where there is but a line: at most `LINE` letters."""
        return first_sentence(self.text)

    @property
    def told(self) -> str:
        """The sentence with its source, unless that is the tool."""
        return self.text if self.source == COMPUTED else f"{self.text.removesuffix('.')} ({self.source})."


def few(parts: Sequence[str], most: int = 2) -> str:
    """Return the first parts by name, and how many more there are."""
    return ", ".join(parts[:most]) + (f" and {len(parts) - most} more" if parts[most:] else "")


def first_sentence(text: str) -> str:
    """Return the first sentence of a text."""
    return re.split(r"(?<=[.?]) (?=[A-Z0-9\"])", text)[0]


def in_order(cautions: Iterable[Caution]) -> tuple[Caution, ...]:
    """Return cautions that follow from the numbers before general ones, each the worst first, else as they came."""
    rank = tuple(Danger).index
    return tuple(sorted(cautions, key=lambda caution: (caution.general, rank(caution.danger))))


def foremost(cautions: Iterable[Caution], count: int = 3) -> tuple[Caution, ...]:
    """Return the cautions that matter most, one a subject; general ones only where there are no others."""
    by_subject: dict[str, Caution] = {}
    for caution in in_order(cautions):
        by_subject.setdefault(caution.about, caution)
    return tuple(by_subject.values())[:count]
