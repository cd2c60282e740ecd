"""All cures of a design, each computed to the end, ranked, and the best of them together."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import StrEnum
from math import nan

from pydantic import ValidationError

from fem.characteristics.characterise import Progress
from fem.cures import core, path, supply, windings
from fem.cures.cure import Bench, Change, Cure, NotOpen
from fem.cures.goal import FELT, IDLE, Goal, goal_of, harms, is_saturated, rank
from fem.cures.sure import Ends, sure
from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.digits import brief
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.estimation.fields.kept import Kept, default_folder
from fem.estimation.inputs.cutting import Piece, pieces_of
from fem.options.aims import asked
from fem.options.outcome import Outcome
from fem.quantity import of
from geometries.windings.arrangement import place

CURES: tuple[Cure, ...] = (*path.CURES, *supply.CURES, *windings.CURES, *core.CURES)
"""What touches no field first."""
TOGETHER = 3
"""How many of the best are also computed together."""
MOST_LOSS = 0.25
"""In the number that matters, that less idle current may cost and still be a trade [-]; a choice of ours."""
FAILURES = (NotConverged, OutOfRange, ValueError, ArithmeticError, OSError)
"""What takes one cure and no other with it."""


class Verdict(StrEnum):
    """What a cure brings, in the order of the table."""

    HELPS = "helps"
    LESS_IDLE = "less idle current"
    HOLDS = "breaker fares better"
    TRADE = "trade-off"
    LITTLE = "no gain"
    WORSE = "worse"
    NO_ROOM = "does not fit"
    FAILED = "failed"
    CLOSED = "not open"


@dataclass(frozen=True, kw_only=True, slots=True)
class CureRow:
    """One cure and what it comes to.

    Parameters
    ----------
    name, change
        The cure, and what it does; nothing where it is not open.
    verdict
        In short.
    outcome
        What the design then comes to; None where it was not computed, for a reason in words.
    gain, idle_gain
        In the number that matters, and in idle current, as shares of what they were [-], better being positive; nan
        where not known.
    gain_ends, idle_gain_ends
        Between which they lie nine times out of ten; None where that is not known.
    harms
        What it makes worse, in words.
    within_limits
        Whether it brings a saturated core within its limits.
    conductor
        What there is to buy or cut anew, in words, with its mass [kg].
    """

    name: str
    verdict: Verdict
    change: Change | None = None
    outcome: Outcome | None = None
    reason: str = ""
    gain: float = nan
    idle_gain: float = nan
    gain_ends: Ends | None = None
    idle_gain_ends: Ends | None = None
    harms: tuple[str, ...] = ()
    within_limits: bool = False
    conductor: tuple[str, ...] = ()
    mass: float = of("kg", "of conductor to buy")


@dataclass(frozen=True, kw_only=True, slots=True)
class Cures:
    """What would improve a design.

    Parameters
    ----------
    title
        Of the design.
    before
        What it comes to as it is.
    goal
        What is to be improved.
    saturated
        Whether its core is driven above its limits, so that idle current counts too.
    rows
        The best first.
    together
        The best few at once; None where there are not two, or they were not computed.
    stopped
        Whether Ctrl-C ended it before all were computed.
    """

    title: str
    before: Outcome
    goal: Goal
    saturated: bool
    rows: tuple[CureRow, ...]
    together: CureRow | None = None
    stopped: bool = False

    @property
    def best(self) -> CureRow | None:
        """The one that is recommended, if one is."""
        return next((row for row in self.rows[:1] if row.verdict in (Verdict.HELPS, Verdict.LESS_IDLE)), None)

    @property
    def reason(self) -> str:
        """Why that one, or why none."""
        if (best := self.best) is None or best.outcome is None:
            return "nothing here helps without harm elsewhere"
        goal = self.goal if best.verdict is Verdict.HELPS else IDLE
        text = f"{goal.words} {goal.said(best.outcome)} in place of {goal.said(self.before)}"
        wish = "" if goal.wanted is None else f"; {'as' if goal.met(best.outcome) else 'still not as'} wanted"
        return f"{text}, the most of all that harm nothing else{wish}"

    @property
    def against_idle(self) -> CureRow | None:
        """What brings a saturated core within its limits at the least cost, else lowers its idle current most."""
        rows = [row for row in self.rows if row.idle_gain >= FELT and row.gain >= -MOST_LOSS and not row.harms]
        by = {row.name: (row.within_limits, row.gain if row.within_limits else row.idle_gain) for row in rows}
        return max(rows, key=lambda row: by[row.name], default=None) if self.saturated else None


def find_cures(
    design: Design,
    *,
    kept: Kept | None = None,
    bands: bool = True,
    progress: Progress = lambda _: None,
    wanted: Sequence[Cure] = CURES,
) -> Cures:
    """Say what would improve a design: every cure, computed to the end where it is open and fits.

    Parameters
    ----------
    design
        As it is, with its wish.
    kept
        Where fields and outcomes are kept; on disk as `REWOUND_CACHE` says where not given.
    bands
        Whether gains have ends between which they lie, which takes half as long again.
    progress
        Told what is under way.
    wanted
        Which cures.

    Raises
    ------
    DoesNotFit, OutOfRange, NotConverged, ValueError
        As `estimate`, of the design as it is.
    """
    bench = Bench(design=asked(design), kept=Kept(folder=default_folder()) if kept is None else kept)
    progress("as it is")
    if bands:
        bench.case.slopes  # noqa: B018  fields and their derivatives are solved together
    goal = goal_of(bench.design, bench.before)
    found = Cures(
        title=design.title, before=bench.before, goal=goal, saturated=is_saturated(bench.design, bench.before), rows=()
    )
    try:
        for number, cure in enumerate(wanted, 1):
            progress(f"{cure.name} ({number} of {len(wanted)})")
            found = replace(found, rows=tuple(sorted((*found.rows, computed(bench, cure, goal, bands)), key=_order)))
        progress("the best together")
        return replace(found, together=_together(bench, found.rows, wanted, goal, bands))
    except KeyboardInterrupt:
        return replace(found, stopped=True)


def computed(bench: Bench, cure: Cure, goal: Goal, bands: bool = False) -> CureRow:
    """Return a cure's row, computed to the end; where that is not possible, with the reason."""
    try:
        change = cure.find(bench)
    except NotOpen as error:
        return CureRow(name=cure.name, verdict=Verdict.CLOSED, reason=str(error), mass=0.0)
    except FAILURES as error:
        return CureRow(name=cure.name, verdict=Verdict.FAILED, reason=str(error), mass=0.0)
    return _row(bench, cure.name, change, goal, bands)


