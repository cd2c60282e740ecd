"""The mains circuit up to the primary, and what guards it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import inf, isfinite, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np

from fem.arrays import Number, of_each
from fem.assumptions import assumed
from fem.design.mains import Mains
from fem.digits import brief, duration
from fem.estimation.case import Case
from fem.estimation.inputs.supply import devices_of, supply_of
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.estimation.stations.states.load import load
from fem.heat.phases import Phase
from fem.mains.devices import Device, Type, deciding_points, opening_times
from fem.mains.forecasts import Behaviour, Forecast, forecast, forecast_burst, forecast_duty, forecast_peak
from fem.mains.supply import prospective_current
from fem.mains.typical import typical_burst, typical_duty, typical_time
from fem.quantity import Show, Unknown, finite, of
from fem.trust.caution import COMPUTED, PRACTICE, Caution, Danger
from fem.work.feeding import FedBurst

AT_ONCE = 0.1
"""Time [s] within which a breaker opens that opens at once: IEC 60898-1, table 7."""
SLOW_TRIP = (
    (120.0, "within a minute or two"),
    (3600.0, "within the hour"),
    (7200.0, "within two hours"),
)
"""Time [s] within which a breaker has opened for certain, and how that is said."""
BURST = "burst of the work piece"
"""The state in which a device is held against a changing current."""
_BEHAVIOURS: Any = np.array([behaviour.value for behaviour in Behaviour], dtype=object)
HIGH_IDLE_SHARE = assumed("high idle current").typical
"""Share of the breaker's rating above which an idle current is worth a word [-]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DeviceForecast:
    """What one overcurrent device does at one current that stays."""

    behaviour: str = of("", "holds, may open or opens")
    multiple: float = of("-", "current over rating")
    earliest: float | Unknown = of("s", "opens not before")
    latest: float | Unknown = of("s", "opens not after")
    typical: float | Unknown = of("s", "commonly opens after: common practice, not guaranteed")
    points: str = of("", "the standard's points that these times rest on")

    FORMULAS = """
    <fem.mains.forecasts.forecast>
    earliest: longest time that the standard's points up to this multiple of the rating, `.multiple`, say it holds [IEC
        60898-1, IEC 60269, UL 489, BS 1362]
    latest: shortest time within which the standard's points below this multiple, `.multiple`, say it opens [IEC
        60898-1, IEC 60269, UL 489, BS 1362]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstsForecast:
    """What one overcurrent device does under bursts repeated for good, at the currents of the cold machine."""

    behaviour: str = of("", "holds, may open or opens")
    commonly: str | Unknown = of("", "the same by common practice, not guaranteed")
    current_rms: float = of("A", "primary current over the whole cycle, r.m.s.")
    multiple: float = of("-", "largest current in a burst over rating")
    earliest_warm: float | Unknown = of("s", "a burst opens it not before, if it remembers the whole cycle")
    earliest_cold: float | Unknown = of("s", "a burst opens it not before, if it forgets between bursts")
    points: str = of("", "the standard's points that these times rest on")


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstSupply:
    """What the burst of the work piece draws from the mains, once the peaks of switching on have died out."""

    first_current_rms: float = of("A", "primary current at first, r.m.s.")
    last_current_rms: float = of("A", "primary current at the end, r.m.s.")
    current_rms: float = of("A", "primary current, r.m.s. over the burst")
    largest_dip: float = of("-", "largest share of the voltage lost", show=Show.SHARE)
    energy: float = of("J", "energy from the socket, a burst")


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """The mains circuit up to the primary."""

    resistance: float = of("ohm", "resistance of line plus neutral")
    reactance: float = of("ohm", "reactance of line plus neutral")
    assumed: bool = of("", "whether the reference impedance of IEC TR 60725 is assumed")
    prospective_short_current: float | Unknown = of("A", "current of a dead short at the primary's terminals")
    idle_dip: float = of("-", "share of the voltage lost, at no-load", show=Show.SHARE)
    shorted_dip: float = of("-", "share of the voltage lost, lead ends joined", show=Show.SHARE)
    loaded_dip: float | Unknown = of("-", "share of the voltage lost, with the load", show=Show.SHARE)
    burst: BurstSupply | Unknown = of("", "the burst of the work piece")
    devices: Mapping[str, Mapping[str, DeviceForecast]] = of("", "by device and state")
    repeated_bursts: Mapping[str, BurstsForecast] | Unknown = of("", "bursts of [duty] repeated for good, by device")

    FORMULAS = """
    idle_dip: 1 less the voltage at the primary's terminals over `job.mains.voltage`: what `idle.current_rms_A` drops in
        `.resistance_ohm` and `.reactance_ohm`
    shorted_dip: 1 less the voltage at the primary's terminals over `job.mains.voltage`: what
        `short_circuit.primary_current_rms_A` drops in `.resistance_ohm` and `.reactance_ohm`
    loaded_dip: 1 less the voltage at the primary's terminals over `job.mains.voltage`: what
        `load.primary_current_rms_A` drops in `.resistance_ohm` and `.reactance_ohm`
    <fem.estimation.inputs.supply.supply_of>
    resistance: `job.mains.source_resistance`; where neither it nor the inductance is told the reference impedance [IEC
        TR 60725: 0.4 ohm + j 0.25 ohm at 50 Hz]
    reactance: 2 pi `job.mains.frequency` times `job.mains.source_inductance`, or that of the reference impedance [IEC
        TR 60725]
    <fem.mains.supply.prospective_current>
    prospective_short_current = `job.mains.voltage` / sqrt(`.resistance_ohm`**2 + `.reactance_ohm`**2)
    """


def supply(case: Case) -> Supply:
    """Return what the mains circuit sees."""
    mains, circuit = case.design.mains, case.circuit
    source = supply_of(mains)
    impedance = source.at(mains.frequency)
    currents = _currents(case)
    switch = case.part(Part.SWITCH_ON, lambda: case.switched_on.first_peak)
    fed = case.part(Part.WORK_PIECE, lambda: case.fed or Unknown("no [work_piece] is described"))
    devices = {}
    for name, device in devices_of(mains).items():
        found = {state: _told(device, current, forecast(device, current)) for state, current in currents.items()}
        if not isinstance(switch, Unknown):
            peak, typical = forecast_peak(device, switch), Unknown("a peak does not stay")
            found["switching on"] = _told(device, switch / sqrt(2), peak, typical)
        if not isinstance(fed, Unknown):
            found[BURST] = _told_of_burst(device, fed.phases)
        devices[name] = found
    return Supply(
        resistance=impedance.real,
        reactance=impedance.imag,
        assumed=mains.source_assumed,
        prospective_short_current=(
            prospective_current(mains.voltage, source, mains.frequency)
            if np.all(np.abs(impedance) > 0)
            else Unknown("the supply is given no impedance")
        ),
        **_dips(case),
        burst=fed if isinstance(fed, Unknown) else _burst(circuit.voltage_rms, fed),
        devices=devices,
        repeated_bursts=(
            Unknown("no [duty] is described")
            if case.design.duty is None
            else case.part(Part.HEATING, lambda: _repeated(case))
        ),
    )


def _dips(case: Case) -> dict[str, Any]:
    """Return which share of the voltage is lost, by state."""
    volts, loaded = case.circuit.voltage_rms, load(case)
    return {
        "idle_dip": 1 - case.at_idle.terminal_voltage_rms / volts,
        "shorted_dip": 1 - case.shorted.terminal_voltage_rms / volts,
        "loaded_dip": loaded and 1 - loaded.input_apparent_power / loaded.primary_current_rms / volts,
    }


def _currents(case: Case) -> dict[str, float]:
    """Return the primary's r.m.s. currents by state [A]."""
    currents, loaded = {"idle": case.at_idle.current_rms, "shorted": case.shorted.primary_current_rms}, load(case)
    return {**currents, "with the load": loaded.primary_current_rms} if loaded else currents


