"""Truths of a strip of steel heated between two copper jaws: conduction along half of it by a stiff integrator.

Cells along the strip, a jaw, and the machine's windings and leads, which warm without loss. The current is that of a
source whose three numbers fit three loaded states of the circuit. A contact conducts heat as Wiedemann and Franz have
it beside its pressed faces, gives half of its heat to either side, resists by its metals' temperatures, and creeps so
that its hottest spot stays below 700 K over them. Steel after EN 1993-1-2 and the resistivity table, each a little off.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from tests.truth.electric import Loop
from tests.truth.sheet import Floats, rows
from tests.truth.shop import log_triangular

CELLS = 30
ROOM, LORENZ, SIGMA = 298.15, 2.45e-8, 5.670e-8
SOFT = 700.0
"""Hottest place of a contact's spot [K]: copper and steel give way there."""
ALPHA, COPPER, HEAT = 0.00393, 8890.0, 385.0
STEEL = 7850.0
LONGEST = 12.0


def resistivity(kelvin: Floats) -> Floats:
    """Return that of carbon steel [ohm m]."""
    table = [r for r in rows("work_metals_resistivity.csv") if r["metal"] == "carbon steel"]
    at, ohms = (np.array([float(r[key]) for r in table]) for key in ("temperature_degC", "resistivity_ohm_m"))
    return np.interp(kelvin - 273.15, at, ohms)


_AT = np.linspace(250.0, 1900.0, 1651)
_RHO = resistivity(_AT)


def heat_capacity(kelvin: Floats) -> Floats:
    """Return that of carbon steel [J/(kg K)]: EN 1993-1-2, 3.4.1.2."""
    t = np.maximum(kelvin - 273.15, 20.0)
    low = 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    middle, high = 666 + 13002 / (738 - np.minimum(t, 735.0)), 545 + 17820 / (np.maximum(t, 735.0) - 731)
    return np.where(t < 600, low, np.where(t < 735, middle, np.where(t < 900, high, 650.0)))


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """What drives the current: |E| = |R + own + jX| I, and what warms behind it.

    Parameters
    ----------
    square, twice, rest
        E^2 [V2], 2 own [ohm], own^2 + X^2 [ohm2].
    parts
        Of own: resistance seen from the secondary [ohm], heat capacity over that [J/(K ohm)] and start [K].
    """

    square: float
    twice: float
    rest: float
    parts: tuple[tuple[float, float], ...]
    start: float

    def current(self, load: float, warmer: Floats) -> float:
        """Return the r.m.s. current [A] into a load, the parts so much warmer [K]."""
        more = sum(
            ohms * ALPHA * rise / (1 + ALPHA * (self.start - 293.15))
            for (ohms, _), rise in zip(self.parts, warmer, strict=True)
        )
        own = 0.5 * self.twice + more
        reactance = self.rest - (0.5 * self.twice) ** 2
        return sqrt(self.square / ((own + load) ** 2 + reactance))


LOADS = (0.5, 2.0)
"""Resistances beside none, over open voltage by short-circuit current, that fix a source."""


def source_of(
    loop: Loop,
    true: dict[str, Any],
    reach: float,
    currents: tuple[float, float, float],
    masses: tuple[float, float, float],
) -> Source:
    """Return the source that a machine is by its currents into none and `LOADS` times reach [ohm] [A], and copper."""
    loads, size = np.array([0.0, *LOADS]) * reach, np.array(currents)
    E2, twice, rest = np.linalg.solve(np.stack([size**-2.0, -loads, -np.ones(3)], axis=1), loads**2)
    ratio = (loop.turns[1] / loop.turns[0]) ** 2
    ohms = (loop.primary * ratio, true["secondary_ohm"], true["leads_ohm"])
    parts = tuple((r, m * HEAT / r) for r, m in zip(ohms, masses, strict=True))
    return Source(square=E2, twice=twice, rest=rest, parts=parts, start=true["temperature_C"] + 273.15)


def drawn_work(rng: np.random.Generator, source: Source) -> dict[str, Any]:
    """Return a strip that a machine heats within seconds, its jaws, and what tables and contacts are off by."""
    short = source.current(0.0, np.zeros(3))
    reach = sqrt(source.square) / short
    area = 0.55 * short / float(rng.uniform(40e6, 60e6))
    thick = float(min((0.8e-3, 1.0e-3, 1.2e-3, 1.5e-3, 2.0e-3, 3.0e-3), key=lambda t: abs(area / t**2 - 14)))
    wide = max(area / thick, 3 * thick)
    length = float(np.clip(rng.uniform(0.4, 0.9) * reach * wide * thick / 0.8e-6, 12e-3, 120e-3))
    told = float(rng.uniform(0.015, 0.05)) / (0.6 * short)
    return {
        "thick_m": thick,
        "wide_m": wide,
        "length_m": length,
        "contact_told_ohm": told,
        "contact_ohm": told * log_triangular(rng, "contact closed anew"),
        "faces_W_per_m2K": log_triangular(rng, "heat through pressed faces"),
        "grip_m": float(rng.uniform(10e-3, 25e-3)),
        "jaw_J_per_K": float(rng.uniform(150, 400)),
        "sink_W_per_K": float(rng.uniform(1, 4)),
        "resistivity": float(rng.normal(1, 0.03)),
        "heat": float(rng.normal(1, 0.03)),
        "conducts": float(rng.normal(1, 0.05)),
        "emissivity": float(rng.uniform(0.7, 0.9)),
        "film_W_per_m2K": float(rng.uniform(10, 25)),
        "target_C": 650.0,
    }


