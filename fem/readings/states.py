"""What every meter would show in each kind of test, of one machine or of many members at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from fem.arrays import Number
from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import Meter, shown
from fem.circuit.steady.half_period import derivative, first_half
from fem.circuit.steady.idle import Idle, idle
from fem.circuit.steady.load import Loaded, load_waves, loaded
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import coupled
from fem.estimation.inputs.joints import joints_of
from fem.materials.metals import metal
from fem.materials.work_metals import work_metal
from fem.readings.described import Coil, Energised, Joined, NoLoad, ResistanceTest, SearchCoil, SecondaryVolts, Test
from fem.readings.fed import fed
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


def _fed(case: Case, test: Energised, solve: Callable[[Circuit], Any], amperes: str) -> tuple[Circuit, Any]:
    volts = None if "primary_voltage" in test.shown else test.primary_voltage
    lamp = None
    if test.lamp is not None:
        watts, rated = test.lamp, test.lamp_voltage or nominal_volts(case)

        def lamp(state: Any) -> Number:
            return lamp_resistance(watts, rated, getattr(state, amperes))

    return fed(solve, at_test(case, test), volts=volts, lamp=lamp)


def nominal_volts(case: Case) -> float:
    """Return the mains voltage as it is told [V], also of members."""
    return (case.drawn_of or case).design.mains.voltage


def _idle(case: Case, test: Energised) -> Idle:
    found: Idle = _fed(case, test, idle, "current_rms")[1]
    return found


def _known(case: Case, state: Idle | Loaded, values: Number) -> Number:
    """Return values, nan where the state lies beyond the steel's data."""
    return np.where(state.peak_flux_per_turn <= case.found.magnetising.valid_to, values, np.nan)


def no_load(case: Case, test: NoLoad) -> Shows:
    """Return what meters show with nothing connected to the secondary."""
    state = _idle(case, test)

    def shows(quantity: str, meter: Meter | None) -> Number:
        if quantity == "power":
            return _known(case, state, state.real_power)
        if quantity == "current" and meter is not None:
            return _known(case, state, shown(meter, first_half(state.current)))
        return _known(case, state, state.terminal_voltage_rms)

    return shows


def _induced(case: Case, test: Energised, turns: Number, place: Coil) -> Shows:
    """Return the volts of turns that link the flux of one of the places."""
    state = _idle(case, test)
    flux = first_half(state.flux_per_turn)
    if place is Coil.SECONDARY:
        flux = case.found.magnetising.other_flux(flux)
    volts = np.asarray(turns * case.alone.angular_frequency)[..., None] * (flux @ derivative(flux.shape[-1]).T)
    return lambda _quantity, meter: _known(case, state, shown(meter or Meter.TRUE_RMS, volts))


def search_coil(case: Case, test: SearchCoil) -> Shows:
    """Return the volts of some turns round the leg."""
    return _induced(case, test, test.turns, test.place)


def secondary_volts(case: Case, test: SecondaryVolts) -> Shows:
    """Return the volts at the secondary's open ends."""
    return _induced(case, test, case.alone.secondary_turns, Coil.SECONDARY)


def joined(case: Case, test: Joined) -> Shows:
    """Return what meters show with the lead ends joined."""
    circuit, state = _fed(case, test, lambda at: loaded(coupled(at, case.found), 0.0), "primary_current_rms")

    def shows(quantity: str, meter: Meter | None) -> Number:
        if quantity == "power":
            value = state.input_power
        elif meter is Meter.TRUE_RMS:
            value = getattr(state, f"{quantity}_rms")
        else:
            assert meter is not None
            waves = load_waves(coupled(circuit, case.found), 0.0)
            value = shown(meter, getattr(waves, quantity.removesuffix("_current")))
        return _known(case, state, value)

    return shows


STATES: Mapping[type[Test], Callable[[Case, Any], Shows]] = {
    ResistanceTest: resistance,
    NoLoad: no_load,
    SearchCoil: search_coil,
    SecondaryVolts: secondary_volts,
    Joined: joined,
}
