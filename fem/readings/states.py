"""What every meter would show in each kind of test, of one machine or of many members at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from fem.arrays import Number
from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import Meter, shown
from fem.circuit.steady.distorted import Distorted
from fem.circuit.steady.half_period import derivative, first_half
from fem.circuit.steady.idle import Idle, idle
from fem.circuit.steady.load import load_waves, loaded
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import coupled
from fem.estimation.inputs.joints import joints_of
from fem.materials.metals import metal
from fem.materials.work_metals import work_metal
from fem.readings.bursts import burst_numbers
from fem.readings.conditions import Coil, Energised, Test
from fem.readings.described import (
    BurstTest,
    Joined,
    JointDrop,
    LoadedTest,
    MainsTest,
    NoLoad,
    ResistanceTest,
    SearchCoil,
    SecondaryVolts,
)
from fem.readings.fed import settled
from fem.readings.lamp import lamp_resistance

Shows = Callable[[str, Meter | None], Any]
"""Of a test that was solved: a reading, () or (members,), by its quantity and what its meter makes of waves."""


def at_test(case: Case, test: Energised) -> Circuit:
    """Return a machine's circuit as it was in a test but for the volts: its temperature, and what feeds it."""
    circuit = case.alone
    if test.temperature is not None:
        joints = joint_resistance(case)
        circuit = replace(
            circuit,
            primary_resistance=circuit.primary_resistance * warmer(case, "primary", test.temperature),
            secondary_resistance=circuit.secondary_resistance * warmer(case, "secondary", test.temperature),
            lead_resistance=joints + (circuit.lead_resistance - joints) * warmer(case, "leads", test.temperature),
        )
    if test.on_mains:
        return circuit
    return replace(circuit, source_resistance=test.source_resistance or 0.0, source_inductance=0.0)


def joint_resistance(case: Case) -> Number:
    """Return the resistance of all joints between winding and work, () or (members,) [ohm]."""
    return joints_of(case.design).resistance.typical if case.given is None else case.given.joints


def warmer(case: Case, part: str, temperature: float | None) -> Number:
    """Return the resistance of a winding or the leads at a temperature [K] over that which a case has for it [-]."""
    if temperature is None or (part == "leads" and case.design.leads is None):
        return 1.0
    if part == "secondary" and case.ring is not None:
        ring = work_metal(case.design.work_piece.metal)  # type: ignore[union-attr]
        return ring.resistivity_at(temperature) / ring.resistivity_at(case.temperature)
    described = case.design if part == "leads" else case.design.windings
    material = metal(getattr(described, part).material)
    return material.resistivity(temperature) / material.resistivity(case.temperature)


def resistance(case: Case, test: ResistanceTest) -> Shows:
    """Return what an ohmmeter shows."""
    name = test.winding.value
    ohms = getattr(case.windings, name).resistance * warmer(case, name, test.temperature)
    return lambda _quantity, _meter: ohms + (test.leads_together or 0.0)


def _fed(case: Case, test: Energised, solve: Callable[[Circuit, Any], Any], amperes: str) -> tuple[Circuit, Any, Any]:
    """Return the circuit of a test and its state, and which members have one."""
    circuit = at_test(case, test)
    if test.lamp is not None:
        own, watts, volts = circuit.source_resistance, test.lamp, test.lamp_voltage or nominal_volts(case)

        def behind(ohms: Any) -> Circuit:
            return replace(circuit, source_resistance=own + np.exp(ohms))

        def glow(ohms: Any, near: Any) -> tuple[Any, Any]:
            state = solve(behind(ohms), near)
            return np.log(lamp_resistance(watts, volts, getattr(state, amperes))) - ohms, (ohms, state)

        # brightest at first: it sees all of the current
        brightest = np.log(lamp_resistance(watts, volts, getattr(solve(circuit, None), amperes)))
        (ohms, state), known = settled(lambda x, near: glow(x, near and near[1]), brightest, low=1.0, high=2.0)
        return behind(ohms), state, known
    told = test.primary_voltage
    if told is None:
        return circuit, solve(circuit, None), True
    circuit = circuit.with_voltage(told + np.zeros(np.shape(circuit.voltage_rms)))
    if not np.any(circuit.source_resistance + circuit.source_inductance):
        return circuit, solve(circuit, None), True

    def terminals(emf: Any, near: Any) -> tuple[Any, Any]:
        state = solve(circuit.with_voltage(np.exp(emf)), near and near[1])
        return np.log(told / state.terminal_voltage_rms), (emf, state)

    (emf, state), known = settled(terminals, np.log(circuit.voltage_rms), low=0.02, high=1.0)
    return circuit.with_voltage(np.exp(emf)), state, known


def nominal_volts(case: Case) -> float:
    """Return the mains voltage as it is told [V], also of members."""
    return (case.drawn_of or case).design.mains.voltage


def no_load_state(case: Case, test: Energised) -> tuple[Circuit, Idle, Any]:
    """Return the circuit and no-load state of a test, and which members have one."""
    points = _POINTS if test.lamp is None else _LIMITED

    def solve(at: Circuit, near: Idle | None) -> Idle:
        return idle(at, points=points, start=None if near is None else first_half(near.flux_per_turn))

    circuit, state, known = _fed(case, test, solve, "current_rms")
    return circuit, state, known & (state.peak_flux_per_turn <= case.found.magnetising.valid_to)


