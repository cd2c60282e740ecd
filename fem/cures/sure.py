"""How sure a change is: before and after with everything in doubt drawn together, the same draws for both.

What is in doubt of both alike, the mains above all, moves both alike: a change is much surer than the numbers it is of.
"""

from __future__ import annotations

from math import nan
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.cures.cure import Bench
from fem.cures.goal import Goal
from fem.design.load import RectifierKind
from fem.design.told import tolerances
from fem.design.work_piece import WorkPieceDescription
from fem.estimation.case import Case
from fem.estimation.stations.bench.work_bands import bursts, numbers
from fem.options.outcome import PARTS
from fem.sweeps.workers.task import point_key
from fem.trust.doubt import Doubt
from fem.trust.doubts import doubts_of
from fem.trust.draws import FEW, draws
from fem.work.feeding import FedBurst, fed_side_by_side
from fem.work.run import HeatingRun

Ends = tuple[float, float]
"""5 % and 95 % quantile of a gain [-]."""


def sure(before: Bench, after: Bench, goal: Goal) -> tuple[Ends | None, Ends | None]:
    """Return between which ends the gain in the number that matters and in idle current lie nine times out of ten.

    None where a draw has no such number, or none is drawn: of longest bursts.

    Raises
    ------
    NotConverged, OutOfRange, ValueError
        If a state of the draws cannot be found.
    """
    jobs = [point_key(bench.design.model_dump(exclude_unset=True), PARTS) for bench in (before, after)]
    told = [sorted(tolerances(bench.design).items()) for bench in (before, after)]
    key = f"gains {jobs} {told} {goal.key}"
    found: tuple[Ends | None, Ends | None] = before.kept.beside(key, lambda: {"": _sure(before, after, goal)})[""]
    return found


def _sure(before: Bench, after: Bench, goal: Goal) -> tuple[Ends | None, Ends | None]:
    here, there = ({doubt.name: doubt for doubt in doubts_of(bench.case.design)} for bench in (before, after))
    names = list(dict.fromkeys((*here, *there)))
    old = _drawn(before, tuple(here.get(name) or there[name] for name in names), goal)
    new = _drawn(after, tuple(there.get(name) or here[name] for name in names), goal)
    return _ends(old[0], new[0], goal.less), _ends(old[1], new[1], less=True)


def _ends(old: Floats | None, new: Floats | None, less: bool) -> Ends | None:
    if old is None or new is None:
        return None
    count = min(old.size, new.size)  # the first so many draws are the same ones
    old, new = old[:count], new[:count]
    with np.errstate(invalid="ignore", over="ignore"):
        more: Floats = np.where(old == new, 0.0, np.where(np.isinf(old), -1.0, new / old - 1))
    if np.isnan(more).any():
        return None
    low, high = np.quantile(-more if less else more, [0.05, 0.95], method="nearest").tolist()
    return low, high


def _drawn(bench: Bench, doubts: tuple[Doubt, ...], goal: Goal) -> tuple[Floats | None, Floats]:
    """Return the number that matters and the idle current of each draw, computed once."""
    key = doubts, goal.key
    if key not in bench.known:
        bench.known[key] = _values(bench.case, bench.case.with_draws(draws(doubts)), goal)
    found: tuple[Floats | None, Floats] = bench.known[key]
    return found


def _values(whole: Case, members: Case, goal: Goal) -> tuple[Floats | None, Floats]:
    work, load = whole.design.work_piece, whole.design.load
    number: Any = None
    idle: Any = members.at_idle.current_rms
    if work is not None and goal.key in ("time_to_temperature", "current"):
        on = min(work.switch_off or work.duration, work.duration)
        runs = fed_side_by_side(bursts(whole, FEW, members))
        number = np.array([nan if isinstance(run, Exception) else _of_run(work, run, on, goal) for run in runs])
    elif goal.key == "current":
        rectified = load is not None and load.rectifier is not RectifierKind.NONE
        # what is stepped goes one at a time
        number = np.array([_current(one) for one in members.one_by_one]) if rectified else _current(members)
    return number, idle


def _current(case: Case) -> Any:
    """Return the current into the load, else into joined lead ends."""
    if case.design.load is None:
        return case.shorted.secondary_current_rms
    plain = case.design.load.rectifier is RectifierKind.NONE
    return case.loaded.secondary_current_rms if plain else case.rectified.secondary_rms


def _of_run(work: WorkPieceDescription, run: tuple[HeatingRun, FedBurst | None], on: float, goal: Goal) -> float:
    if goal.key == "time_to_temperature":
        return numbers(work, run)["time_to_target"]
    time = run[0].time[run[0].time <= on]
    return float(np.sqrt(np.trapezoid(run[0].current_rms[: time.size] ** 2, time) / np.ptp(time)))
