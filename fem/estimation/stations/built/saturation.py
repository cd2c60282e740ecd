"""Flux in the core with nothing connected, how far it is from the knee, and what would cure too much of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import pi, sqrt

from fem.circuit.steady.remedies import Remedy, fewest_turns
from fem.design.limits import Limits
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, of
from fem.trust.caution import Caution, Danger
from fem.trust.live import old_winding
from fem.trust.validity import validity


@dataclass(frozen=True, kw_only=True, slots=True)
class Saturation:
    """Flux in the core, idle."""

    volts_per_turn: float = of("V", "volts per turn, r.m.s.")
    peak_flux_density: float = of("T", "peak flux density, the primary's leg, iron, at no-load")
    peak_flux_density_by_place: Mapping[str, float] = of("T", "peak flux density by place, iron, at no-load")
    knee_voltage: float | Unknown = of("V", "mains voltage at the knee point (IEC 61869-2)")
    margin: float | Unknown = of(
        "-", "how far the knee lies above the mains voltage, as a share of it", show=Show.SHARE
    )
    target_flux_density: float = of("T", "peak flux density to keep to")
    fewest_primary_turns: int | Unknown = of("-", "fewest primary turns that keep to it")
    extra_turns: int | Unknown = of("-", "extra turns in series with the primary, aiding, that keep to it")
    turns_keep_to: str | Unknown = of("", "what those turns keep to")

    FORMULAS = """
    margin = `.knee_voltage_V` / `job.mains.voltage` - 1
    target_flux_density = `job.limits.flux_density`
    extra_turns: `.fewest_primary_turns` less the turns that there are, `build.primary.turns`; none where it is below
    <fem.circuit.steady.idle.idle>
    volts_per_turn: `job.mains.voltage` less what the idle current drops in supply and wire, over the turns; = sqrt(2)
        pi frequency times the peak flux of a turn [Faraday's law, sine]
    <fem.characteristics.magnetising.curve.magnetising_curve>
    peak_flux_density: the field at the peak flux of a turn, `.volts_per_turn_V` / (sqrt(2) pi `job.mains.frequency`):
        flux through the leg's iron over its section [Faraday's law; planar field, end part by a 3-D field]
    peak_flux_density_by_place: the same field, flux through each cut over its iron; peak flux of a turn from
        `.volts_per_turn_V`
    <fem.circuit.knee.knee_point>
    knee_voltage: voltage from which a tenth more adds half to the exciting current, on the magnetisation curve of the
        core [IEC 61869-2, knee point e.m.f.]
    <fem.circuit.steady.remedies.fewest_turns>
    fewest_primary_turns: fewest turns at which the idle state keeps to what `.turns_keep_to` says
    """


def saturation(case: Case) -> Saturation:
    """Return the flux in the core, idle, and what would cure too much of it."""
    circuit, found = case.circuit, case.found
    flux = case.at_idle.peak_flux_per_turn
    # a shunt's flux has the sense that a short circuit gives it below the secondary; a peak is told as a size
    by_place = {place: abs(b) for place, b in found.magnetising.by_place(flux).items()}
    turns = case.part(Part.REMEDIES, lambda: remedy(case))
    knee, reason = case.knee.volts_per_turn, Unknown(case.knee.reason or "no knee")
    knee_voltage = reason if knee is None else knee * circuit.primary_turns
    return Saturation(
        volts_per_turn=sqrt(2) * pi * circuit.frequency * flux,
        peak_flux_density=by_place[found.flux_place],
        peak_flux_density_by_place=by_place,
        knee_voltage=knee_voltage,
        margin=knee_voltage if isinstance(knee_voltage, Unknown) else knee_voltage / circuit.voltage_rms - 1,
        target_flux_density=case.design.limits.flux_density,
        fewest_primary_turns=turns if isinstance(turns, Unknown) else turns.primary_turns,
        extra_turns=turns if isinstance(turns, Unknown) else max(turns.extra_turns, 0),
        turns_keep_to=turns if isinstance(turns, Unknown) else _kept_to(case.design.limits),
    )


def _for_current_alone(limits: Limits) -> bool:
    """Return whether an idle current is told and no flux density, whose usual one then binds nobody."""
    return limits.idle_current is not None and "flux_density" not in limits.model_fields_set


def _kept_to(limits: Limits) -> str:
    flux = [] if _for_current_alone(limits) else [f"{limits.flux_density:.2f} T"]
    current = [] if limits.idle_current is None else [f"{brief(limits.idle_current)} A at no-load"]
    return " and ".join(flux + current)


def remedy(case: Case) -> Remedy:
    """Return the fewest primary turns that meet all limits that are told; without any, the usual flux density."""
    found, limits, parallel = case.found, case.design.limits, case.design.core.parallel_primaries
    wanted = {} if limits.idle_current is None else {"current_rms": limits.idle_current}
    if not _for_current_alone(limits):
        wanted["peak_flux_per_turn"] = found.magnetising.flux_at(found.flux_place, limits.flux_density)
        found.magnetising.check(wanted["peak_flux_per_turn"])
    return fewest_turns(case.circuit, **wanted, in_parallel=parallel, known=case.at_idle)


def _cautions(case: Case, found: Saturation) -> Iterator[Caution]:
    if found.peak_flux_density > found.target_flux_density:
        text = (
            f"No-load the iron peaks at {found.peak_flux_density:.2f} T, above {found.target_flux_density:.2f} T. It "
            "is the primary's leg, and what to keep to: beyond are more hum, heat and no-load current."
        )
        numbers = {"saturation.peak_flux_density_T": found.peak_flux_density}
        yield Caution(about="saturation", text=text, danger=Danger.DAMAGES, numbers=numbers)
    if not isinstance(found.margin, Unknown) and found.margin <= 0:
        text = (
            f"The mains, {brief(case.design.mains.voltage)} V, lies above the knee of the core. A tenth more voltage "
            "adds more than half to the no-load current."
        )
        numbers = {"saturation.margin": found.margin}
        source = "IEC 61869-2, knee point"
        yield Caution(about="saturation", text=text, danger=Danger.DISTURBS, source=source, numbers=numbers)
    yield from old_winding(case.design, found.volts_per_turn)
    yield from validity(case.design, found.peak_flux_density)


SATURATION = Station(
    key="saturation",
    result=Saturation,
    compute=saturation,
    banded=("peak_flux_density", "knee_voltage", "margin"),
    cautions=_cautions,
)
