"""The periodic state in the time domain: half-wave loads, direct bias of the core, and what phasors leave out."""

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import PHASOR_BOUND, loaded
from fem.circuit.time.connection import Connection
from fem.circuit.time.stepping import STEPS, Run, State, check_run, integrate, leakage_flux, nominal_conductance
from fem.errors import NotConverged

ORDERS = tuple(range(11))
"""Orders listed in a result; 0 is the direct component, and even ones tell a biased core."""

_START = 1.5 * pi
"""Where the period begins in the search: at the trough of the mains, where valves that pass the positive half wave
block, so that the map over a period has no kink nearby."""
_COARSE_STEPS = 128
_TOLERANCE = 1e-6
_SHOTS = 30
_SHARES = tuple(0.35**k for k in range(9))
_PASSES = 6
_NUDGE = 1e-4


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Periodic:
    """Hold the state that repeats from period to period; n steps.

    Parameters
    ----------
    connection : Connection
    primary_rms, primary_mean, primary_peak : float
        Of the primary current: with harmonics, direct component, largest size [A].
    secondary_rms, secondary_mean, secondary_peak : float
        Likewise [A].
    magnetising_mean : float
        Direct ampere-turns on the core [A].
    flux_mean, flux_highest, flux_lowest : float
        Flux per turn at the primary over the period [Wb].
    leakage_flux_peak : float
        Largest size per turn [Wb].
    secondary_voltage_rms : float
        E.m.f. of the core's flux in the secondary [V].
    real_power, core_loss : float
        At the primary terminals; its part lost in the core [W].
    load_power : float
        Into load and rectifier [W].
    harmonic_orders : tuple of int
    harmonics_rms : (11,) array
        Primary current of those orders, the direct component by its size [A].
    time, voltage, terminal_voltage : (n,) array
        From the rising zero of the mains e.m.f. [s], that e.m.f. [V], at the primary terminals [V].
    primary_current, secondary_current : (n,) array
        [A].
    flux_per_turn, leakage_flux_per_turn : (n,) array
        As in `Transient` [Wb].
    """

    connection: Connection
    primary_rms: float
    primary_mean: float
    primary_peak: float
    secondary_rms: float
    secondary_mean: float
    secondary_peak: float
    magnetising_mean: float
    flux_mean: float
    flux_highest: float
    flux_lowest: float
    leakage_flux_peak: float
    secondary_voltage_rms: float
    real_power: float
    core_loss: float
    load_power: float
    harmonic_orders: tuple[int, ...]
    harmonics_rms: Floats
    time: Floats
    voltage: Floats
    terminal_voltage: Floats
    primary_current: Floats
    secondary_current: Floats
    flux_per_turn: Floats
    leakage_flux_per_turn: Floats


def _as_state(columns: Floats) -> State:
    return State(
        flux=columns[0],
        older_flux=columns[1],
        primary=columns[2],
        secondary=columns[3],
        older_secondary=columns[4],
    )


def _end(run: Run) -> Floats:
    end = run.end
    return np.array([end.flux, end.older_flux, end.primary, end.secondary, end.older_secondary])


def _sizes(circuit: Circuit, run: Run) -> Floats:
    """Return what each entry of the state is measured by."""
    flux = max(circuit.nominal_peak_flux, float(np.abs(run.flux[:, 0]).max()))
    # A current that stays at nothing still needs a size: that of a thousandth of the nominal excitation.
    least = 1e-3 * float(circuit.magnetising.ampere_turns_at(circuit.nominal_peak_flux))
    first = max(least / circuit.primary_turns, float(np.abs(run.primary[:, 0]).max()))
    second = max(least / circuit.secondary_turns, float(np.abs(run.secondary[:, 0]).max()))
    return np.array([flux, flux, first, second, second])


def _follow(
    circuit: Circuit, connection: Connection, columns: Floats, conductance: float, steps: int, cycles: int = 1
) -> Run:
    """Return runs from the start of a period, one for each column of state entries."""
    return integrate(
        circuit,
        connection,
        _as_state(columns),
        angles=np.full(columns.shape[1], _START),
        conductance=conductance,
        cycles=cycles,
        steps=steps,
    )