def _repeated(case: Case) -> dict[str, BurstsForecast]:
    cycle, devices = [*case.duty_burst, case.pause], devices_of(case.design.mains)
    return {name: _bursts(device, cycle) for name, device in devices.items()}


def _bursts(device: Device, cycle: Sequence[Phase]) -> BurstsForecast:
    found, commonly = forecast_duty(device, cycle), typical_duty(device, cycle)
    largest = max(phase.primary_current for phase in cycle)
    carried = Unknown("it carries a burst for good")
    warm, cold = float(found.burst.earliest), float(found.forgotten.earliest)
    return BurstsForecast(
        behaviour=found.behaviour.value,
        commonly=Unknown("no common figure is known of fuses") if commonly is None else commonly.value,
        current_rms=found.equivalent_current,
        multiple=largest / device.rating,
        earliest_warm=warm if isfinite(warm) else carried,
        earliest_cold=cold if isfinite(cold) else carried,
        points=deciding_points(device, largest),
    )


def _burst(voltage: float, fed: FedBurst) -> BurstSupply:
    primary = fed.drawn.primary_current
    return BurstSupply(
        first_current_rms=float(primary[0]),
        last_current_rms=float(primary[-1]),
        current_rms=fed.rms(primary),
        largest_dip=1 - float(fed.drawn.terminal_voltage.min()) / voltage,
        energy=fed.energy,
    )


def _told_of_burst(device: Device, phases: Sequence[Phase]) -> DeviceForecast:
    """Return what a device does in one burst from cold; times as if its last current went on."""
    largest = max(phase.primary_current for phase in phases)
    return _told(device, largest, forecast_burst(device, phases), _typical(typical_burst(device, phases)))


def _typical(time: Number | None) -> Number | Unknown:
    if time is None:
        return Unknown("no common figure is known of plug fuses")
    return finite(time, Unknown("it commonly carries this current"))


def _told(device: Device, current: Number, found: Forecast, typical: float | Unknown | None = None) -> DeviceForecast:
    """Return a forecast with its points and a typical time, left out that of a current that stays."""
    never = Unknown("it is not said to open at this current")
    return DeviceForecast(
        behaviour=_BEHAVIOURS[np.where(found.opens, 2, found.may_open)],
        multiple=of_each(np.asarray(found.multiple)),
        earliest=finite(found.earliest, never),
        latest=finite(found.latest, never),
        typical=_typical(typical_time(device, current)) if typical is None else typical,
        points=deciding_points(device, current),
    )


