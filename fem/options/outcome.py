"""The numbers by which a design is judged, whatever is changed about it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from math import inf
from typing import Any

from fem.constants import ZERO_CELSIUS
from fem.design.ring import in_use
from fem.design.told import tolerances
from fem.design.transformer import Design
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.estimation.case import Case
from fem.estimation.fields.kept import Kept
from fem.estimation.inputs.bursts import Bursts, follow_together
from fem.estimation.inputs.cutting import pieces_of
from fem.estimation.inputs.supply import devices_of
from fem.estimation.one_design import estimate, sections
from fem.estimation.parts import Part
from fem.mains.forecasts import Behaviour, forecast, forecast_burst
from fem.quantity import Band, Show, Unknown, finite, of, unknowns
from fem.sweeps.rows.flat import flat
from fem.sweeps.workers.task import point_key
from fem.threads import one_thread
from fem.work.run import milestones

PARTS = frozenset({Part.CONDUCTOR_SLICE, Part.WORK_PIECE, Part.HEATING})
"""What is computed of a design to judge it."""
FAILURES = (DoesNotFit, NotConverged, OutOfRange, ValueError, ArithmeticError, OSError)
"""What takes one design and no other with it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """What a design comes to, in the numbers by which a shop judges it.

    "The burst" is that of the work piece; without one a burst into the load that is described, else into joined lead
    ends, as long as one of the duty. `bands` are by attribute, empty where they were not asked for.
    """

    works_into: str = of("", "what the bursts work into")
    no_load_voltage: float = of("V", "secondary voltage without load, r.m.s.")
    flux_density: float = of("T", "peak flux density, the primary's leg, iron, idle")
    knee_margin: float | Unknown = of("-", "how far the knee lies above the mains voltage", show=Show.SHARE)
    idle_current: float = of("A", "idle current, r.m.s.")
    core_loss: float = of("W", "core loss, idle")
    joined_current: float = of("A", "secondary current, lead ends joined, r.m.s.")
    joined_primary_current: float = of("A", "primary current, lead ends joined, r.m.s.")
    current: float | Unknown = of("A", "current into the work in its burst, else the load, else joined ends, r.m.s.")
    primary_current: float | Unknown = of("A", "primary current with it, r.m.s.")
    resistance: float | Unknown = of("ohm", "resistance it works into, by the heat of the burst")
    burst: float | Unknown = of("s", "how long the burst is")
    time_to_temperature: float | Unknown = of("s", "time to the work's wanted temperature, the current left on")
    longest_burst: float | Unknown = of("s", "longest burst from cold within the limits of repeated work")
    limiting_part: str | Unknown = of("", "the part that sets it")
    shortest_period: float | Unknown = of("s", "least time from burst to burst, bursts of the duty repeated for good")
    breaker: str | Unknown = of("", "what breaker or fuse do in the burst: hold, may open or open")
    breaker_earliest: float | Unknown = of("s", "they open not before, current left on")
    conductor_length: float = of("m", "conductor to cut for the secondary, with tails and slack")
    secondary_mass: float = of("kg", "conductor mass of the secondary")
    spare_height: float = of("m", "window height to spare")
    spare_build: float = of("m", "window width to spare beside the secondary")
    bands: Mapping[str, Band] = field(default_factory=dict, metadata={"unit": "", "label": "bands"})


_ALWAYS = {
    "no_load_voltage": "open_circuit.secondary_voltage_rms_V",
    "flux_density": "saturation.peak_flux_density_T",
    "knee_margin": "saturation.margin",
    "idle_current": "idle.current_rms_A",
    "core_loss": "idle.core_loss_W",
    "joined_current": "short_circuit.secondary_current_rms_A",
    "joined_primary_current": "short_circuit.primary_current_rms_A",
    "shortest_period": "heating.duty.shortest_period_s",
    "secondary_mass": "build.secondary.mass_kg",
    "spare_height": "build.spare_height_m",
    "spare_build": "build.secondary.spare_build_m",
}
_JOINED = {
    "current": "short_circuit.secondary_current_rms_A",
    "primary_current": "short_circuit.primary_current_rms_A",
    "longest_burst": "heating.shorted.longest_s",
    "limiting_part": "heating.shorted.limiting_part",
}
_LOAD = {
    "current": "load.current_rms_A",
    "primary_current": "load.primary_current_rms_A",
    "longest_burst": "heating.loaded.longest_s",
    "limiting_part": "heating.loaded.limiting_part",
}
_WORK = {
    "current": "heating.burst.current_rms_A",
    "primary_current": "supply.burst.current_rms_A",
    "longest_burst": "heating.burst.longest_s",
    "limiting_part": "heating.burst.limiting_part",
    "time_to_temperature": "work_piece.time_to_target_s",
}


def keys_of(design: Design) -> Mapping[str, str]:
    """Return under which key of an estimate's JSON, and of its bands, each number is found, by attribute."""
    if design.work_piece is not None:
        return _ALWAYS | _WORK
    return _ALWAYS | (_JOINED if design.load is None else _LOAD)


def outcome(design: Design, kept: Kept | None = None, *, with_bands: bool = False) -> Outcome:
    """Return what a design comes to, by the ordinary stations; kept where it was computed before.

    Parameters
    ----------
    design
        Its shop, wish and title play no part.
    kept
        Where fields and outcomes are kept.
    with_bands
        Whether the numbers are to have bands, which takes three times as long.

    Raises
    ------
    DoesNotFit, OutOfRange, NotConverged, ValueError
        As `estimate`.
    """
    source = Kept() if kept is None else kept
    bands: Mapping[str, Any] = {}
    found = source.beside(_key(design), lambda: _values(_case(design, source)))
    if with_bands:
        bands = source.beside(f"{_key(design)} {sorted(tolerances(design).items())}", lambda: _bands(design, source))
    return Outcome(**found, bands=bands)