def _shoot(circuit: Circuit, connection: Connection, x: Floats, size: Floats, conductance: float, steps: int) -> Run:
    """Return one period of the periodic state, by Newton's method on the map over one period from a state near it.

    Each run carries, beside the trial itself, one more for each nudged entry of the state: they give the map's tangent.
    A trial that misses by more than the last one is drawn back; if that does not help, the circuit itself takes over
    for a few periods, since every transient of it dies out.
    """
    # An open secondary leaves its two entries out.
    entries = 3 if connection.load_resistance == inf else 5

    def nudged(x: Floats, size: Floats) -> tuple[Run, Floats, Floats]:
        columns = x[:, None] + np.hstack([np.zeros((5, 1)), _NUDGE * np.diag(size)[:, :entries]])
        run = _follow(circuit, connection, columns, conductance, steps)
        after = _end(run)
        # Everything over the size of the state's entries.
        tangent = (after[:, 1:] - after[:, :1]) / (_NUDGE * size[:, None])
        return run, ((after[:, 0] - x) / size)[:entries], tangent[:entries]

    run, miss, tangent = nudged(x, size)
    off = inf
    for _ in range(_SHOTS):
        step = np.linalg.solve(np.eye(entries) - tangent, miss)
        off = float(np.abs(step).max())
        if off <= _TOLERANCE:
            return run
        for share in _SHARES:
            trial = x.copy()
            trial[:entries] += share * step * size[:entries]
            run, new, tangent = nudged(trial, size)
            if np.linalg.norm(new) < (1 - 0.1 * share) * np.linalg.norm(miss):
                x, miss = trial, new
                break
        else:
            settled = _follow(circuit, connection, x[:, None], conductance, steps, cycles=5)
            x, size = _end(settled)[:, 0], _sizes(circuit, settled)
            run, miss, tangent = nudged(x, size)
    what = "periodic state"
    raise NotConverged(
        what,
        residual=off,
        tolerance=_TOLERANCE,
        tried=f"{_SHOTS} steps of Newton's method over the period, drawn back or settled where they missed",
    )


def _for_steps(run: Run, steps: int) -> Floats:
    """Return the end of a run as a state for another number of steps per period."""
    x = _end(run)[:, 0]
    earlier = run.times[-1] * (1 - 1 / steps)
    x[1], x[4] = (np.interp(earlier, run.times, wave[:, 0]) for wave in (run.flux, run.secondary))
    return x


def periodic(circuit: Circuit, connection: Connection, *, steps: int = STEPS) -> Periodic:
    """Solve the periodic state, direct components and even harmonics included.

    Parameters
    ----------
    circuit : Circuit
    connection : Connection
    steps : int
        Time steps per period [-].

    Returns
    -------
    Periodic

    Raises
    ------
    NotConverged
        If a time step or the search for the periodic state fails.
    ValueError
        If `steps` is below 64 or no multiple of 4.

    Notes
    -----
    The state at the start of a period that comes back at its end, stepped by `integrate`. The time in which a direct
    flux builds up, seconds on an unloaded core, does not matter. The core-loss conductance is the one at half the
    flux's own swing; what bias adds to the loss of a given swing is left out.
    """
    check_run(0.0, 1, steps)
    if steps % 4:
        msg = f"steps must be a multiple of 4, got {steps}"
        raise ValueError(msg)
    conductance = nominal_conductance(circuit)
    coarse = min(steps, _COARSE_STEPS)
    # The steady flux is on its way down; with a valve in the mains it has come back to next to nothing instead.
    peak = 0.0 if connection.half_wave_supply else circuit.nominal_peak_flux
    start = np.array([[0.0], [peak * np.sin(2 * pi / coarse)], [0.0], [0.0], [0.0]])
    run = _follow(circuit, connection, start, conductance, coarse)
    for fineness in (coarse, steps):
        for _ in range(_PASSES):
            run = _shoot(circuit, connection, _for_steps(run, fineness), _sizes(circuit, run), conductance, fineness)
            flux = run.flux[:, 0]
            swing = 0.5 * float(flux.max() - flux.min())
            before, conductance = conductance, circuit.core_loss.conductance(swing, circuit.frequency)
            # The loss current is a part of a small one: a thousandth of it is far below what is asked of the whole.
            if abs(conductance - before) <= 1e-3 * conductance:
                break
        else:
            what = "core loss in the periodic state"
            raise NotConverged(
                what,
                residual=abs(conductance - before) / conductance,
                tolerance=1e-3,
                tried=f"{_PASSES} passes",
            )
    return _result(circuit, connection, run, before)