_POINTS, _LIMITED = 64, 32
"""Points of half a period, and behind a lamp: within 5e-4 and 1e-3 of so many that no more tell anything (see the
tests); meters are off by 1 %, lamps by 8."""


def no_load(case: Case, test: NoLoad) -> Shows:
    """Return what meters show with nothing connected to the secondary."""
    circuit, state, known = no_load_state(case, test)
    amperes = first_half(state.current)

    def shows(quantity: str, meter: Meter | None) -> Number:
        if meter is None:
            value = state.real_power
        elif quantity == "current":
            value = shown(meter, amperes)
        else:
            drop = np.asarray(circuit.primary_resistance)[..., None] * amperes
            value = shown(meter, first_half(state.induced_voltage) + drop)
        return np.where(known, value, np.nan)

    return shows


def _induced(case: Case, test: Energised, turns: Number, place: Coil) -> Shows:
    """Return the volts of turns that link the flux of one of the places."""
    circuit, state, known = no_load_state(case, test)
    flux = first_half(state.flux_per_turn)
    if place is Coil.SECONDARY:
        flux = case.found.magnetising.other_flux(flux)
    volts = np.asarray(turns * circuit.angular_frequency)[..., None] * (flux @ derivative(flux.shape[-1]).T)
    return lambda _quantity, meter: np.where(known, shown(meter or Meter.TRUE_RMS, volts), np.nan)


def search_coil(case: Case, test: SearchCoil) -> Shows:
    """Return the volts of some turns round the leg."""
    return _induced(case, test, test.turns, test.place)


def secondary_volts(case: Case, test: SecondaryVolts) -> Shows:
    """Return the volts at the secondary's open ends."""
    return _induced(case, test, case.alone.secondary_turns, Coil.SECONDARY)


def joined(case: Case, test: Joined) -> Shows:
    """Return what meters show with the lead ends joined."""
    return _across(case, test, 0.0)


def loaded_ends(case: Case, test: LoadedTest) -> Shows:
    """Return what meters show with a load on the lead ends: that of so many ohms, or that takes so many amperes."""
    amperes = test.current
    if test.load is not None or amperes is None:
        return _across(case, test, test.load or 0.0)

    def missed(ohms: Any, _near: Any) -> tuple[Any, Any]:
        seen = _across(case, test, np.exp(ohms))
        return np.log(seen("current", Meter.TRUE_RMS) / amperes), seen

    circuit = at_test(case, test)
    volts = circuit.voltage_rms if test.primary_voltage is None else test.primary_voltage
    most = volts * circuit.secondary_turns / circuit.primary_turns / amperes
    seen, known = settled(missed, np.log(most) - 0.2, low=0.1, high=1.0)
    return lambda quantity, meter: np.where(known, seen(quantity, meter), np.nan)


def _across(case: Case, test: Energised, ohms: Number) -> Shows:
    """Return what meters show with so many ohms across the lead ends."""
    circuit, state, known = _fed(
        case, test, lambda at, _near: loaded(coupled(at, case.found, ohms), ohms), "primary_current_rms"
    )
    known = known & (state.peak_flux_per_turn <= case.found.magnetising.valid_to)

    @cache
    def waves() -> Distorted:
        return load_waves(coupled(circuit, case.found, ohms), ohms)

    def shows(quantity: str, meter: Meter | None) -> Number:
        if meter in (None, Meter.TRUE_RMS) or quantity == "primary_voltage":
            value = getattr(state, _OF_STATE[quantity])
        else:
            assert meter is not None
            secondary = shown(meter, waves().secondary)
            value = shown(meter, waves().primary) if quantity == "primary_current" else secondary
            value = ohms * secondary if quantity == "voltage" else value
        return np.where(known, value, np.nan)

    return shows


_OF_STATE = {
    "primary_current": "primary_current_rms",
    "secondary_current": "secondary_current_rms",
    "current": "secondary_current_rms",
    "power": "input_power",
    "voltage": "load_voltage_rms",
    "primary_voltage": "terminal_voltage_rms",
}


def joint_drop(case: Case, test: JointDrop) -> Shows:
    """Return the volts across all joints between winding and work."""
    return lambda _quantity, _meter: test.current * joint_resistance(case)


def mains(case: Case, test: MainsTest) -> Shows:
    """Return the volts at the socket, idle and under a resistive load that takes so many amperes."""
    circuit, amperes = case.alone, test.current or 0.0
    across = circuit.angular_frequency * circuit.source_inductance * amperes
    under = np.sqrt(np.maximum(circuit.voltage_rms**2 - across**2, 0.0)) - circuit.source_resistance * amperes
    return lambda quantity, _meter: circuit.voltage_rms if quantity == "idle_voltage" else under


def burst(case: Case, test: BurstTest) -> Shows:
    """Return what is seen of a burst."""
    numbers = burst_numbers(case, test)
    return lambda quantity, _meter: numbers[quantity]


STATES: Mapping[type[Test], Callable[[Case, Any], Shows]] = {
    ResistanceTest: resistance,
    NoLoad: no_load,
    SearchCoil: search_coil,
    SecondaryVolts: secondary_volts,
    Joined: joined,
    LoadedTest: loaded_ends,
    JointDrop: joint_drop,
    MainsTest: mains,
    BurstTest: burst,
}