def _cautions(case: Case, found: Supply) -> Iterator[Caution]:
    currents = {state.capitalize(): current for state, current in _currents(case).items()}
    switch = case.part(Part.SWITCH_ON, lambda: case.switched_on.first_peak)
    yield from breaker_cautions(case.design.mains, currents, switch)
    repeated = found.repeated_bursts or {}
    for name, states in found.devices.items():
        bursts = repeated.get(name)
        if bursts is not None and bursts.behaviour != Behaviour.HOLDS.value:
            commonly = "" if isinstance(bursts.commonly, Unknown) else f", commonly {bursts.commonly} (common practice)"
            text = (
                f"Bursts repeated for good draw {brief(bursts.current_rms)} A over the cycle and {bursts.multiple:.2f} "
                f"times the {name} in a burst: it {bursts.behaviour}{commonly}."
            )
            numbers = {f"supply.repeated_bursts.{name}.multiple": bursts.multiple}
            yield _of_breaker(text, source=bursts.points, numbers=numbers)
        elif (one := states.get(BURST)) is not None and one.behaviour != Behaviour.HOLDS.value:
            text = f"The burst of the work piece draws up to {one.multiple:.2f} times the {name}: it {one.behaviour}."
            numbers = {f"supply.devices.{name}.{BURST}.multiple": one.multiple}
            yield _of_breaker(text, source=one.points, numbers=numbers)


def _of_breaker(
    text: str,
    danger: Danger = Danger.DISTURBS,
    *,
    source: str = COMPUTED,
    numbers: Mapping[str, float] | None = None,
) -> Caution:
    return Caution(about="breaker", text=text, danger=danger, source=source, numbers=numbers or {})


def breaker_cautions(mains: Mains, currents: Mapping[str, float], first_peak: float | Unknown) -> Iterator[Caution]:
    """Say what the branch circuit's breaker, and any fuse, makes of the machine.

    Parameters
    ----------
    mains
        As described.
    currents
        R.m.s. currents of the primary by state, in words that begin a sentence [A].
    first_peak
        After switching on at the worst moment [A].
    """
    if mains.breaker is None:
        text = "No breaker given: whether the branch circuit carries these currents was not checked."
        yield _of_breaker(text, Danger.DAMAGES, source=PRACTICE)
    elif not mains.breaker_type:
        text = (
            f'"{mains.breaker}" names no standard: it is taken as a breaker of UL 489, which guarantees no least time '
            'above its rating. Write "B16" or "C16" for IEC 60898-1, "gG16" for a fuse, "UL 489 16 A" for this.'
        )
        yield _of_breaker(text, source="UL 489")
    for name, device in devices_of(mains).items():
        yield from _device_cautions(name, device, currents, first_peak)


def _device_cautions(
    name: str, device: Device, currents: Mapping[str, float], first_peak: float | Unknown
) -> Iterator[Caution]:
    for state, current in currents.items():
        times = current / device.rating
        if says := _trips(device, current):
            text = f"{state}, the primary draws {brief(current)} A, {times:.2f} times the {name}: {says}."
            yield _of_breaker(text, source=device.type.standard)
        elif state == "Idle" and times > HIGH_IDLE_SHARE:
            yield _of_breaker(f"Idle alone takes {times:.0%} of what the {name} carries.")
    if (
        not isinstance(first_peak, Unknown)
        and device.type is not Type.UL_489
        and forecast_peak(device, first_peak).behaviour is not Behaviour.HOLDS
    ):
        text = (
            f"Switched on at the worst moment the first peak is {brief(first_peak)} A: the {name} may "
            f"{'blow' if device.type.is_fuse else 'trip'} although nothing is wrong."
        )
        yield _of_breaker(text, source=device.type.standard)


def _trips(device: Device, current: float) -> str | None:
    """Say what a device does at a current, or None where it carries it."""
    above = current > device.rating
    if device.type is Type.UL_489:
        typical = typical_time(device, current) or inf
        commonly = f"commonly trips it after some {duration(typical)}" if isfinite(typical) else "commonly holds"
        found = f"{commonly} (common practice), but no least time is guaranteed: look up its curve"
        return found if above else None
    earliest, latest = opening_times(device, current)
    verb = "blow" if device.type.is_fuse else "trip"
    if latest <= AT_ONCE:
        return f"{verb}s it at once"
    if earliest < AT_ONCE:
        return f"may {verb} it at once"
    slow = next((text for most, text in SLOW_TRIP if latest <= most), None)
    return (
        f"{verb}s it {slow}" if slow else f"may {verb} it" if earliest < inf else "above its rating" if above else None
    )


SUPPLY = Station(
    key="supply",
    result=Supply,
    compute=supply,
    banded=("idle_dip", "shorted_dip", "loaded_dip"),
    of_members=lambda case: SimpleNamespace(**_dips(case)),
    cautions=_cautions,
)
