"""The loaded state, from a resistance across the lead ends to a dead short; by phasors where they serve."""

from dataclasses import fields, replace
from typing import Any

import numpy as np

from fem.arrays import Complexes, Floats, not_negative
from fem.circuit.block import columns, spread, taken
from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.excitation import excitation_fundamental_rms, excitation_rms, fundamental_slope, peak_flux_of
from fem.circuit.steady.distorted import Distorted, distorted
from fem.circuit.steady.loaded_state import Loaded as Loaded
from fem.circuit.steady.loaded_state import state_of
from fem.circuit.steady.waves import by_curve, by_waves, waves_of

PHASOR_BOUND = 0.01
"""What phasors may leave out of r.m.s. currents before waves take over, and before a report has to say so [-], and of
real power twice that, as it goes with the square: a tenth of the 10 % by which mains voltage itself may be off (IEC
60038)."""

_EMF_STEPS = 100
_EMF_TOLERANCE = 1e-12
_NUMBERS = (
    "voltage_rms",
    "frequency",
    "source_resistance",
    "source_inductance",
    "primary_turns",
    "secondary_turns",
    "primary_resistance",
    "secondary_resistance",
    "lead_resistance",
    "lead_inductance",
    "leakage_permeance",
)


def _at_emf(circuit: Circuit, emf: Any, load_resistance: Any) -> tuple[Complexes, Complexes, Complexes]:
    """Return the fundamental primary and secondary currents at an induced primary voltage, (m,) r.m.s. [A].

    And the primary's slope against it, the core loss going on straight [S].
    """
    turns: Any = circuit.primary_turns
    ratio: Any = circuit.secondary_turns / turns
    peak_flux = peak_flux_of(emf / turns, circuit.frequency)
    reactive, rise = fundamental_slope(circuit.magnetising, peak_flux)
    conductance = circuit.core_loss.conductance(peak_flux, circuit.frequency) / turns**2
    admittance = ratio / _secondary_impedance(circuit, load_resistance)
    primary = emf * (admittance * ratio + conductance) - 1j * (reactive / turns)
    slope = admittance * ratio + conductance - 1j * peak_flux_of(rise / turns**2, circuit.frequency)
    return primary, emf * admittance, slope


def _secondary_impedance(circuit: Circuit, load_resistance: Any) -> Any:
    """Return R_2 + R_l + R + j omega (N_2^2 Lambda + L_l), (m,) [ohm]."""
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    return resistance + 1j * (circuit.angular_frequency * circuit.leakage_inductance_secondary)


def _emf(circuit: Circuit, load_resistance: Floats, near: Floats | None = None) -> Any:
    """Return the r.m.s. induced primary voltages (m,) [V] at which |E + Z I_1(E)| is the mains'; see `loaded`."""
    volts = circuit.voltage_rms + np.zeros_like(load_resistance)
    series: Any = circuit.loop_resistance + 1j * (circuit.angular_frequency * circuit.source_inductance)
    series = series + np.zeros_like(volts)
    if near is None:  # the magnetising current left out
        ratio, rest = circuit.secondary_turns / circuit.primary_turns, _secondary_impedance(circuit, load_resistance)
        near = volts * np.abs(rest / (rest + series * ratio**2))
    # A loop of resistances and inductances on both sides cannot raise the induced voltage above the mains.
    emf, low, high, load = near, np.zeros_like(volts), volts, load_resistance
    found, going = np.empty_like(volts), np.arange(volts.size)
    for step in range(1, _EMF_STEPS + 1):
        primary, _, slope = _at_emf(circuit, emf, load)
        mains = emf + series * primary
        size = np.abs(mains)
        above = size > volts
        low, high = np.where(above, low, emf), np.where(above, emf, high)
        rise = np.maximum((mains.conj() * (1 + series * slope)).real, 1e-3 * size)
        new = emf - (size - volts) * size / rise
        outside = (new < low) | (new > high)
        over = ~outside & (np.abs(new - emf) <= _EMF_TOLERANCE * volts) | (step == _EMF_STEPS)
        emf = np.where(outside, 0.5 * (low + high), new)
        if over.any():
            found[going[over]] = emf[over]
            if over.all():
                break
            circuit, parts = taken(circuit, ~over), (emf, low, high, volts, series, load, going)
            emf, low, high, volts, series, load, going = (part[~over] for part in parts)
    return found


def phasor_flux(circuit: Circuit, load_resistance: float, near: Any = None) -> Any:
    """Return the peak flux per turn by phasors, (...,) [Wb]; near one such flux, that is where the search begins."""
    beside = (load_resistance,) if near is None else (load_resistance, near)
    each, (load, *start), places = columns(_straight(circuit), _NUMBERS, *beside)
    begin = start[0] * each.primary_turns / peak_flux_of(1.0, each.frequency) if start else None
    found = peak_flux_of(_emf(each, load, begin) / each.primary_turns, each.frequency)
    return found.item() if places is None else found[places]


