"""Electric truths by brute force: circuits of two windings, their iron known by states of fields, stepped side by side.

Per turn, with F(psi) the primary's own ampere-turns, g(psi) what the secondary links of its flux, k = dg/dpsi:

    e = R_1 i_1 + L_s di_1/dt + N_1 dpsi/dt
    N_1 i_1 = F(psi) + G dpsi/dt + k N_2 i_2
    N_2 d/dt (g(psi) - lambda N_2 i_2) = R_2 i_2 + L_2 di_2/dt

lambda is the secondary's flux per turn and ampere-turn at a given psi. It derives from one coenergy, so that the ratio
of turns in the second line is the same k as in the third. Core loss is a conductance that loses the sheet's loss at the
state's own peak. Steps are implicit, a hundredth of a millisecond; periodic states come back with their sign turned
after half a period, found by Newton's method on where they start. Nothing of the package is used.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from scipy.optimize import brentq

from tests.truth.sheet import Floats

OMEGA = 100 * pi
HALF, STEPS = 0.01, 1000
POINTS = 4000
THETA = 0.505
ROUNDS = 15
"""Of Newton's method in all unknowns of a state."""
OPEN = 1e9
"""Resistance of a secondary that nothing is connected to [ohm]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Iron:
    """What fields say of a machine, at POINTS fluxes per turn of the primary from 0 to `end` [Wb], straight between.

    Ampere-turns [A], the secondary's flux per turn [Wb], core loss at 50 Hz [W], the leg's flux density [T]; leakage
    per turn squared, and what of it lies behind the secondary at a given flux [H].
    """

    end: float
    ampere_turns: Floats
    other: Floats
    loss: Floats
    leg: Floats
    leakage: float
    behind: float

    def read(self, table: Floats, psi: float) -> float:
        """Return what a table has at a flux."""
        return float(np.interp(psi, np.linspace(0.0, self.end, POINTS), table))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Loop:
    """The circuit in SI; the secondary's loop without its load.

    Beside what every machine has: the conductance of turns that are closed in themselves, over their number squared
    [S], direct volts in the mains [V], what turns of the primary that oppose the others add to its inductance [H].
    """

    volts: float
    turns: tuple[float, float]
    source: tuple[float, float]
    primary: float
    secondary: float
    lead_inductance: float
    loss_factor: float
    iron: Iron
    closed: float = 0.0
    direct: float = 0.0
    stray: float = 0.0


class Many:
    """Circuits with loads, side by side; columns of numbers. So many steps make half a period."""

    def __init__(self, loops: Sequence[Loop], loads: Sequence[float], steps: int = STEPS) -> None:
        self.loops, self.steps = loops, steps
        self.closed, self.direct = (np.array([getattr(p, name) for p in loops]) for name in ("closed", "direct"))
        self.crest = np.array([sqrt(2) * p.volts for p in loops])
        self.N1, self.N2 = (np.array([p.turns[k] for p in loops], dtype=float) for k in (0, 1))
        self.R1 = np.array([p.source[0] + p.primary for p in loops])
        self.Ls = np.array([p.source[1] + p.stray for p in loops])
        self.R2 = np.array([p.secondary + load for p, load in zip(loops, loads, strict=True)])
        self.L2 = np.array([p.lead_inductance + p.turns[1] ** 2 * p.iron.behind for p in loops])
        self.step = np.array([p.iron.end / (POINTS - 1) for p in loops])
        irons = {id(p.iron): p.iron for p in loops}
        kinds = {key: k for k, key in enumerate(irons)}
        self.kind = np.array([kinds[id(p.iron)] for p in loops])
        each = list(irons.values())
        self.F, self.g = (np.array([getattr(iron, name) for iron in each]) for name in ("ampere_turns", "other"))

    def read(self, table: Floats, psi: Floats, which: Floats) -> tuple[Floats, Floats]:
        """Return a table's odd values and slopes at psi of columns."""
        size, step = np.abs(psi), self.step[which]
        i = np.minimum(size / step, POINTS - 2).astype(np.intp)
        kind = self.kind[which]
        low = table[kind, i]
        slope = (table[kind, i + 1] - low) / step
        return np.copysign(low + slope * (size - i * step), psi), slope

    def conductance(self, peak: Floats) -> Floats:
        """Return G [S] of columns whose psi peaks at so much [Wb]."""
        losses = [p.loss_factor * p.iron.read(p.iron.loss, float(x)) for p, x in zip(self.loops, peak, strict=True)]
        return 2 * np.array(losses) / (OMEGA * peak) ** 2 + self.closed

    def march(self, which: Floats, G: Floats, start: Floats, steps: int, angle: Floats | float = 0.0) -> Floats:
        """Return the states psi, i_1, i_2 of columns from their start (3, n) on, (steps + 1, 3, n)."""
        h = HALF / self.steps
        direct = self.direct[which]
        N1, N2, R1, R2 = self.N1[which], self.N2[which], self.R1[which], self.R2[which]
        a1, a2, G = self.Ls[which] / (THETA * h), self.L2[which] / (THETA * h), G[which]
        found = np.empty((steps + 1, *start.shape))
        found[0] = start
        psi, i1, i2 = start
        F, _ = self.read(self.F, psi, which)
        rate = np.zeros_like(psi)
        for n in range(steps):
            e = self.crest[which] * np.sin(OMEGA * (n + THETA) * h + angle) + direct
            _, k = self.read(self.g, psi + 0.5 * h * rate, which)
            falls = N1**2 / (a1 + R1) + (k * N2) ** 2 / (a2 + R2) + G
            drive = N1 * (e + a1 * i1) / (a1 + R1) - k * N2 * a2 * i2 / (a2 + R2) - (1 - THETA) * F
            new = psi + h * rate
            for _ in range(30):
                F_new, slope = self.read(self.F, new, which)
                move = (drive - falls * (new - psi) / h - THETA * F_new) / (falls / h + THETA * slope)
                new = new + move
                if np.all(np.abs(move) < 1e-9 * self.step[which] * POINTS):
                    break
            rate = (new - psi) / h
            m1, m2 = (e - N1 * rate + a1 * i1) / (a1 + R1), (N2 * k * rate + a2 * i2) / (a2 + R2)
            i1, i2 = i1 + (m1 - i1) / THETA, i2 + (m2 - i2) / THETA
            psi = new
            F, _ = self.read(self.F, psi, which)
            found[n + 1] = psi, i1, i2
        return found

    def periodic(self, *, whole: bool = False) -> tuple[Floats, Floats]:
        """Return the states of all columns over half a period, (steps + 1, 3, n), and their G (n,).

        Over a whole period, (2 steps + 1, 3, n), where its halves differ: there are direct volts. Where currents follow
        a flux so closely that Newton's method goes to and fro in them, it seeks the flux alone and takes currents as
        they come: at the first moment they are within two thousandths of their largest.
        """
        n, steps, back = self.N1.size, self.steps * (2 if whole else 1), -1.0 if whole else 1.0
        every = np.arange(n)
        peak = self.crest / OMEGA / self.N1
        if whole:  # from the state without direct volts: others, far off, may come back too where windings part
            direct, self.direct = self.direct, np.zeros(n)
            run, _ = self.periodic()
            self.direct, x = direct, run[0]
        else:
            x = np.array([-peak, -self.read(self.F, peak, every)[0] / self.N1, np.zeros(n)])
            x = self.march(every, self.conductance(peak), x, 2 * self.steps)[-1]
        for turn in range(60):
            G = self.conductance(peak)
            size = np.array([peak, self.crest / np.hypot(self.R1, 1.0), np.full(n, 1.0)])
            size = np.maximum(np.abs(x), 1e-3 * size)
            start = np.concatenate([x] + [x + 1e-3 * size * np.eye(3)[j][:, None] for j in range(3)], axis=1)
            run = self.march(np.tile(every, 4), G, start, steps)
            last = run[-1].reshape(3, 4, n)
            miss = last[:, 0] + back * x
            J = (last[:, 1:] - last[:, :1]) / (1e-3 * size)[None]
            J = np.moveaxis(J, 2, 0) + back * np.eye(3)
            largest = np.abs(run[:, :, :n]).max(axis=0)
            before, peak = peak, 0.5 * np.ptp(run[:, 0, :n], axis=0) if whole else largest[0]
            move = -np.linalg.solve(J, miss.T[..., None])[..., 0].T
            if turn >= ROUNDS:
                move = np.array([-miss[0] / J[:, 0, 0], *(-miss[1:] * back)])
            # a flux that is off goes on nearly as it is: how far it has to move tells, not by how much it misses
            left = np.array([move[0] if whole else miss[0], miss[1], miss[2]])
            loose = 1.0 if turn < ROUNDS else 20.0
            close = np.array([[1e-3 if whole else 1e-4], [1e-4 * loose], [1e-4 * loose]])
            if np.all(np.abs(left) < close * largest + 1e-8) and np.all(np.abs(peak / before - 1) < 2e-3):
                return run[:, :, :n], G
            x = x + move
        msg = f"no periodic state, left {np.abs(miss / largest).max(axis=1)}"
        raise ArithmeticError(msg)


