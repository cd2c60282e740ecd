"""The sections of an estimate about what surrounds the machine: supply and breaker, meters, the load line."""

from __future__ import annotations

from math import isfinite

from fem.arrays import Floats
from fem.circuit.instruments import SteadyReading, TransientReading
from fem.circuit.steady.load import Loaded
from fem.circuit.steady.load_line import VoltageDrop, voltage_budget
from fem.circuit.steady.load_line import load_line as trace_load_line
from fem.circuit.steady.meters import meter_readings
from fem.circuit.time.connection import OPEN, SHORTED, Connection
from fem.circuit.time.wave_budget import WaveDrop, wave_budget
from fem.estimation.case import Case
from fem.estimation.network import lead_impedance
from fem.estimation.stations import results, results_bench
from fem.estimation.stations.idle_sections import switched_on
from fem.estimation.supply_of import devices_of, supply_of
from fem.estimation.working import SHORT
from fem.mains.devices import Device
from fem.mains.forecasts import forecast, forecast_peak
from fem.mains.supply import prospective_current


def supply(case: Case, load: results.LoadState | None, switch: results.SwitchOn | None) -> results_bench.Supply:
    """Return what the mains circuit sees."""
    mains, circuit = case.design.mains, case.circuit
    source = supply_of(mains)
    impedance = source.at(mains.frequency)
    currents = {"idle": case.at_idle.current_rms, "shorted": case.shorted.primary_current_rms}
    if load is not None:
        currents["with the load"] = load.primary_current_rms
    devices = {}
    for name, device in devices_of(mains).items():
        found = {state: _forecast(device, current) for state, current in currents.items()}
        if switch is not None:
            peak = forecast_peak(device, switch.primary_first_peak)
            found["switching on"] = results_bench.DeviceForecast(
                behaviour=peak.behaviour.value,
                multiple=float(peak.multiple),
                earliest=_finite(float(peak.earliest)),
                latest=_finite(float(peak.latest)),
            )
        devices[name] = found
    return results_bench.Supply(
        resistance=impedance.real,
        reactance=impedance.imag,
        assumed=mains.source_assumed,
        prospective_short_current=(
            prospective_current(mains.voltage, source, mains.frequency) if abs(impedance) > 0 else None
        ),
        idle_dip=1 - case.at_idle.terminal_voltage_rms / circuit.voltage_rms,
        shorted_dip=1 - case.shorted.terminal_voltage_rms / circuit.voltage_rms,
        loaded_dip=(
            None if load is None else 1 - load.input_apparent_power / load.primary_current_rms / circuit.voltage_rms
        ),
        devices=devices,
    )


def _forecast(device: Device, current: float) -> results_bench.DeviceForecast:
    found = forecast(device, current)
    return results_bench.DeviceForecast(
        behaviour=found.behaviour.value,
        multiple=float(found.multiple),
        earliest=_finite(float(found.earliest)),
        latest=_finite(float(found.latest)),
    )


def meters(case: Case) -> results_bench.Meters:
    """Return what meters will show, idle, shorted and on switching on."""

    def record(connection: Connection) -> tuple[Floats, Floats]:
        run = switched_on(case, connection).transient
        return run.time, run.primary_current

    found = meter_readings(
        case.circuit,
        case.at_idle,
        case.shorted,
        switch_on=case.gaps.attempt("meters.switch_on", lambda: record(OPEN)),
        shorted_switch_on=case.gaps.attempt("meters.shorted_switch_on", lambda: record(SHORTED)),
    )
    return results_bench.Meters(
        open_voltage=_steady(found.open_voltage),
        idle_current=_steady(found.idle_current),
        idle_power=found.idle_power,
        shorted_primary=found.shorted_primary,
        shorted_secondary=found.shorted_secondary,
        shorted_power=found.shorted_power,
        switch_on=_inrush(found.switch_on),
        shorted_switch_on=_inrush(found.shorted_switch_on),
    )


def _steady(reading: SteadyReading) -> results_bench.SteadyMeter:
    return results_bench.SteadyMeter(true_rms=reading.true_rms, averaging=reading.averaging, peak=reading.peak)


def _inrush(reading: TransientReading | None) -> results_bench.InrushMeter | None:
    if reading is None:
        return None
    return results_bench.InrushMeter(
        peak=reading.peak,
        sine_equivalent=reading.sine_equivalent,
        highest_rms={f"{window * 1e3:g} ms": rms for window, rms in reading.highest_rms.items()},
    )


def load_line(case: Case) -> results_bench.LoadLineState:
    """Return the lead ends from open circuit to short circuit, and where the volts go at the load (else shorted)."""
    found = trace_load_line(case.circuit)
    budget = case.gaps.attempt("load_line.drops", lambda: _budget(case))
    strongest: Loaded = found.strongest
    return results_bench.LoadLineState(
        current_rms=tuple(map(float, found.current)),
        voltage_rms=tuple(map(float, found.voltage)),
        input_current_rms=tuple(map(float, found.primary_current)),
        efficiency=tuple(map(float, found.efficiency)),
        most_power=strongest.load_power,
        resistance_of_most_power=strongest.load_resistance,
        current_of_most_power=strongest.secondary_current_rms,
        drops=(
            None
            if budget is None
            else {drop.name: results_bench.Drop(voltage=drop.magnitude, share=drop.share) for drop in budget}
        ),
    )


def _budget(case: Case) -> tuple[VoltageDrop, ...] | tuple[WaveDrop, ...]:
    """Return where the volts go at the load, or with the lead ends joined where there is none."""
    working, joints = case.working or SHORT, lead_impedance(case.design).joint_resistance
    if working.rectifier is not None:
        return wave_budget(case.circuit, case.rectified, joint_resistance=joints)
    return voltage_budget(case.circuit, working.resistance, joint_resistance=joints).drops


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
