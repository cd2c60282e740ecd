"""What is said to a person who is about to do it: the worst first, general words last."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

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
        The sentence.
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
    def told(self) -> str:
        """The sentence with its source, unless that is the tool."""
        return self.text if self.source == COMPUTED else f"{self.text.removesuffix('.')} ({self.source})."


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
