"""The loaded state by phasors, from a resistance across the lead ends down to a dead short."""

from dataclasses import dataclass
from math import hypot, sqrt

from scipy.optimize import brentq

from fem.lumped.circuit import Circuit, check_load
from fem.lumped.curves import LeakageCurve
from fem.lumped.excitation import excitation_fundamental_rms, excitation_rms, peak_flux_of


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """Hold the steady state with a resistance across the lead ends, 0 for a short circuit.

    Powers and voltages on the input side are at the transformer's primary terminals. Voltages are fundamental; the
    primary current carries the harmonics of the magnetising current, and with a leakage curve both currents carry those
    of the saturating leakage path.

    Parameters
    ----------
    load_resistance : float
        [ohm].
    secondary_current_rms, primary_current_rms, magnetising_current_rms : float
        Magnetising current seen from the primary, without the loss component [A].
    load_voltage_rms, secondary_terminal_voltage_rms : float
        Across the load; at the winding's ends, before the leads [V].
    terminal_voltage_rms : float
        At the primary terminals [V].
    primary_emf_rms : float
        Induced in the primary [V].
    peak_flux_per_turn : float
        At the primary [Wb].
    load_power, output_power : float
        Into the load; at the winding's ends, the leads' heat included [W].
    primary_copper_loss, secondary_copper_loss, lead_loss, core_loss, source_loss : float
        [W].
    input_power, input_apparent_power : float
        At the primary terminals [W], [VA].
    power_factor, efficiency : float
        At the terminals; load power / input power [-].
    """

    load_resistance: float
    secondary_current_rms: float
    primary_current_rms: float
    magnetising_current_rms: float
    load_voltage_rms: float
    secondary_terminal_voltage_rms: float
    terminal_voltage_rms: float
    primary_emf_rms: float
    peak_flux_per_turn: float
    load_power: float
    output_power: float
    primary_copper_loss: float
    secondary_copper_loss: float
    lead_loss: float
    core_loss: float
    source_loss: float
    input_power: float
    input_apparent_power: float
    power_factor: float
    efficiency: float


def secondary_impedance(circuit: Circuit, load_resistance: float, secondary_emf: float | None = None) -> complex:
    """Return the impedance of the whole secondary loop, leakage included, seen from the secondary [ohm].

    Parameters
    ----------
    circuit : Circuit
    load_resistance : float
        [ohm].
    secondary_emf : float, optional
        R.m.s. e.m.f. of the core's flux in the secondary [V], > 0; only a leakage curve needs it.

    Returns
    -------
    complex
        With a leakage curve, e.m.f. over the fundamental of the current.

    Raises
    ------
    ValueError
        If the circuit has a leakage curve and no e.m.f. is given.
    """
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    if not isinstance(circuit.leakage_permeance, LeakageCurve):
        return complex(resistance, circuit.angular_frequency * circuit.leakage_inductance_secondary)
    if secondary_emf is None or not secondary_emf > 0:
        msg = f"secondary_emf must be above 0 where the leakage depends on the current, got {secondary_emf!r}"
        raise ValueError(msg)
    _, current, voltage = _leakage_state(circuit, circuit.leakage_permeance, resistance, secondary_emf)
    return complex(resistance, voltage / current)


def _leakage_state(
    circuit: Circuit, windings: LeakageCurve, resistance: float, secondary_emf: float
) -> tuple[float, float, float]:
    """Return whole and fundamental secondary current [A], and the voltage across all leakage [V], r.m.s.

    The flux of leakage and leads together is taken as sinusoidal, as it is where they take most of the voltage.
    """
    turns = circuit.secondary_turns
    curve = windings.in_series_with(circuit.lead_inductance / turns**2)
    volts_per_flux = turns / peak_flux_of(1.0, circuit.frequency)

    def current(flux: float) -> float:
        return float(excitation_fundamental_rms(curve, flux)) / turns

    most = secondary_emf / volts_per_flux
    flux = brentq(
        lambda x: hypot(resistance * current(x), volts_per_flux * x) - secondary_emf,
        1e-12 * most,
        most,
        xtol=1e-14 * most,
    )
    return float(excitation_rms(curve, flux)) / turns, current(flux), volts_per_flux * float(flux)


def _secondary_harmonics(circuit: Circuit, load_resistance: float, secondary_emf: float) -> float:
    """Return the r.m.s. of the secondary current's harmonics [A]; none where the leakage is a plain permeance."""
    curve = circuit.leakage_permeance
    if not isinstance(curve, LeakageCurve):
        return 0.0
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    whole, fundamental, _ = _leakage_state(circuit, curve, resistance, secondary_emf)
    return sqrt(max(whole**2 - fundamental**2, 0.0))


