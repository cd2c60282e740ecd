"""What candidates come to, roughly and quickly: which of many are worth computing.

Of each way of lying one candidate's field is solved. The others have its magnetisation and its leakage times the ratio
of both by the 2-D recipe, which tells lays apart within a percent; wires in hand share evenly. The burst of one or two
is followed; of the others the current is that into the same resistance, times to temperature go as a power of it, and
conductors warm with no heat escaping. That chooses, and is never told as a result.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import inf, log
from typing import Any

import numpy as np

from fem.characteristics.characterise import Characteristics, Progress
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import SliceRatios
from fem.circuit.steady.load import loaded
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from fem.errors import NotConverged, OutOfRange
from fem.estimation.case import Case
from fem.estimation.fields.kept import Kept
from fem.estimation.inputs.lays import quick_leakage
from fem.estimation.inputs.supply import devices_of
from fem.heat.adiabatic import adiabatic_time
from fem.mains.forecasts import Behaviour, forecast
from fem.materials.metals import metal
from fem.options.candidates import Candidate
from fem.options.outcome import Outcome, outcome, to_cut
from fem.quantity import Unknown, finite
from fem.threads import one_thread
from geometries.shapes.blocks import Block, single_blocks, winding_names

WARM = 363.15
"""Up to which conductors may warm in a burst, to compare them [K]: 90 degC."""
_ROUGH = Unknown("only by screening")


@dataclass(eq=False)
class Nearby:
    """Fields of candidates that lie one way, by that of one of them."""

    kept: Kept
    shown: tuple[Block, ...]
    """Where that one's windings lie."""
    _found: Characteristics | None = None
    _quick: dict[object, float] = field(default_factory=dict)

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, None]:
        """Return that one's characteristics, the leakage in proportion."""
        if self._found is None:
            self._found, _ = self.kept(design, self.shown, sheet, progress)
        found, leak = self._found, self._found.leakage
        ratio = self._leakage(design, blocks) / self._leakage(design, self.shown)
        parts = ("permeance", "window_permeance", "end_turn_permeance", "primary_end_permeance")
        scaled: dict[str, Any] = {part: ratio * getattr(leak, part) for part in parts}
        if leak.flux_per_turn is not None:
            scaled["flux_per_turn"] = ratio * leak.flux_per_turn
        return replace(found, blocks=blocks, leakage=replace(leak, **scaled)), None

    def _leakage(self, design: Design, blocks: tuple[Block, ...]) -> float:
        key = single_blocks(blocks)
        if key not in self._quick:
            self._quick[key] = quick_leakage(design.core, blocks, design.fitted_shunt)
        return self._quick[key]

    def slices(self, state: AcState) -> SliceRatios:
        """Take currents as even, as if no conductor were thick."""
        even = dict.fromkeys(winding_names(state.blocks), 1.0)
        return SliceRatios(resistance_ratios=even, own_ratios=even, permeance_ratio=1.0)

    def slopes(self, *_: object, only: str = "") -> Any:
        """Refuse: nobody asks."""
        raise NotImplementedError

    def places(self, *_: object, solve: Callable[[], dict[str, float]]) -> dict[str, float]:
        """Solve."""
        return solve()


@dataclass(frozen=True, kw_only=True, slots=True)
class _Rough:
    """A candidate's circuit: its state idle, with the lead ends joined and into the resistance of the work."""

    values: Mapping[str, Any]
    current: float
    primary_current: float
    lasts: float
    """How long its conductors take to `WARM` [s]."""


def designed(design: Design, candidate: Candidate) -> Design:
    """Return the design with a candidate's windings."""
    return design.model_copy(update={"windings": candidate.windings})


