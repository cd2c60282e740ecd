"""The state that comes back after a period, by shooting: Newton's method on the map over one period.

With x = (phi, phi_older, i_1, i_2, i_2_older) at the trough of the mains and P(x) the same one period later as
`integrate` steps it, P(x) = x is solved by

    (1 - dP/dx) dx = P(x) - x,

dP/dx by differences: beside the trial one more run for each entry nudged by 1e-4 of its size, all side by side. The
time in which a direct flux builds up, seconds on an unloaded core, does not matter. A step that gains too little is
drawn back by 0.35 at a time; where that does not help the circuit itself is followed for five periods, since every
transient of it dies out. All this takes each design's own path; the runs within a step could be those of a block.
"""

from dataclasses import replace
from math import inf, pi

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import Connection
from fem.circuit.time.stepping import Run, State, integrate, nominal_conductance
from fem.errors import NotConverged

_START = 1.5 * pi
"""Where the period begins in the search: at the trough of the mains, where valves that pass the positive half wave
block, so that the map over a period has no kink nearby."""
_COARSE_STEPS = 128
_TOLERANCE = 1e-6
_SHOTS = 30
_SHARES = tuple(0.35**k for k in range(9))
_PASSES = 6
_SAME_LOSS = 1e-3
"""Relative change of the core-loss conductance [-] that counts as none: the loss current is a part of a small one."""
_CARRIED, _NEAR_SHOTS = 1e-3, 5
_NUDGE = 1e-4


def search(circuit: Circuit, connection: Connection, steps: int) -> tuple[Run, float]:
    """Return a period of the state, sought from the first one in coarse steps on, and its core-loss conductance [S]."""
    conductance, coarse = nominal_conductance(circuit), min(steps, _COARSE_STEPS)
    # The steady flux is on its way down; with a valve in the mains it has come back to next to nothing instead.
    peak = 0.0 if connection.half_wave_supply else circuit.nominal_peak_flux
    rest = np.array([[0.0], [peak * np.sin(2 * pi / coarse)], [0.0], [0.0], [0.0]])
    run = _follow(circuit, connection, rest, conductance, coarse)
    for fineness in (coarse, steps):
        x, size = _for_steps(run, fineness), _sizes(circuit, run)
        run, before = _settle(circuit, connection, x, size, conductance, fineness)
        conductance = _own_conductance(circuit, run)
    return run, before


def near(
    circuit: Circuit, connection: Connection, x: Floats, size: Floats, conductance: float, steps: int
) -> tuple[Run, float]:
    """Return a period of the state, sought from x (5,) of sizes (5,) very near it, and its core-loss conductance [S].

    Notes
    -----
    The conductance follows each shot. What the last Newton step moves, below 1e-3, the nudged runs carry over to the
    waves, which leaves its square. A search that does not close in begins from the first period instead.
    """
    before = inf
    for _ in range(_NEAR_SHOTS):
        run, miss, tangent = _nudged(circuit, connection, x, size, conductance, steps)
        step: Floats = np.asarray(np.linalg.solve(np.eye(miss.size) - tangent, miss), dtype=np.float64)
        off = float(np.abs(step).max())
        run = _carried(run, step / _NUDGE)
        was, conductance = conductance, _own_conductance(circuit, run)
        if off <= _CARRIED and abs(conductance - was) <= _SAME_LOSS * conductance:
            return run, conductance
        if off > 0.5 * before:
            break
        before = off
        x = x.copy()
        x[: step.size] += step * size[: step.size]
    return search(circuit, connection, steps)


def _carried(run: Run, share: Floats) -> Run:
    """Return a run moved along the differences to the nudged ones beside it, (k,) of each [-]."""

    def moved(wave: Floats) -> Floats:
        return wave[:, :1] + (wave[:, 1:] - wave[:, :1]) @ share[:, None]

    return replace(run, flux=moved(run.flux), primary=moved(run.primary), secondary=moved(run.secondary))


def _settle(
    circuit: Circuit, connection: Connection, x: Floats, size: Floats, conductance: float, steps: int
) -> tuple[Run, float]:
    """Return a period of the state, from one x (5,) of sizes (5,) near it, and the conductance of its swing [S]."""
    for _ in range(_PASSES):
        run = _shoot(circuit, connection, x, size, conductance, steps)
        before, conductance = conductance, _own_conductance(circuit, run)
        if abs(conductance - before) <= _SAME_LOSS * conductance:
            return run, before
        x, size = _for_steps(run, steps), _sizes(circuit, run)
    what, residual = "core loss in the periodic state", abs(conductance - before) / conductance
    raise NotConverged(what, residual=residual, tolerance=_SAME_LOSS, tried=f"{_PASSES} passes")


def _own_conductance(circuit: Circuit, run: Run) -> float:
    flux = run.flux[:, 0]
    return circuit.core_loss.conductance(0.5 * float(flux.max() - flux.min()), circuit.frequency)


def _as_state(columns: Floats) -> State:
    """Return the five entries of the shooting map's state, (5, m), as one to step from."""
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
    """Return what each entry of the state is measured by, (5,)."""
    return sizes_of(circuit, run.flux[:, 0], run.primary[:, 0], run.secondary[:, 0])


def sizes_of(circuit: Circuit, flux: Floats, primary: Floats, secondary: Floats) -> Floats:
    """Return what each entry of the state is measured by in a search through waves (n,), (5,)."""
    # A current that stays at nothing still needs a size: that of a thousandth of the nominal excitation.
    least = 1e-3 * float(circuit.magnetising.ampere_turns_at(circuit.nominal_peak_flux))
    swing = max(circuit.nominal_peak_flux, float(np.abs(flux).max()))
    first = max(least / circuit.primary_turns, float(np.abs(primary).max()))
    second = max(least / circuit.secondary_turns, float(np.abs(secondary).max()))
    return np.array([swing, swing, first, second, second])


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


def _nudged(
    circuit: Circuit, connection: Connection, x: Floats, size: Floats, conductance: float, steps: int
) -> tuple[Run, Floats, Floats]:
    """Return the runs from x and from x nudged, what x misses (k,) and dP/dx (k, k), over the k entries' sizes."""
    # An open secondary leaves its two entries out.
    entries = 3 if connection.load_resistance == inf else 5
    columns = x[:, None] + np.hstack([np.zeros((5, 1)), _NUDGE * np.diag(size)[:, :entries]])
    run = _follow(circuit, connection, columns, conductance, steps)
    after = _end(run)
    tangent = (after[:, 1:] - after[:, :1]) / (_NUDGE * size[:, None])
    return run, ((after[:, 0] - x) / size)[:entries], tangent[:entries]


def _shoot(circuit: Circuit, connection: Connection, x: Floats, size: Floats, conductance: float, steps: int) -> Run:
    """Return one period of the periodic state, by Newton's method from a state x (5,) near it."""

    def nudged(x: Floats, size: Floats) -> tuple[Run, Floats, Floats]:
        return _nudged(circuit, connection, x, size, conductance, steps)

    run, miss, tangent = nudged(x, size)
    entries = miss.size
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
