"""All that one decides by, from one estimate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.estimation.result import Estimate
from fem.report.verdict.amperes import fit, into, lead_ends, mains, no_load, switching_on
from fem.report.verdict.answer import INTO, Answer
from fem.report.verdict.heat import longest_burst, plugged_in, times
from fem.report.verdict.largest import MilliohmRow, changes, milliohm_state, rows
from fem.trust.caution import Caution, foremost

MOST_CAUTIONS = 3
WORDS = {"mains.breaker": "breaker", "work_piece": "work piece"}
"""What the job may leave out, where its key is no word of the shop."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """All of it.

    Parameters
    ----------
    title
        Of the design.
    answers
        In the order they are asked in.
    state, milliohms
        What the table is of, and its rows: the largest, the rest together, all together.
    cautions
        Those that matter most for these numbers.
    changes
        What would change the numbers most: what the current is in doubt by, and what is in its way.
    untold
        What the job leaves out.
    """

    title: str
    answers: tuple[Answer, ...]
    state: str
    milliohms: tuple[MilliohmRow, ...]
    cautions: tuple[Caution, ...]
    changes: tuple[str, str]
    untold: str


def verdict(estimate: Estimate) -> Verdict:
    """Return the verdict of an estimate."""
    name, state = milliohm_state(estimate)
    return Verdict(
        title=estimate.title,
        answers=tuple(_answers(estimate)),
        state=INTO.get(name, ""),
        milliohms=() if state is None else rows(state),
        cautions=foremost(estimate.cautions, MOST_CAUTIONS),
        changes=changes(estimate, name, state),
        untold="; ".join(_untold(estimate)),
    )


def _answers(estimate: Estimate) -> Iterator[Answer]:
    yield fit(estimate)
    yield lead_ends(estimate)
    yield from into(estimate)
    yield from mains(estimate)
    yield from switching_on(estimate)
    yield no_load(estimate)
    yield plugged_in(estimate)
    yield from times(estimate)
    yield from longest_burst(estimate)


def _untold(estimate: Estimate) -> Iterator[str]:
    """Name what the job leaves out, and how much of the rest is taken as usual."""
    yield from filter(None, [", ".join(WORDS.get(one.key, one.key) for one in estimate.left_out)])
    if estimate.assumed:
        count = len(estimate.assumed)
        yield f"{count} key{'s' if count > 1 else ''} taken as usual"
