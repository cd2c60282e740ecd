"""No-load current: the periodic state with the secondary open."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import both_halves, derivative, rms, vertex
from fem.errors import NotConverged

HARMONIC_ORDERS = (1, 3, 5, 7, 9)
"""Orders listed in a result; even ones vanish because both half periods are alike."""

POINTS = 128
"""Collocation points per half period: r.m.s. current within 1e-4 in deep saturation (see the tests)."""

_TOLERANCE = 1e-10
_NEWTON_STEPS = 40
_PASSES = 20


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


def _newton(circuit: Circuit, flux: Floats, conductance: float) -> tuple[Floats, float]:
    """Return the flux per turn (n,) [Wb] that balances the voltages, and the relative residual reached."""
    turns = circuit.primary_turns
    rate = circuit.angular_frequency * derivative(flux.size)
    series = circuit.loop_resistance * np.eye(flux.size) + circuit.source_inductance * rate
    constant = conductance / turns * (series @ rate) + turns * rate
    peak = np.sqrt(2) * circuit.voltage_rms
    emf = peak * np.sin(np.pi * np.arange(flux.size) / flux.size)

    def residual(trial: Floats) -> tuple[Floats, Floats, float]:
        excitation, slope = circuit.magnetising.excitation(trial)
        error = series @ excitation / turns + constant @ trial - emf
        return error, slope, float(np.abs(error).max()) / peak

    error, slope, size = residual(flux)
    for _ in range(_NEWTON_STEPS):
        if size <= _TOLERANCE:
            break
        step = np.linalg.solve(series * (slope / turns) + constant, error)
        share = 1.0
        while True:
            trial = flux - share * step
            error, slope, new = residual(trial)
            if new < (1 - 0.1 * share) * size or share < 1e-3:
                break
            share *= 0.5
        if new >= size:
            break
        flux, size = trial, new
    return flux, size


def _settle(circuit: Circuit, flux: Floats) -> tuple[Floats, float, float]:
    """Return flux, core-loss conductance at its peak and relative residual."""
    conductance = circuit.core_loss.conductance(vertex(flux), circuit.frequency)
    for _ in range(_PASSES):
        flux, size = _newton(circuit, flux, conductance)
        settled = circuit.core_loss.conductance(vertex(flux), circuit.frequency)
        if size > _TOLERANCE or abs(settled - conductance) <= 1e-8 * abs(settled):
            return flux, conductance, size
        conductance = settled
    return flux, conductance, abs(settled - conductance) / settled


def _solve_flux(circuit: Circuit, start: Floats) -> tuple[Floats, float]:
    flux, conductance, size = _settle(circuit, start)
    if size <= _TOLERANCE:
        return flux, conductance
    # Come up from a voltage at which the core hardly saturates, each solution stretched to the next voltage.
    for steps in (8, 32):
        flux = start * (0.25 / vertex(start) * circuit.nominal_peak_flux)
        for share in np.linspace(0.25, 1.0, steps):
            flux, conductance, size = _settle(circuit.with_voltage(share * circuit.voltage_rms), flux)
            if size > _TOLERANCE:
                break
        else:
            return flux, conductance
    what = f"no-load current at {circuit.voltage_rms:g} V"
    tried = "Newton with line search, then the voltage raised in 8 and in 32 steps"
    raise NotConverged(what, residual=size, tolerance=_TOLERANCE, tried=tried)


def _result(circuit: Circuit, flux: Floats, conductance: float) -> Idle:
    turns, points = circuit.primary_turns, flux.size
    rate = circuit.angular_frequency * derivative(points)
    emf_per_turn = rate @ flux
    loss_current = conductance / turns * emf_per_turn
    current = circuit.magnetising.ampere_turns_at(flux) / turns + loss_current
    angle = np.pi * np.arange(points) / points
    mains = np.sqrt(2) * circuit.voltage_rms * np.sin(angle)
    terminal = mains - circuit.source_resistance * current - circuit.source_inductance * (rate @ current)
    current_rms, terminal_rms = rms(current), rms(terminal)
    copper = circuit.primary_resistance * current_rms**2
    core = conductance * rms(emf_per_turn) ** 2
    apparent = terminal_rms * current_rms
    peak = vertex(current)
    amplitudes = np.exp(-1j * np.outer(HARMONIC_ORDERS, angle)) @ current * (2 / points)
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
        time=np.arange(2 * points) / (2 * points * circuit.frequency),
        voltage=both_halves(mains),
        induced_voltage=both_halves(turns * emf_per_turn),
        current=both_halves(current),
        loss_current=both_halves(loss_current),
        flux_per_turn=both_halves(flux),
    )


def idle(circuit: Circuit, *, points: int = POINTS, start: Floats | None = None) -> Idle:
    """Solve the periodic no-load state on sinusoidal mains.

    Parameters
    ----------
    circuit
        Of one design; its load and leads play no part.
    points
        Collocation points per half period n [-], even.
    start
        (n,) flux per turn to begin with, such as that of a like circuit [Wb]; left out, a sine. It changes the result
        within the tolerance only, 1e-10 of the mains' peak.

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

    (symbols: `fem.circuit.equivalent`). Newton with the exact tangent, a full matrix (n, n), halving steps that gain
    too little; where that fails the voltage comes up in 8 and in 32 steps. G is taken at the solution's own peak flux
    by repetition. All these follow each design's own path: a block would carry matrices (..., n, n) to the end of its
    slowest.
    """
    return _sweep(circuit, [circuit.voltage_rms], points, start)[0]


def idle_sweep(circuit: Circuit, voltages: Iterable[float], *, points: int = POINTS) -> list[Idle]:
    """Solve the no-load state at several mains voltages, each starting from the last; in their order.

    Parameters
    ----------
    circuit
        Its own voltage is replaced.
    voltages
        R.m.s. mains e.m.f. [V].
    points
        Collocation points per half period [-], even.

    Raises
    ------
    NotConverged, ValueError
        As `idle`.
    """
    return _sweep(circuit, voltages, points, None)


def _sweep(circuit: Circuit, voltages: Iterable[float], points: int, start: Floats | None) -> list[Idle]:
    if points < 16 or points % 2:
        msg = f"points must be even and at least 16, got {points}"
        raise ValueError(msg)
    shape = -np.cos(np.pi * np.arange(points) / points)
    results = []
    last, last_voltage = start, circuit.voltage_rms
    for voltage in voltages:
        at = circuit.with_voltage(float(voltage))
        first = shape * at.nominal_peak_flux if last is None else last * (at.voltage_rms / last_voltage)
        last, conductance = _solve_flux(at, first)
        last_voltage = at.voltage_rms
        results.append(_result(at, last, conductance))
    return results


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