@one_thread()
def screened(design: Design, every: Sequence[Candidate], kept: Kept, tell: Progress) -> list[Outcome | None]:
    """Return roughly what candidates come to; None of those that cannot be solved.

    Raises
    ------
    OutOfRange, NotConverged
        Where not even one of a way can be solved.
    """
    sources: dict[str, Nearby] = {}
    for way in dict.fromkeys(candidate.way for candidate in every):
        mine = [candidate for candidate in every if candidate.way == way]
        shown = mine[len(mine) // 2]
        sources[way] = Nearby(kept, shown.blocks)
        if len(sources) == 1:
            tell(f"{_named(shown)}, to compare the others with")
            first, known = shown, outcome(designed(design, shown), kept)
    resistance = known.resistance or 0.0

    def rough(candidate: Candidate) -> _Rough | None:
        try:
            return _rough(designed(design, candidate), sources[candidate.way], resistance)
        except (NotConverged, OutOfRange, ValueError, ArithmeticError):
            return None

    found = []
    for number, candidate in enumerate(every, 1):
        if number % 20 == 1:
            tell(f"{number} of {len(every)}, roughly")
        found.append(rough(candidate))
    own = found[every.index(first)]
    assert own is not None
    calibrations = [(own, known)]
    if design.work_piece is not None:
        strongest = max((one for one in found if one is not None), key=lambda one: one.current)
        if strongest is not own:
            again = every[next(at for at, one in enumerate(found) if one is strongest)]
            tell(f"{_named(again)}, which drives most")
            calibrations.append((strongest, outcome(designed(design, again), kept)))
    return [None if one is None else _outcome(design, one, calibrations) for one in found]


def _named(candidate: Candidate) -> str:
    winding = candidate.winding
    return f"{winding.turns} x {winding.wires_in_hand} of {candidate.stock.label}, {candidate.way}"


def _rough(design: Design, source: Nearby, resistance: float) -> _Rough:
    case = Case(design=design, wanted=frozenset(), source=source)
    state = loaded(case.circuit_with(resistance), resistance)
    idle, shorted, wound = case.at_idle, case.shorted, case.windings.secondary
    winding = design.windings.secondary
    current, primary = float(state.secondary_current_rms), float(state.primary_current_rms)
    by_place = case.found.magnetising.by_place(idle.peak_flux_per_turn)
    densities = [
        (design.windings.primary.material, primary / case.windings.areas[0]),
        (winding.material, current / case.windings.areas[1]),
    ]
    if design.leads is not None and design.leads.has_cable:
        densities.append((design.leads.material, current / design.leads.conductor.area))
    start = min(design.temperature, WARM)
    values = {
        "no_load_voltage": float(idle.secondary_voltage_rms),
        "flux_density": float(abs(by_place[case.found.flux_place])),
        "idle_current": float(idle.current_rms),
        "joined_current": float(shorted.secondary_current_rms),
        "joined_primary_current": float(shorted.primary_current_rms),
        "conductor_length": to_cut(case),
        "secondary_mass": wound.mass,
        "spare_height": case.fitted.spare_height,
        "spare_build": case.fitted.secondary.side_room,
    }
    lasts = min(float(adiabatic_time(metal(name), density, start, WARM)) for name, density in densities)
    return _Rough(values=values, current=current, primary_current=primary, lasts=lasts)


def _outcome(design: Design, one: _Rough, calibrations: Sequence[tuple[_Rough, Outcome]]) -> Outcome:
    (own, known), *_ = calibrations
    share = known.current / own.current if known.current else 1.0
    primary = one.primary_current * share
    found = [forecast(device, primary, known.burst or inf) for device in devices_of(design.mains).values()]
    order = list(Behaviour)
    worst = max(found, key=lambda f: (order.index(f.behaviour), -float(f.earliest)), default=None)
    time = _time(one.current, calibrations)
    return Outcome(
        **one.values,
        works_into=known.works_into,
        knee_margin=_ROUGH,
        core_loss=known.core_loss,
        current=one.current * share,
        primary_current=primary,
        resistance=known.resistance,
        burst=known.burst,
        time_to_temperature=_ROUGH if time is None else finite(time, Unknown("never")),
        longest_burst=one.lasts,
        limiting_part=_ROUGH,
        shortest_period=_ROUGH,
        breaker=_ROUGH if worst is None else worst.behaviour.value,
        breaker_earliest=_ROUGH if worst is None else finite(worst.earliest, _ROUGH),
    )


def _time(current: float, calibrations: Sequence[tuple[_Rough, Outcome]]) -> float | None:
    """Return when the work comes to its temperature by the power law of two bursts, the square with one [s]."""
    known = [(one.current, found.time_to_temperature) for one, found in calibrations if found.time_to_temperature]
    if not known:
        return None
    power = 2.0
    if len(known) > 1 and known[0][0] != known[1][0]:
        power = max(float(np.log(known[0][1] / known[1][1])) / log(known[1][0] / known[0][0]), 1.0)
    never = [one.current for one, found in calibrations if not found.time_to_temperature]
    if current <= max(never, default=0.0):
        return inf
    nearest = min(known, key=lambda pair: abs(log(pair[0] / current)))
    return float(nearest[1] * (nearest[0] / current) ** power)
