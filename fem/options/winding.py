"""What shall I wind: every secondary that fits, the best of them computed to the end and ranked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from functools import cache
from math import ceil
from typing import Any

from fem.characteristics.characterise import Progress
from fem.design.transformer import Design
from fem.digits import brief
from fem.errors import DoesNotFit
from fem.estimation.fields.kept import Kept, default_folder
from fem.options.aims import Aim, aims_of, asked, order
from fem.options.candidates import Candidate, candidates, stock_of
from fem.options.found import WindingOption, WindingOptions
from fem.options.outcome import Outcome, kept_outcome, outcome, outcomes
from fem.options.screening import designed, screened
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers.dispatch import dispatch
from fem.sweeps.workers.pool import Pool
from fem.sweeps.workers.task import Task, point_key
from geometries.described.faults import Fault

COMPUTED, LAYS, MISSING_ONE = 16, 4, 4
"""How many candidates are computed to the end: the best by screening, each in its best lay; other lays of the best,
which screening hardly tells apart; and more of those that miss one thing."""
TOGETHER = 8
"""How many are computed at once: their bursts together take hardly longer than one, and are lost together."""

Watch = Callable[[int, int], None]
"""Told how many candidates are computed, and of how many."""


def winding_options(
    design: Design,
    *,
    kept: Kept | None = None,
    workers: int = 1,
    bands: bool = True,
    progress: Progress = lambda _: None,
    watch: Watch = lambda done, whole: None,
) -> WindingOptions:
    """Say what could be wound on a core whose primary stays, and what is best.

    Every number of turns, conductor of the shop, wires in hand, lay and place that fits is screened; the best are
    computed to the end.

    Parameters
    ----------
    design
        With its shop and wish; its own secondary plays no part, but for where it lies.
    kept
        Where fields and outcomes are kept; on disk as `REWOUND_CACHE` says where not given.
    workers
        Processes, which share that disk. Each of several starts the script anew, which therefore needs `if __name__ ==
        "__main__":`.
    bands
        Whether the best has bands.
    progress, watch
        Told what is under way, and how many candidates are computed.

    Raises
    ------
    DoesNotFit
        If nothing fits, with what lacks least; or a ring is the secondary.
    OutOfRange, NotConverged
        If not even one candidate can be solved.
    """
    if design.work_piece is not None and design.work_piece.ring is not None:
        raise DoesNotFit([Fault("work_piece.ring", "a ring is its own secondary: there is none to wind")])
    source = Kept(folder=default_folder()) if kept is None else kept
    wanted, aims = asked(design), aims_of(design)
    fitting, nearly = candidates(design)
    if not fitting:
        raise DoesNotFit([_nothing_fits(nearly)])
    rough = _roughly(wanted, fitting, source, progress)
    chosen = _chosen(fitting, rough, aims)
    found, failed, stopped = dict[int, Outcome](), list[str](), False
    try:
        for place, one in _computed([designed(wanted, each) for each in chosen], source, workers):
            if isinstance(one, str):
                failed.append(f"{_name(chosen[place])}: {one}")
            else:
                found[place] = one
            watch(len(found) + len(failed), len(chosen))
    except KeyboardInterrupt:
        stopped = True
    options = _ranked([_option(chosen[place], one, aims) for place, one in found.items()])
    if bands and options and not stopped:
        progress("bands of the best")
        best = options[0]
        of_best = outcome(designed(wanted, best.candidate), source, with_bands=True)
        options[0] = _option(best.candidate, of_best, aims)
    return WindingOptions(
        aims=tuple(aims),
        options=tuple(options),
        fitting=len(fitting),
        nearly=tuple(nearly),
        assumed_stock=stock_of(design)[1],
        failed=tuple(failed),
        stopped=stopped,
    )


def _nothing_fits(nearly: Sequence[Candidate]) -> Fault:
    if not nearly:
        return Fault("shop.conductors", "none of them fits, not even one turn, and none lacks less than 5 mm")
    one = nearly[0]
    return Fault("shop.conductors", f"none of them fits; least lacks {_name(one)}: {1e3 * one.lacks:.1f} mm")


def _name(candidate: Candidate) -> str:
    winding = candidate.winding
    in_hand = f" x {winding.wires_in_hand} in hand" if winding.wires_in_hand > 1 else ""
    lay = f", lay {winding.lay}" if winding.lay else ""
    return f"{winding.turns} turn{'s' if winding.turns > 1 else ''}{in_hand} of {candidate.stock.label}{lay}"


def _roughly(design: Design, fitting: list[Candidate], kept: Kept, progress: Progress) -> list[Outcome | None]:
    """Screen candidates, or take what that came to before."""
    names = [f"{one.way} {one.stock!r} {one.winding!r}" for one in fitting]
    job = design.model_dump(exclude_unset=True, exclude={"title", "shop", "wish"})

    def screen() -> dict[str, Any]:
        found = screened(design, fitting, kept, progress)
        return {"found": tuple(None if one is None else _fields(one) for one in found)}

    values = kept.beside(f"screened {point_key(job, frozenset())} {names}", screen)["found"]
    return [None if one is None else Outcome(**one) for one in values]


def _fields(found: Outcome) -> dict[str, Any]:
    return {name: getattr(found, name) for name in Outcome.__slots__ if name != "bands"}


def _option(candidate: Candidate, found: Outcome, aims: Sequence[Aim]) -> WindingOption:
    margins = {aim.word: aim.margin(found) for aim in aims}
    misses = [aim.missed(found) for aim in aims if margins[aim.word] < 0]
    have, need = candidate.stock.length, found.conductor_length
    if have is not None and have < need:
        margins["stock"] = have / need - 1
        misses.append(f"stock {brief(have)} m, {brief(need)} m needed")
    return WindingOption(candidate=candidate, outcome=found, margins=margins, misses=tuple(misses))


def _ranked(options: Sequence[WindingOption]) -> list[WindingOption]:
    return sorted(options, key=lambda option: order(option.outcome, option.margins))


def _chosen(fitting: Sequence[Candidate], rough: Sequence[Outcome | None], aims: Sequence[Aim]) -> list[Candidate]:
    """Return the candidates that are worth computing, by screening."""
    ranked = _ranked([_option(c, o, aims) for c, o in zip(fitting, rough, strict=True) if o is not None])
    alike: dict[object, list[WindingOption]] = {}
    for option in ranked:
        one = option.candidate
        kind = one.way, one.stock, one.winding.turns, one.winding.wires_in_hand
        alike.setdefault(kind, []).append(option)
    first = [lays[0] for lays in alike.values()]
    others = next(iter(alike.values()), [])[1 : 1 + LAYS]
    missing = [option for option in first[COMPUTED:] if len(option.misses) == 1]
    return [option.candidate for option in [*first[:COMPUTED], *others, *missing[:MISSING_ONE]]]


def _computed(designs: Sequence[Design], kept: Kept, workers: int) -> Iterator[tuple[int, Outcome | str]]:
    """Yield outcomes as they come, with their places: what is kept first, then here or by other processes."""
    left = []
    for place, design in enumerate(designs):
        if (known := kept_outcome(design, kept)) is not None:
            yield place, known
        else:
            left.append(place)
    count = min(TOGETHER, ceil(len(left) / workers)) or 1

    def where(place: int) -> str:  # what lies alike has one field: for one worker
        windings = designs[place].windings
        return f"{windings.secondary.lay} {windings.secondary.conductor!r} {windings.arrangement}"

    if workers > 1:
        left.sort(key=where)
    together = [left[first : first + count] for first in range(0, len(left), count)]
    if workers == 1 or len(left) < 2:
        for places in together:
            yield from zip(places, _attempts([designs[place] for place in places], kept), strict=True)
        return
    with closing(Pool(min(workers, len(together)), work="fem.options.winding:run_task")) as pool:
        for rows in dispatch(pool, [_task(places, designs) for places in together]):
            yield from ((row.position, row.results.get("outcome") or row.reason) for row in rows)


def _task(places: Sequence[int], designs: Sequence[Design]) -> Task:
    jobs = [designs[place].model_dump(exclude_unset=True, exclude={"shop", "wish"}) for place in places]
    none = tuple[dict[str, Any], ...]({} for _ in places)
    keys = tuple(map(str, places))
    return Task(positions=tuple(places), keys=keys, points=none, jobs=tuple(jobs), wanted=(), job_file=False)


@cache
def _of_this_process() -> Kept:
    return Kept(folder=default_folder())


def run_task(task: Task) -> list[Row]:
    """Return the outcomes of designs as rows, for a worker."""
    rows = []
    designs = [Design.model_validate(job) for job in task.jobs]
    for place, key, found in zip(task.positions, task.keys, _attempts(designs, _of_this_process()), strict=True):
        status, reason = (Status.FAILED, found) if isinstance(found, str) else (Status.DONE, "")
        results = {} if isinstance(found, str) else {"outcome": found}
        rows.append(Row(key=key, position=place, point={}, status=status, reason=reason, results=results))
    return rows


def _attempts(designs: Sequence[Design], kept: Kept) -> list[Outcome | str]:
    found = outcomes(designs, kept)
    return [f"{type(one).__name__}: {one}" if isinstance(one, Exception) else one for one in found]
