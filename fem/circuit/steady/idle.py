"""No-load current: the periodic state with the secondary open."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.circuit.block import columns, spread
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import both_halves, derivative, rms, vertex
from fem.circuit.steady.idle_flux import idle_flux

HARMONIC_ORDERS = (1, 3, 5, 7, 9)
"""Orders listed in a result; even ones vanish because both half periods are alike."""

POINTS = 128
"""Collocation points per half period: r.m.s. current within 1e-4 in deep saturation (see the tests)."""

_OF_THE_PRIMARY = (
    "voltage_rms",
    "frequency",
    "source_resistance",
    "source_inductance",
    "primary_turns",
    "secondary_turns",
    "primary_resistance",
)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Idle:
    """The no-load state over one period, secondary open.

    Powers and voltages are at the primary terminals; what the source impedance takes stands apart.

    Parameters
    ----------
    current_rms, current_peak
        Primary current [A].
    crest_factor, power_factor
        Of the primary current; at the terminals [-].
    real_power, copper_loss, core_loss, source_loss
        Taken at the terminals, its two parts, and lost in the source resistance [W].
    apparent_power
        At the terminals [VA].
    terminal_voltage_rms, secondary_voltage_rms
        At the primary terminals; open secondary [V].
    peak_flux_per_turn
        [Wb].
    harmonic_orders
        Orders of `harmonics_rms`.
    harmonics_rms
        (5,) r.m.s. current of those orders [A].
    time, voltage, induced_voltage
        (2 n,) one period from the rising zero of the mains e.m.f. [s], that e.m.f. [V], induced in the primary [V].
    current, loss_current, flux_per_turn
        (2 n,) primary current [A], its part in step with the induced voltage that carries the core loss [A], [Wb].
    """

    current_rms: float
    current_peak: float
    crest_factor: float
    power_factor: float
    real_power: float
    copper_loss: float
    core_loss: float
    source_loss: float
    apparent_power: float
    terminal_voltage_rms: float
    secondary_voltage_rms: float
    peak_flux_per_turn: float
    harmonic_orders: tuple[int, ...]
    harmonics_rms: Floats
    time: Floats
    voltage: Floats
    induced_voltage: Floats
    current: Floats
    loss_current: Floats
    flux_per_turn: Floats


def _result(circuit: Circuit, flux: Floats, conductance: Floats) -> Idle:
    """Return the states of m designs, (m, ...) each."""
    turns, points = np.reshape(circuit.primary_turns, (-1, 1)), flux.shape[-1]
    omega, hertz = (np.reshape(number, (-1, 1)) for number in (circuit.angular_frequency, circuit.frequency))
    rate = derivative(points).T
    emf_per_turn = omega * (flux @ rate)
    loss_current = conductance[:, None] / turns * emf_per_turn
    current = circuit.magnetising.ampere_turns_at(flux) / turns + loss_current
    angle = np.pi * np.arange(points) / points
    mains = np.multiply.outer(np.sqrt(2) * circuit.voltage_rms, np.sin(angle))
    source = np.reshape(circuit.source_inductance, (-1, 1)) * omega * (current @ rate)
    terminal = mains - np.reshape(circuit.source_resistance, (-1, 1)) * current - source
    current_rms, terminal_rms = rms(current), rms(terminal)
    copper = circuit.primary_resistance * current_rms**2
    core = conductance * rms(emf_per_turn) ** 2
    apparent = terminal_rms * current_rms
    peak = vertex(current)
    amplitudes = current @ np.exp(-1j * np.outer(HARMONIC_ORDERS, angle)).T * (2 / points)
    return Idle(
        current_rms=current_rms,
        current_peak=peak,
        crest_factor=peak / current_rms,
        power_factor=(copper + core) / apparent,
        real_power=copper + core,
        copper_loss=copper,
        core_loss=core,
        source_loss=circuit.source_resistance * current_rms**2,
        apparent_power=apparent,
        terminal_voltage_rms=terminal_rms,
        secondary_voltage_rms=circuit.secondary_turns * rms(emf_per_turn),
        peak_flux_per_turn=vertex(flux),
        harmonic_orders=HARMONIC_ORDERS,
        harmonics_rms=np.abs(amplitudes) / np.sqrt(2),
        time=np.arange(2 * points) / (2 * points * hertz),
        voltage=both_halves(mains),
        induced_voltage=both_halves(turns * emf_per_turn),
        current=both_halves(current),
        loss_current=both_halves(loss_current),
        flux_per_turn=both_halves(flux),
    )


def idle(circuit: Circuit, *, points: int = POINTS, start: Floats | None = None) -> Idle:
    """Solve the periodic no-load state on sinusoidal mains, of one design or of a block.

    Parameters
    ----------
    circuit
        Its load and leads play no part; of a block, designs alike in all else are solved once.
    points
        Collocation points per half period n [-], even.
    start
        (n,) flux per turn to begin with, or (members, n), such as that of a like circuit [Wb]; left out, a sine. It
        changes the result within the tolerance only, 1e-10 of the mains' peak.

    Returns
    -------
    Idle
        Every field with a leading axis for the block, if there is one.

    Raises
    ------
    NotConverged
        If Newton's method fails also when the voltage is raised in steps.
    ValueError
        If `points` is odd or below 16.

    Notes
    -----
    Kirchhoff's voltage law at n points of half a period, the flux phi a sum of odd harmonics with d/dt = omega D:

        (R_s + R_1 + L_s omega D) (F(phi) + G omega D phi)/N_1 + N_1 omega D phi = e

    (symbols: `fem.circuit.equivalent`; solved in `idle_flux`). G is taken at the solution's own peak flux by
    repetition.
    """
    if points < 16 or points % 2:
        msg = f"points must be even and at least 16, got {points}"
        raise ValueError(msg)
    each, _, places = columns(circuit, _OF_THE_PRIMARY)
    shape = -np.cos(np.pi * np.arange(points) / points)
    peaks = np.asarray(each.nominal_peak_flux)
    first = np.multiply.outer(peaks, shape)
    if start is not None:
        own = start if start.ndim == 1 or places is None else start[np.unique(places, return_index=True)[1]]
        first = np.broadcast_to(own, (peaks.size, points))
    return spread(_result(each, *idle_flux(each, first)), places)


def secondary_voltage(circuit: Circuit, flux_per_turn: Floats) -> Floats:
    """Return the open secondary's voltage over a period, N_2 dphi/dt, (n,) [V].

    Parameters
    ----------
    flux_per_turn
        (n,) over the same period, n even [Wb]: the flux is the sum of sines through its samples, as `idle` has it.
    """
    flux = np.fft.rfft(flux_per_turn)
    order = np.arange(flux.size)
    order[-1] = 0  # the highest order of an even number of samples has no slope that they could show
    slope = np.fft.irfft(1j * order * circuit.angular_frequency * flux, n=flux_per_turn.size)
    return np.asarray(circuit.secondary_turns * slope)