def _straight(circuit: Circuit) -> Circuit:
    """Return a circuit with a number for its leakage: that of an unsaturated curve."""
    leakage = circuit.leakage_permeance
    if not isinstance(leakage, LeakageCurve):
        return circuit
    return replace(circuit, leakage_permeance=leakage.unsaturated_permeance)


def _by_phasors(circuit: Circuit, load_resistance: Floats) -> Loaded:
    """Return the states of m designs by phasors, fields (m,)."""
    emf = _emf(circuit, load_resistance)
    current, secondary, _ = _at_emf(circuit, emf, load_resistance)
    turns = circuit.primary_turns
    peak_flux = peak_flux_of(emf / turns, circuit.frequency)
    magnetising: Any = excitation_rms(circuit.magnetising, peak_flux) / turns
    harmonics = magnetising**2 - (excitation_fundamental_rms(circuit.magnetising, peak_flux) / turns) ** 2
    inductive = 1j * (circuit.angular_frequency * circuit.lead_inductance)
    return state_of(
        circuit,
        load_resistance,
        primary_rms=np.sqrt(np.abs(current) ** 2 + np.maximum(harmonics, 0.0)),
        secondary_rms=np.abs(secondary),
        secondary_terminal_voltage_rms=np.abs((circuit.lead_resistance + load_resistance + inductive) * secondary),
        terminal_voltage_rms=np.abs(emf + circuit.primary_resistance * current),
        primary_emf_rms=emf,
        peak_flux_per_turn=peak_flux,
        core_loss=circuit.core_loss.conductance(peak_flux, circuit.frequency) * (emf / turns) ** 2,
        primary_phasor=current,
        secondary_phasor=secondary,
    )


def loaded(circuit: Circuit, load_resistance: float | None = None) -> Loaded:
    """Solve the steady state on the mains with a resistance across the lead ends, of one design or of a block.

    Parameters
    ----------
    load_resistance
        (...,) [ohm]; 0 is a short circuit; left out, the circuit's own.

    Raises
    ------
    ValueError
        If neither gives a load, or it is negative or not finite.
    NotConverged
        As `by_waves`.

    Notes
    -----
    Phasors, the r.m.s. induced voltage E of the primary being the phase reference (symbols: `fem.circuit.equivalent`):

        I_2 = E N_2/N_1 / (R_2 + R_l + R + j omega (N_2^2 Lambda + L_l))
        I_1 = I_2 N_2/N_1 + G E/N_1^2 - j F_1(phi)/N_1,   phi = sqrt(2) E/(omega N_1)
        |E + (R_s + R_1 + j omega L_s) I_1| = U

    F_1 is the fundamental of the ampere-turns at a sinusoidal flux: the magnetising branch lies on the primary's side
    of the whole leakage, so the primary's flux is the one its own induced voltage needs. The last line rises with E and
    is solved by Newton's method, kept between bounds that close in on the one root, each design for itself. What that
    leaves out: `fem.circuit.time.phasor_check`. With a leakage curve, or where the harmonics of a saturated core add
    more than `PHASOR_BOUND` to the primary current, by waves.
    """
    load = circuit.load_resistance if load_resistance is None else load_resistance
    if load is None:
        msg = "load_resistance: neither the circuit nor the call gives one"
        raise ValueError(msg)
    not_negative(load_resistance=load)
    each, (loads,), places = columns(circuit, _NUMBERS, load)
    if isinstance(circuit.leakage_permeance, LeakageCurve):
        return spread(by_curve(each, loads), places)
    found = _by_phasors(each, loads)
    distortion = found.primary_current_rms / np.abs(found.primary_phasor) - 1
    saturated = np.flatnonzero(~(distortion <= PHASOR_BOUND))
    if saturated.size:
        waves = by_waves(taken(each, saturated), loads[saturated])
        for item in fields(found):
            getattr(found, item.name)[saturated] = getattr(waves, item.name)
    return spread(found, places)


def load_waves(circuit: Circuit, load_resistance: float) -> Distorted:
    """Return the waves of the same state over half a period, (..., n): what meters see that show no r.m.s. value.

    Raises
    ------
    NotConverged
        As `distorted`.
    """
    each, (loads,), places = columns(circuit, _NUMBERS, load_resistance)
    if isinstance(circuit.leakage_permeance, LeakageCurve):
        return spread(distorted(each, loads), places)
    return spread(waves_of(each, loads), places)
