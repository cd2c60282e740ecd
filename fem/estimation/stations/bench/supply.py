"""The mains circuit up to the primary, and what guards it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np

from fem.arrays import Number, of_each
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.inputs.supply import devices_of, supply_of
from fem.estimation.parts import Part
from fem.estimation.stations.bench.breaker import breaker_cautions, of_breaker
from fem.estimation.stations.section import Station
from fem.estimation.stations.states.load import load
from fem.heat.phases import Phase
from fem.mains.devices import Device, deciding_points
from fem.mains.forecasts import Behaviour, Forecast, forecast, forecast_burst, forecast_duty, forecast_peak
from fem.mains.supply import prospective_current
from fem.mains.typical import typical_burst, typical_duty, typical_time
from fem.quantity import Show, Unknown, finite, of
from fem.trust.caution import Caution
from fem.work.feeding import FedBurst

BURST = "burst of the work piece"
"""The state in which a device is held against a changing current."""
_BEHAVIOURS: Any = np.array([behaviour.value for behaviour in Behaviour], dtype=object)


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
            commonly = (
                "" if isinstance(bursts.commonly, Unknown) else f"; commonly it {bursts.commonly} (common practice)"
            )
            text = (
                f"Repeated bursts, {bursts.multiple:.2f} times the {name}: {bursts.behaviour}. For good they draw "
                f"{brief(bursts.current_rms)} A over the cycle{commonly}."
            )
            numbers = {f"supply.repeated_bursts.{name}.multiple": bursts.multiple}
            yield of_breaker(text, source=bursts.points, numbers=numbers)
        elif (one := states.get(BURST)) is not None and one.behaviour != Behaviour.HOLDS.value:
            text = f"In the burst {one.multiple:.2f} times the {name}: it {one.behaviour}."
            numbers = {f"supply.devices.{name}.{BURST}.multiple": one.multiple}
            yield of_breaker(text, source=one.points, numbers=numbers)


SUPPLY = Station(
    key="supply",
    result=Supply,
    compute=supply,
    banded=("idle_dip", "shorted_dip", "loaded_dip"),
    of_members=lambda case: SimpleNamespace(**_dips(case)),
    cautions=_cautions,
)