TIMES = np.linspace(0.0, HALF, STEPS + 1)


def mean(values: Floats) -> Floats:
    """Return means over half a period of columns (STEPS + 1, n)."""
    return np.asarray(np.trapezoid(values, TIMES, axis=0) / HALF)


def rms(values: Floats) -> Floats:
    """Return r.m.s. values of columns."""
    return np.sqrt(mean(values**2))


def open_states(loops: Sequence[Loop]) -> list[dict[str, float]]:
    """Return what is there with nothing connected; the peak flux per turn [Wb] as `peak`."""
    many = Many(loops, [OPEN] * len(loops))
    run, G = many.periodic()
    psi, current = run[:, 0], run[:, 1]
    volt = np.gradient(psi, TIMES, axis=0)
    k = many.read(many.g, psi, np.arange(len(loops)))[1]
    found = []
    for n, loop in enumerate(loops):
        peak = float(np.abs(psi[:, n]).max())
        found.append(
            {
                "saturation.peak_flux_density_T": loop.iron.read(loop.iron.leg, peak),
                "saturation.knee_voltage_V": knee(loop),
                "idle.current_rms_A": float(rms(current)[n]),
                "idle.current_peak_A": float(np.abs(current[:, n]).max()),
                "idle.core_loss_W": float(G[n] * mean(volt**2)[n]),
                "open_circuit.secondary_voltage_rms_V": loop.turns[1] * float(rms(k * volt)[n]),
                "leakage.permeance_H": loop.iron.leakage,
                "leakage.inductance_secondary_H": loop.turns[1] ** 2 * loop.iron.leakage + loop.lead_inductance,
                "peak": peak,
            }
        )
    return found