def burst(source: Source, work: dict[str, Any], duration: float) -> tuple[Floats, Floats, Floats]:
    """Return times, temperatures of the strip from the middle to the jaw [K], (time, cells), and currents [A]."""
    area, side = work["wide_m"] * work["thick_m"], 2 * (work["wide_m"] + work["thick_m"])
    dx = work["length_m"] / 2 / CELLS
    faces = work["faces_W_per_m2K"] * work["wide_m"] * work["grip_m"]
    copper, steel = 1.72e-8, float(np.interp(ROOM, _AT, _RHO))
    share = steel / (steel + copper)
    mass = STEEL * area * dx * work["heat"]

    def flows(y: Floats) -> tuple[Floats, float]:
        T, jaw, warmer = y[:CELLS], float(y[CELLS]), y[CELLS + 1 :]
        rho = work["resistivity"] * np.interp(T, _AT, _RHO)
        end = float(T[-1])
        metals = share * float(rho[-1]) / steel + (1 - share) * (1 + ALPHA * (jaw - ROOM))
        contact, between = work["contact_ohm"] * metals, 0.5 * (end + jaw)
        ohms = 2 * (float(rho.sum()) * dx / area + contact)
        current = source.current(ohms, warmer)
        most = 2 * sqrt(LORENZ * max(SOFT**2 - between**2, 0.2 * SOFT**2))
        contact = min(contact, most / current)
        current = source.current(2 * (float(rho.sum()) * dx / area + contact), warmer)
        k = work["conducts"] * np.where(T < 1073.15, 54 - 0.0333 * (T - 273.15), 27.3)
        along = 0.5 * (k[1:] + k[:-1]) * area / dx * np.diff(T)
        into = current**2 * rho * dx / area
        into[:-1] += along
        into[1:] -= along
        h = work["film_W_per_m2K"] * (T - ROOM) + work["emissivity"] * SIGMA * (T**4 - ROOM**4)
        into -= h * side * dx
        through = (end - jaw) / (1 / (LORENZ * between / contact + faces) + 0.5 * dx / (float(k[-1]) * area))
        half = 0.5 * current**2 * contact
        into[-1] += half - through
        jaw_rate = (half + through - work["sink_W_per_K"] * (jaw - ROOM)) / work["jaw_J_per_K"]
        # parts warm by their own resistance at the start: it rises with them
        warm = [current**2 / each * (1 + ALPHA * w) for (_, each), w in zip(source.parts, warmer, strict=True)]
        return np.r_[into / (mass * heat_capacity(T)), jaw_rate, warm], current

    start = np.r_[np.full(CELLS + 1, ROOM), np.zeros(3)]
    times = np.linspace(0.0, duration, 241)
    found = solve_ivp(
        lambda t, y: flows(y)[0], (0.0, duration), start, method="LSODA", t_eval=times, rtol=1e-5, atol=1e-3
    )
    currents = np.array([flows(y)[1] for y in found.y.T])
    return found.t, found.y[:CELLS].T, currents


def work_truths(source: Source, work: dict[str, Any]) -> tuple[dict[str, float], float] | None:
    """Return truths at the end of a burst, and its length, told to the tenth; None where the strip stays too cold."""
    target = work["target_C"] + 273.15
    t, T, _ = burst(source, work, LONGEST)
    if T[-1, 0] < target + 30:
        return None
    past = int(np.argmax(T[:, 0] > target)) + 1
    reached = float(np.interp(target, T[:past, 0], t[:past]))
    off = max(round(1.08 * reached, 1), 0.2)
    t, T, current = burst(source, work, off)
    found = {
        "work_piece.cold_current_rms_A": float(current[0]),
        "work_piece.hot_current_rms_A": float(current[-1]),
        "work_piece.hottest_temperature_K": float(T[-1, 0]),
        "work_piece.time_to_target_s": reached,
    }
    if found["work_piece.hottest_temperature_K"] < target:
        del found["work_piece.time_to_target_s"]
    return found, off


def told_work(rng: np.random.Generator, work: dict[str, Any], off: float) -> dict[str, Any]:
    """Return what a shop tells of it."""

    def gauge(true: float, error: float, to: float) -> str:
        return f"{max(round((1e3 * true + error * float(rng.standard_normal())) / to) * to, to):.2f} mm"

    return {
        "metal": "carbon steel",
        "section": {"strip": f"{gauge(work['wide_m'], 0.05, 0.05)} x {gauge(work['thick_m'], 0.02, 0.01)}"},
        "length": gauge(work["length_m"], 0.3, 0.5),
        "surface": "oxidised",
        "target_temperature": f"{work['target_C']:.0f} degC",
        "duration": f"{off + 0.5:.1f} s",
        "switch_off": f"{off:.1f} s",
        "jaws": {
            "material": "copper",
            "contact_resistance": f"{1e3 * work['contact_told_ohm']:.3g} mohm",
            "grip": gauge(work["grip_m"], 0.5, 0.5),
            "heat_capacity": f"{work['jaw_J_per_K'] * rng.uniform(0.9, 1.1):.0f} J/K",
            "sink_conductance": f"{work['sink_W_per_K'] * rng.uniform(0.7, 1.3):.1f} W/K",
        },
    }


def copper_mass(ohms: float, area: float, rho: float) -> float:
    """Return the mass of a conductor of so much resistance, section and resistivity [kg]."""
    return COPPER * ohms * area**2 / rho