def _result(circuit: Circuit, connection: Connection, run: Run, conductance: float) -> Periodic:
    steps = run.times.size - 1
    # From the search's start on to the rising zero of the mains, a quarter period later.
    waves = (run.voltage, run.primary, run.secondary, run.flux)
    voltage, primary, secondary, flux = (np.roll(wave[:-1, 0], -(steps // 4)) for wave in waves)
    # Rates across the seam between periods too.
    doubled = np.concatenate([flux, flux, flux])
    rate = np.gradient(doubled, run.times[1])[steps : 2 * steps]
    terminal = circuit.primary_resistance * primary + circuit.primary_turns * rate
    leakage = leakage_flux(circuit, secondary)
    spectrum = np.abs(np.fft.rfft(primary))[list(ORDERS)] / steps
    spectrum[1:] *= sqrt(2)
    core = conductance * float(np.mean(rate**2))
    load = 0.0
    if connection.load_resistance != inf:
        load = connection.load_resistance * float(np.mean(secondary**2))
        if connection.rectifier is not None:
            load += connection.rectifier.forward_drop * float(np.mean(np.abs(secondary)))
    copper = circuit.primary_resistance * float(np.mean(primary**2))
    loop = (circuit.secondary_resistance + circuit.lead_resistance) * float(np.mean(secondary**2))
    return Periodic(
        connection=connection,
        primary_rms=float(np.sqrt(np.mean(primary**2))),
        primary_mean=float(primary.mean()),
        primary_peak=float(np.abs(primary).max()),
        secondary_rms=float(np.sqrt(np.mean(secondary**2))),
        secondary_mean=float(secondary.mean()),
        secondary_peak=float(np.abs(secondary).max()),
        magnetising_mean=float(circuit.magnetising.ampere_turns_at(flux).mean()),
        flux_mean=float(flux.mean()),
        flux_highest=float(flux.max()),
        flux_lowest=float(flux.min()),
        leakage_flux_peak=float(np.abs(leakage).max()),
        secondary_voltage_rms=circuit.secondary_turns * float(np.sqrt(np.mean(rate**2))),
        real_power=copper + core + loop + load,
        core_loss=core,
        load_power=load,
        harmonic_orders=ORDERS,
        harmonics_rms=spectrum,
        time=run.times[:-1],
        voltage=voltage,
        terminal_voltage=terminal,
        primary_current=primary,
        secondary_current=secondary,
        flux_per_turn=flux,
        leakage_flux_per_turn=leakage,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class PhasorDifference:
    """Hold what the phasor solution is off by, over the periodic solution in the time domain.

    Parameters
    ----------
    primary_rms, secondary_rms, real_power : float
        (phasor - periodic) / periodic [-].
    peak_flux_per_turn, phasor_peak_flux_per_turn : float
        Of the core at the primary, both ways [Wb].
    leakage_flux_peak : float
        Per turn, periodic [Wb].
    """

    primary_rms: float
    secondary_rms: float
    real_power: float
    peak_flux_per_turn: float
    phasor_peak_flux_per_turn: float
    leakage_flux_peak: float

    @property
    def within_bound(self) -> bool:
        """Whether currents stay within `PHASOR_BOUND` and power within twice that."""
        return max(abs(self.primary_rms), abs(self.secondary_rms), abs(self.real_power) / 2) <= PHASOR_BOUND


def phasor_difference(circuit: Circuit, load_resistance: float = 0.0, *, steps: int = STEPS) -> PhasorDifference:
    """Compare the loaded state, phasors unless the leakage path saturates, with the periodic one in the time domain.

    Parameters
    ----------
    circuit : Circuit
    load_resistance : float
        Across the lead ends [ohm], 0 for a short circuit.
    steps : int
        Time steps per period [-].

    Returns
    -------
    PhasorDifference

    Raises
    ------
    NotConverged
        As `periodic`.
    ValueError
        If the load is negative or not finite.

    Notes
    -----
    The bound holds shorted, loaded and open however far the core saturates: where its harmonics would break it,
    `loaded` takes waves itself.
    """
    if not isfinite(load_resistance):
        msg = f"load_resistance must be finite, got {load_resistance!r}"
        raise ValueError(msg)
    phasor = loaded(circuit, load_resistance)
    exact = periodic(circuit, Connection(load_resistance=load_resistance), steps=steps)
    return PhasorDifference(
        primary_rms=phasor.primary_current_rms / exact.primary_rms - 1,
        secondary_rms=phasor.secondary_current_rms / exact.secondary_rms - 1,
        real_power=phasor.input_power / exact.real_power - 1,
        peak_flux_per_turn=max(exact.flux_highest, -exact.flux_lowest),
        phasor_peak_flux_per_turn=phasor.peak_flux_per_turn,
        leakage_flux_peak=exact.leakage_flux_peak,
    )