def outcomes(designs: Sequence[Design], kept: Kept) -> list[Outcome | Exception]:
    """Return what several designs come to, as `outcome`, or what each failed by; their bursts are followed together."""
    cases, bursts, found = dict[int, Case](), list[Bursts](), list[Outcome | Exception]()
    with one_thread():
        for place, design in enumerate(designs):
            if kept_outcome(design, kept) is None:
                with suppress(*FAILURES):  # told below
                    cases[place] = _case(design, kept)
                    bursts += [one for one in (cases[place].bursts,) if one is not None]
        follow_together(bursts)

    def values(place: int) -> dict[str, Any]:
        return _values(cases[place] if place in cases else _case(designs[place], kept))

    for place, design in enumerate(designs):
        try:
            found.append(Outcome(**kept.beside(_key(design), partial(values, place))))
        except FAILURES as error:
            found.append(error)
    return found


def _case(design: Design, source: Kept) -> Case:
    return Case(design=in_use(design), wanted=PARTS, source=source)


def _bands(design: Design, source: Kept) -> dict[str, Band]:
    found = estimate(design, wanted=PARTS | {Part.BANDS}, characteristics=source).bands
    named = {name: found.get(key) for name, key in keys_of(design).items()}
    return {name: band for name, band in named.items() if isinstance(band, Band)}


def kept_outcome(design: Design, kept: Kept) -> Outcome | None:
    """Return what was computed of a design before; None where nothing is kept."""

    def nothing() -> Mapping[str, Any]:
        raise LookupError

    try:
        return Outcome(**kept.beside(_key(design), nothing))
    except LookupError:
        return None


def _key(design: Design) -> str:
    job = design.model_dump(exclude_unset=True, exclude={"title", "shop", "wish"})
    return f"outcome {point_key(job, PARTS)}"


@one_thread()
def _values(case: Case) -> dict[str, Any]:
    design, found = case.design, sections(case)
    told, reasons = flat(found), {key: why for name, result in found.items() for key, why in unknowns(name, result)}

    def value(key: str) -> Any:
        """Return a result, or why it, or what it belongs to, is not there."""
        if (number := told.get(key)) is not None:
            return number
        parts = key.split(".")
        whole = (".".join(parts[:count]) for count in range(len(parts), 0, -1))
        return next((reasons[name] for name in whole if name in reasons), Unknown("it is no finite number", gap=True))

    values = {name: value(key) for name, key in keys_of(design).items()}
    burst: float | Unknown = Unknown("neither [work_piece] nor [duty] says how long a burst is")
    if (time := case.burst_time or (None if design.duty is None else design.duty.on_time)) is not None:
        burst = time
    return values | {
        "works_into": "the work piece" if design.work_piece else "the load" if design.load else "joined lead ends",
        "burst": burst,
        "resistance": _resistance(case, values["current"], told),
        "time_to_temperature": values.get("time_to_temperature") or case.attempt(lambda: _left_on(case)),
        **_guarded(case, values["primary_current"], burst),
        "conductor_length": to_cut(case),
    }


def to_cut(case: Case) -> float:
    """Return how much conductor a secondary takes, with tails, slack and leads of the same cable [m]; a ring none."""
    pieces = pieces_of(case.design, case.blocks)
    return sum(piece.count * piece.length for piece in pieces if piece.name == "secondary")


def _resistance(case: Case, current: float | Unknown, told: Mapping[str, Any]) -> float | Unknown:
    """Return what turns the burst's r.m.s. current into the heat that the work takes, else the load."""
    if case.burst is None:
        return 0.0 if case.design.load is None else case.design.load.resistance
    lasts = told.get("heating.burst.duration_s")
    return told["work_piece.energy_J"] / current**2 / lasts if current and lasts else Unknown("no burst", gap=True)


def _left_on(case: Case) -> float | Unknown:
    """Return when the work comes to its temperature after its burst's end, from a machine that stays cool."""
    if case.design.work_piece is None:
        return Unknown("no [work_piece] is described")
    if (target := case.design.work_piece.target_temperature) is None:
        return Unknown("no work_piece.target_temperature is given")
    if (time := milestones(case.settled.run, target).target) is not None:
        return time
    hottest = case.settled.temperature
    end = "melts through" if hottest is None else f"settles at {hottest - ZERO_CELSIUS:.0f} degC"
    return Unknown(f"never: it {end} before")


def _guarded(case: Case, current: float | Unknown, burst: float | Unknown) -> dict[str, str | float | Unknown]:
    """Return what the device that is worst off does in a burst, else at a current that stays, and from when on."""
    devices = devices_of(case.design.mains).values()
    no = Unknown("no breaker is given") if isinstance(current, float) else current
    if not devices or not isinstance(current, float):
        return {"breaker": no, "breaker_earliest": no}
    if case.fed is not None:
        found = [forecast_burst(device, case.fed.phases) for device in devices]
    else:
        found = [forecast(device, current, burst or inf) for device in devices]
    order = list(Behaviour)
    worst = max(found, key=lambda one: (order.index(one.behaviour), -float(one.earliest)))
    carried = Unknown("carried for good")
    return {"breaker": worst.behaviour.value, "breaker_earliest": finite(worst.earliest, carried)}