def primary_current(circuit: Circuit, emf: float, load_resistance: float) -> complex:
    """Return the fundamental primary current phasor at a given induced voltage.

    Parameters
    ----------
    circuit : Circuit
    emf : float
        R.m.s. induced primary voltage, the phase reference [V].
    load_resistance : float
        [ohm].

    Returns
    -------
    complex
        R.m.s. [A]; a negative imaginary part lags.
    """
    turns = circuit.primary_turns
    peak_flux = peak_flux_of(emf / turns, circuit.frequency)
    reactive = float(excitation_fundamental_rms(circuit.magnetising, peak_flux)) / turns
    active = circuit.core_loss.conductance(peak_flux, circuit.frequency) * emf / turns**2
    ratio = circuit.secondary_turns / turns
    through = emf * ratio**2 / secondary_impedance(circuit, load_resistance, emf * ratio)
    return through + complex(active, -reactive)


def state_at_emf(circuit: Circuit, emf: float, load_resistance: float) -> Loaded:
    """Return the loaded state that goes with a given induced primary voltage, whatever the mains then is.

    Parameters
    ----------
    circuit : Circuit
    emf : float
        R.m.s. induced primary voltage [V], > 0.
    load_resistance : float
        [ohm].

    Returns
    -------
    Loaded
    """
    turns = circuit.primary_turns
    current = primary_current(circuit, emf, load_resistance)
    peak_flux = peak_flux_of(emf / turns, circuit.frequency)
    fundamental = float(excitation_fundamental_rms(circuit.magnetising, peak_flux)) / turns
    magnetising = float(excitation_rms(circuit.magnetising, peak_flux)) / turns
    ratio = circuit.secondary_turns / turns
    secondary_emf = emf * ratio
    harmonics = _secondary_harmonics(circuit, load_resistance, secondary_emf)
    secondary = hypot(abs(secondary_emf / secondary_impedance(circuit, load_resistance, secondary_emf)), harmonics)
    # Harmonics of core and leakage differ in phase; adding their squares takes them as unrelated.
    primary_rms = sqrt(abs(current) ** 2 + max(magnetising**2 - fundamental**2, 0.0) + (ratio * harmonics) ** 2)
    outside = complex(circuit.lead_resistance + load_resistance, circuit.angular_frequency * circuit.lead_inductance)
    terminal = abs(emf + circuit.primary_resistance * current)
    losses = {
        "primary_copper_loss": circuit.primary_resistance * primary_rms**2,
        "secondary_copper_loss": circuit.secondary_resistance * secondary**2,
        "lead_loss": circuit.lead_resistance * secondary**2,
        "core_loss": circuit.core_loss.conductance(peak_flux, circuit.frequency) * (emf / turns) ** 2,
    }
    load_power = load_resistance * secondary**2
    input_power = sum(losses.values()) + load_power
    apparent = terminal * primary_rms
    return Loaded(
        load_resistance=load_resistance,
        secondary_current_rms=secondary,
        primary_current_rms=primary_rms,
        magnetising_current_rms=magnetising,
        load_voltage_rms=load_resistance * secondary,
        secondary_terminal_voltage_rms=abs(outside) * secondary,
        terminal_voltage_rms=terminal,
        primary_emf_rms=emf,
        peak_flux_per_turn=peak_flux,
        load_power=load_power,
        output_power=load_power + losses["lead_loss"],
        source_loss=circuit.source_resistance * primary_rms**2,
        input_power=input_power,
        input_apparent_power=apparent,
        power_factor=input_power / apparent,
        efficiency=load_power / input_power if input_power > 0 else 0.0,
        **losses,
    )


def loaded(circuit: Circuit, load_resistance: float | None = None) -> Loaded:
    """Solve the steady state on the mains with a resistance across the lead ends.

    Parameters
    ----------
    circuit : Circuit
    load_resistance : float, optional
        [ohm]; 0 is a short circuit; left out, the circuit's own.

    Returns
    -------
    Loaded

    Raises
    ------
    ValueError
        If neither gives a load, or it is negative or not finite.

    Notes
    -----
    Phasors, the magnetising branch by the fundamental of its current at a sinusoidal induced voltage. That branch lies
    on the primary's side of the whole leakage, so the primary's flux is the one its own induced voltage needs. A
    leakage curve enters likewise, by the current's fundamental at a sinusoidal flux of leakage and leads. What all that
    leaves out: `fem.lumped.bias.phasor_difference`.
    """
    load = circuit.load_resistance if load_resistance is None else load_resistance
    if load is None:
        msg = "load_resistance: neither the circuit nor the call gives one"
        raise ValueError(msg)
    check_load(load)
    series = complex(circuit.loop_resistance, circuit.angular_frequency * circuit.source_inductance)

    def excess(emf: float) -> float:
        drop = series * primary_current(circuit, emf, load)
        return hypot(emf + drop.real, drop.imag) - circuit.voltage_rms

    # A loop of resistances and inductances on both sides cannot raise the induced voltage above the mains.
    emf = brentq(excess, 1e-9 * circuit.voltage_rms, circuit.voltage_rms, xtol=1e-13 * circuit.voltage_rms)
    return state_at_emf(circuit, float(emf), load)