def loaded_states(loops: Sequence[Loop], loads: Sequence[float]) -> list[dict[str, float]]:
    """Return currents [A] and powers [W] with resistances across the lead ends."""
    many = Many(loops, loads)
    run, _ = many.periodic()
    e = np.sin(OMEGA * TIMES)[:, None] * many.crest
    first, second = rms(run[:, 1]), rms(run[:, 2])
    taken = mean(e * run[:, 1]) - np.array([p.source[0] for p in loops]) * first**2
    return [
        {"secondary": float(s), "primary": float(f), "input": float(t), "load": float(load * s**2)}
        for s, f, t, load in zip(second, first, taken, loads, strict=True)
    ]


def knee(loop: Loop) -> float:
    """Return the least voltage [V] from which a tenth more makes the r.m.s. exciting current rise by a half."""
    angle = np.linspace(0.0, pi / 2, 401)
    at = np.linspace(0.0, loop.iron.end, POINTS)

    def exciting(peak: float) -> float:
        F = np.interp(peak * np.sin(angle), at, loop.iron.ampere_turns)
        return sqrt(float(np.trapezoid(F**2, angle)))

    def over(peak: float) -> float:
        return exciting(1.1 * peak) / exciting(peak) - 1.5

    scan = np.linspace(0.2, 1.3, 56) * 0.5 * loop.iron.end
    first = next(i for i, p in enumerate(scan) if over(float(p)) > 0)
    return float(brentq(over, scan[first - 1], scan[first])) * OMEGA / sqrt(2) * loop.turns[0]


def first_peaks(loops: Sequence[Loop], load: float, remanent: Sequence[float], row: int) -> list[float]:
    """Return the highest first peaks [A] of i_1 (row 1) or i_2 (row 2) over all moments of closing.

    Nearly where the voltage is zero, whichever way it goes then: a fan of angles, a parabola through the highest three.
    """
    many, n = Many(loops, [load] * len(loops)), len(loops)
    near = np.linspace(-0.9, 0.9, 13)
    angles = np.concatenate([near, pi + near]) if row == 2 else near
    psi = np.array(remanent)
    every = np.arange(n)
    start = np.array([psi, many.read(many.F, psi, every)[0] / many.N1, np.zeros(n)])
    which = np.tile(every, angles.size)
    G = many.conductance(many.crest / OMEGA / many.N1)
    run = many.march(which, G, np.tile(start, angles.size), 2 * STEPS, np.repeat(angles, n))
    sizes = np.abs(run[:, row]).max(axis=0).reshape(angles.size, n)
    found = []
    for each in sizes.T:
        k = int(np.argmax(each))
        low = (k // near.size) * near.size
        a, b, c = each[np.clip([k - 1, k, k + 1], low, low + near.size - 1)]
        bend = a - 2 * b + c
        found.append(float(b - (a - c) ** 2 / 8 / bend) if bend < 0 else float(b))
    return found


def electric(
    loops: Sequence[Loop], *, loads: Sequence[float | None], remanence: Sequence[float]
) -> list[dict[str, float]]:
    """Return all electric truths of machines by the keys of an estimate; remanences are shares of idle peaks.

    The primary's first peak with the lead ends joined saturates under both windings: no states of that are there.
    """
    found = open_states(loops)
    remanent = [share * f.pop("peak") for share, f in zip(remanence, found, strict=True)]
    for f, short in zip(found, loaded_states(loops, [0.0] * len(loops)), strict=True):
        f["short_circuit.secondary_current_rms_A"] = short["secondary"]
        f["short_circuit.primary_current_rms_A"] = short["primary"]
        f["short_circuit.input_power_W"] = short["input"]
    for key, load, row in (
        ("short_circuit.secondary_first_peak_A", 0.0, 2),
        ("switch_on.primary_first_peak_A", OPEN, 1),
    ):
        for f, peak in zip(found, first_peaks(loops, load, remanent, row), strict=True):
            f[key] = peak
    given = [(k, load) for k, load in enumerate(loads) if load is not None]
    for (k, _), state in zip(
        given, loaded_states([loops[k] for k, _ in given], [load for _, load in given]) if given else [], strict=True
    ):
        found[k]["load.current_rms_A"] = state["secondary"]
        found[k]["load.primary_current_rms_A"] = state["primary"]
        found[k]["load.power_W"] = state["load"]
        found[k]["load.input_power_W"] = state["input"]
    return found