def _row(bench: Bench, name: str, change: Change, goal: Goal, bands: bool) -> CureRow:
    design = bench.design
    none = CureRow(name=name, verdict=Verdict.FAILED, change=change, mass=0.0)
    try:
        changed = Bench(design=design.varied(change.keys), kept=bench.kept)
        if bands:
            changed.case.slopes  # noqa: B018  as above
        other, after = changed.design, changed.before
    except ValidationError as error:
        return replace(none, verdict=Verdict.CLOSED, reason="; ".join(str(each["msg"]) for each in error.errors()))
    except DoesNotFit as error:
        reason = "; ".join(dict.fromkeys(text for _, text in error.faults))
        return replace(none, verdict=Verdict.NO_ROOM, reason=reason)
    except FAILURES as error:
        return replace(none, reason=str(error))
    before = bench.before
    saturated, harm, pieces = is_saturated(design, before), harms(design, before, after), _bought(design, other)
    gain, idle = goal.gain(before, after), IDLE.gain(before, after)
    ends: tuple[Ends | None, Ends | None] = None, None
    if bands:
        with suppress(*FAILURES):  # what is computed stands without
            ends = sure(bench, changed, goal)
    return replace(
        none,
        verdict=_verdict(gain, idle if saturated else 0.0, rank(before) - rank(after), harm),
        outcome=after,
        gain=gain,
        idle_gain=idle,
        gain_ends=ends[0],
        idle_gain_ends=ends[1],
        harms=harm,
        within_limits=saturated and not is_saturated(other, after),
        conductor=tuple(map(_cut, pieces)),
        mass=float(sum(piece.mass for piece in pieces)),
    )


def _verdict(gain: float, idle: float, breaker: int, harm: Sequence[str]) -> Verdict:
    if gain >= FELT:
        return Verdict.TRADE if harm else Verdict.HELPS
    if idle >= FELT and gain >= -MOST_LOSS:
        return Verdict.TRADE if harm or gain <= -FELT else Verdict.LESS_IDLE
    if breaker > 0 and not harm and gain > -FELT:
        return Verdict.HOLDS
    return Verdict.WORSE if gain <= -FELT or harm else Verdict.LITTLE


def _order(row: CureRow) -> tuple[int, float]:
    by = row.idle_gain if row.verdict is Verdict.LESS_IDLE else row.gain
    return list(Verdict).index(row.verdict), 0.0 if by != by else -by


def _together(bench: Bench, rows: Sequence[CureRow], cures: Sequence[Cure], goal: Goal, bands: bool) -> CureRow | None:
    """Return the best few at once, each found on the design that the ones before have changed."""
    find, design = {cure.name: cure.find for cure in cures}, bench.design
    keys, taken = dict[str, object](), dict[str, Change]()
    for row in rows:
        if row.verdict not in (Verdict.HELPS, Verdict.LESS_IDLE) or len(taken) == TOGETHER:
            break
        try:
            change = find[row.name](Bench(design=design, kept=bench.kept))
            if set(change.keys) & set(keys):
                continue  # another way to the same
            design = design.varied(change.keys)
        except (NotOpen, *FAILURES):
            continue
        keys, taken = keys | dict(change.keys), taken | {row.name: change}
    if len(taken) < 2:
        return None
    dangers = dict.fromkeys(filter(None, (change.danger for change in taken.values())))
    whole = Change(keys=keys, do="; ".join(change.do for change in taken.values()), danger=", ".join(dangers))
    return _row(bench, " + ".join(taken), whole, goal, bands)


def _bought(before: Design, after: Design) -> list[Piece]:
    """Return what is not there to be cut from."""
    there, wanted = (
        {piece.name: piece for piece in pieces_of(design, place(design.core, design.windings))}
        for design in map(in_use, (before, after))
    )

    def is_there(piece: Piece) -> bool:
        old = there.get(piece.name)
        same = old is not None and old.conductor == piece.conductor and piece.length <= old.length + 1e-3
        return same and old is not None and (piece.salvaged or piece.count <= old.count)

    return [piece for piece in wanted.values() if not is_there(piece)]


def _cut(piece: Piece) -> str:
    count = f"{piece.count} x " if piece.count > 1 else ""
    return f"{count}{brief(float(piece.length))} m of {piece.conductor.label}"
