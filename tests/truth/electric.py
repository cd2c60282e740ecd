"""Electric truths by brute force: a circuit of two windings, its iron known by states of fields, stepped in time.

Per turn, with F(psi) the primary's own ampere-turns, g(psi) what the secondary links of its flux, k = dg/dpsi:

    e = R_1 i_1 + L_s di_1/dt + N_1 dpsi/dt
    N_1 i_1 = F(psi) + G dpsi/dt + k N_2 i_2
    N_2 d/dt (g(psi) - lambda N_2 i_2) = R_2 i_2 + L_2 di_2/dt

lambda is the secondary's flux per turn and ampere-turn at a given psi. It derives from one coenergy, so that the ratio
of turns in the second line is the same k as in the third. Core loss is a conductance that loses the sheet's loss at the
state's own peak. Nothing of the package is used.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import pi, sin, sqrt
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize_scalar

from tests.truth.sheet import Floats

OMEGA = 100 * pi
HALF = 0.01
STEPS = 1000


class Curve:
    """An odd function of the flux by cubics on equal intervals, straight beyond them; read one number at a time."""

    def __init__(self, step: float, values: Floats) -> None:
        spline = CubicSpline(step * np.arange(values.size), values)
        self.step, self.last = step, values.size - 2
        self.pieces = [tuple(map(float, row)) for row in spline.c[::-1].T]

    def __call__(self, psi: float) -> tuple[float, float]:
        """Return value and slope."""
        at = abs(psi)
        i = int(at / self.step)
        if i > self.last:
            i, end = self.last, self.step
        else:
            end = at - i * self.step
        a0, a1, a2, a3 = self.pieces[i]
        slope = (3 * a3 * end + 2 * a2) * end + a1
        value = ((a3 * end + a2) * end + a1) * end + a0 + slope * (at - i * self.step - end)
        return (value if psi >= 0 else -value), slope


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Iron:
    """What fields say of a machine, against the primary's flux per turn [Wb] up to `end`.

    Ampere-turns [A], the secondary's flux per turn [Wb], core loss at 50 Hz [W], the leg's flux density [T]; leakage
    per turn squared, and what of it lies behind the secondary at a given flux [H].
    """

    end: float
    ampere_turns: Curve
    other: Curve
    loss: Curve
    leg: Curve
    leakage: float
    behind: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Loop:
    """The circuit in SI; the secondary's loop without its load."""

    volts: float
    turns: tuple[float, float]
    source: tuple[float, float]
    primary: float
    secondary: float
    lead_inductance: float
    loss_factor: float
    iron: Iron

    @property
    def first(self) -> float:
        """Resistance of the primary's loop [ohm]."""
        return self.source[0] + self.primary


def conductance(loop: Loop, peak: float) -> float:
    """Return G [S] where psi peaks at so much [Wb]."""
    loss, _ = loop.iron.loss(peak)
    return 2 * loop.loss_factor * loss / (OMEGA * peak) ** 2


def rates(loop: Loop, G: float, load: float | None, angle: float = 0.0) -> Callable[[float, Floats], list[float]]:
    """Return d/dt of psi, i_1 and, with a load, i_2."""
    crest, (N1, N2), (_, Ls), iron = sqrt(2) * loop.volts, loop.turns, loop.source, loop.iron
    R1, L2 = loop.first, loop.lead_inductance + N2 * N2 * iron.behind
    R2 = 0.0 if load is None else loop.secondary + load

    def rate(t: float, x: Floats) -> list[float]:
        psi, i1 = float(x[0]), float(x[1])
        F, _ = iron.ampere_turns(psi)
        _, k = iron.other(psi)
        against = 0.0 if load is None else k * N2 * float(x[2])
        volt = (N1 * i1 - F - against) / G
        first = (crest * sin(OMEGA * t + angle) - R1 * i1 - N1 * volt) / Ls
        if load is None:
            return [volt, first]
        return [volt, first, (N2 * k * volt - R2 * float(x[2])) / L2]

    return rate


def run(
    loop: Loop, G: float, load: float | None, start: Floats, until: float, angle: float = 0.0, rtol: float = 1e-7
) -> tuple[Any, Any]:
    """Return times and states over a while."""
    scale = np.array([1e-3, 1.0, 100.0])[: start.size]
    t = np.linspace(0.0, until, round(until / HALF * STEPS) + 1)
    found = solve_ivp(
        rates(loop, G, load, angle), (0.0, until), start, method="LSODA", t_eval=t, rtol=rtol, atol=0.1 * rtol * scale
    )
    return t, found.y


def periodic(loop: Loop, load: float | None) -> tuple[Floats, Floats, float]:
    """Return times and states over half a period of the state that comes back with its sign turned, and G."""
    N1 = loop.turns[0]
    psi = sqrt(2) * loop.volts / OMEGA / N1
    x = np.array([-psi, -loop.iron.ampere_turns(psi)[0] / N1] + [0.0] * (load is not None))
    if load is not None:  # settle what decays, which is the leakage's
        x = run(loop, conductance(loop, psi), load, x, 0.04)[1][:, -1]
    peak = psi
    for _ in range(3):
        G = conductance(loop, peak)
        for _ in range(12):
            t, y = run(loop, G, load, x, HALF)
            miss = y[:, -1] + x
            size = np.abs(y).max(axis=1)
            if np.all(np.abs(miss) < 1e-5 * size):
                break
            J = np.eye(x.size)
            for j in range(x.size):
                step = np.zeros(x.size)
                step[j] = 1e-4 * size[j]
                J[:, j] += (run(loop, G, load, x + step, HALF)[1][:, -1] - y[:, -1]) / step[j]
            x = x - np.linalg.solve(J, miss)
        else:
            msg = f"no periodic state, {miss / size} left"
            raise ArithmeticError(msg)
        before, peak = peak, float(np.abs(y[0]).max())
        if abs(peak / before - 1) < 1e-4:
            break
    return t, y, G


def mean(t: Floats, values: Floats) -> float:
    """Return the mean over a time."""
    return float(np.trapezoid(values, t) / (t[-1] - t[0]))


def rms(t: Floats, values: Floats) -> float:
    """Return the r.m.s. value over a time."""
    return sqrt(mean(t, values**2))


def open_state(loop: Loop) -> dict[str, float]:
    """Return what is there with nothing connected."""
    t, y, G = periodic(loop, None)
    psi, current = y
    F = np.array([loop.iron.ampere_turns(p)[0] for p in psi])
    volt = (loop.turns[0] * current - F) / G
    k = np.array([loop.iron.other(p)[1] for p in psi])
    peak = float(np.abs(psi).max())
    return {
        "saturation.peak_flux_density_T": loop.iron.leg(peak)[0],
        "idle.current_rms_A": rms(t, current),
        "idle.current_peak_A": float(np.abs(current).max()),
        "idle.core_loss_W": G * mean(t, volt**2),
        "open_circuit.secondary_voltage_rms_V": loop.turns[1] * rms(t, k * volt),
        "peak_flux_Wb": peak,
    }


def loaded_state(loop: Loop, load: float) -> dict[str, float]:
    """Return currents [A] and powers [W] with a resistance across the lead ends."""
    t, y, _ = periodic(loop, load)
    e = sqrt(2) * loop.volts * np.sin(OMEGA * t)
    taken = mean(t, e * y[1]) - loop.source[0] * rms(t, y[1]) ** 2
    return {"secondary": rms(t, y[2]), "primary": rms(t, y[1]), "input": taken, "load": load * rms(t, y[2]) ** 2}


def knee(loop: Loop) -> float:
    """Return the least voltage [V] from which a tenth more makes the r.m.s. exciting current rise by a half."""
    angle = np.linspace(0.0, pi / 2, 1001)

    def exciting(peak: float) -> float:
        F = np.array([loop.iron.ampere_turns(peak * s)[0] for s in np.sin(angle)])
        return rms(angle, F)

    def over(peak: float) -> float:
        return exciting(1.1 * peak) / exciting(peak) - 1.5

    scan = np.linspace(0.2, 1.3, 56) * 0.5 * loop.iron.end
    above = [over(p) for p in scan]
    first = next(i for i, v in enumerate(above) if v > 0)
    return float(brentq(over, scan[first - 1], scan[first])) * OMEGA / sqrt(2) * loop.turns[0]


def first_peak(loop: Loop, load: float | None, remanent: float, row: int) -> float:
    """Return the highest first peak [A] of i_1 (row 1) or i_2 (row 2) over all moments of closing."""
    G = conductance(loop, sqrt(2) * loop.volts / OMEGA / loop.turns[0])
    start = np.array([remanent, loop.iron.ampere_turns(remanent)[0] / loop.turns[0]])
    start = start if load is None else np.r_[start, 0.0]

    def size(angle: float, rtol: float = 1e-5) -> float:
        return float(np.abs(run(loop, G, load, start, 0.02, angle, rtol)[1][row]).max())

    # nearly where the voltage is zero, whichever way it goes then
    angles = np.concatenate([np.arange(-2, 3) * pi / 8, pi + np.arange(-1, 2) * pi / 8 if row == 2 else []])
    best = float(max(angles, key=lambda a: size(a, 1e-4)))
    found = minimize_scalar(
        lambda a: -size(a), bounds=(best - pi / 8, best + pi / 8), method="bounded", options={"xatol": 0.03}
    )
    return -float(found.fun)


def electric(loop: Loop, *, load: float | None, remanence: float) -> dict[str, float]:
    """Return all electric truths by the keys of an estimate; remanence is a share of the idle peak."""
    found = open_state(loop)
    remanent = remanence * found.pop("peak_flux_Wb")
    found["saturation.knee_voltage_V"] = knee(loop)
    found["leakage.permeance_H"] = loop.iron.leakage
    found["leakage.inductance_secondary_H"] = loop.turns[1] ** 2 * loop.iron.leakage + loop.lead_inductance
    short = loaded_state(loop, 0.0)
    found["short_circuit.secondary_current_rms_A"] = short["secondary"]
    found["short_circuit.primary_current_rms_A"] = short["primary"]
    found["short_circuit.input_power_W"] = short["input"]
    found["short_circuit.secondary_first_peak_A"] = first_peak(loop, 0.0, remanent, 2)
    # the primary's first peak with the lead ends joined saturates under both windings: no states of that are there
    found["switch_on.primary_first_peak_A"] = first_peak(loop, None, remanent, 1)
    if load is not None:
        state = loaded_state(loop, load)
        found["load.current_rms_A"] = state["secondary"]
        found["load.primary_current_rms_A"] = state["primary"]
        found["load.power_W"] = state["load"]
        found["load.input_power_W"] = state["input"]
    return found
