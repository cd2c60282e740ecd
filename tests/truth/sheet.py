"""Sheet by the tables' figures alone: magnetisation, stacked and scaled, as laws for tetrahedra, and core loss."""

import csv
from dataclasses import dataclass
from math import log, pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from tests.support.open_laws import Law

Floats = NDArray[np.float64]
MU0 = 4e-7 * pi
TABLES = Path(__file__).parents[2] / "fem" / "materials"
STEP, END = 1e-3, 4.0
"""Intervals of laws and where they end [T]."""


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table, without its comments."""
    lines = (TABLES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sheet:
    """Polarisation J(H) of a grade through its rows, and the specific loss k_h B^a + k_e B^2 at 50 Hz.

    Beyond the last row J approaches saturation as 1/H^2.
    """

    grade: str
    H: Floats
    J: Floats
    saturation: float
    density: float
    hysteresis: float
    exponent: float
    eddy: float

    @classmethod
    def of(cls, grade: str) -> "Sheet":
        """Read a grade that has a curve of its own."""
        row = next(r for r in rows("steels.csv") if r["grade"] == grade)
        fits = [r for r in rows("steel_fits.csv") if r["grade"] == grade]
        if fits:
            fit = {key: float(value) for key, value in fits[0].items() if key not in ("grade", "source")}
            B = np.r_[0.0, 0.005, 0.01, 0.02, np.arange(0.04, 1.9001, 0.02)]
            b = B / fit["B_greatest_T"]
            mu = 1 + (fit["initial_mu_r"] - 1 + fit["rise"] * b) / (1 + fit["levelling"] * b + b ** fit["knee"])
            H = B / MU0 / mu
        else:
            points = [r for r in rows("steel_points.csv") if r["grade"] == grade]
            H, B = (np.array([float(r[key]) for r in points]) for key in ("H_A_per_m", "B_T"))
        density, thickness = float(row["density_kg_per_m3"]), float(row["thickness_m"])
        conductivity = float(row["conductivity_S_per_m"] or 1 / 45e-8)
        eddy = pi**2 * conductivity * thickness**2 / (6 * density) * 50.0**2
        low, high = (float(row[f"loss_{b}_T_50_Hz_W_per_kg"]) for b in ("1_0", "1_5"))
        exponent = log((high - 2.25 * eddy) / (low - eddy)) / log(1.5)
        return cls(
            grade=grade,
            H=H,
            J=B - MU0 * H,
            saturation=float(row["saturation_polarisation_T"]),
            density=density,
            hysteresis=low - eddy,
            exponent=exponent,
            eddy=eddy,
        )

    def polarisation(self, H: Floats) -> Floats:
        """Return J [T] at H >= 0 [A/m]."""
        missing = self.saturation - self.J[-2:]
        ratio = float(np.sqrt(missing[0] / missing[1]))
        reach = (self.H[-1] - self.H[-2]) * ratio / (ratio - 1)
        within = PchipInterpolator(self.H, self.J)(np.minimum(H, self.H[-1]))
        return np.where(
            self.H[-1] >= H, within, self.saturation - missing[1] * (reach / (reach + H - self.H[-1] + 1e-12)) ** 2
        )

    def stacked(self, share: float) -> Law:
        """Return the law of a stack of which a share is iron, the rest air beside it."""
        H = np.r_[0.0, np.geomspace(0.05, 4e6, 6000)]
        H = np.unique(np.r_[H, self.H])
        b = share * self.polarisation(H) + MU0 * H
        at = STEP * np.arange(round(END / STEP) + 1)
        inverse = PchipInterpolator(b, H)
        values, slopes = inverse(at), np.maximum(inverse(at, 1), 1e-3) * STEP
        chord = np.diff(values)
        slopes = np.minimum(slopes, 2.9 * np.minimum(np.r_[chord, chord[-1]], np.r_[chord[0], chord]))
        a2 = np.r_[3 * chord - 2 * slopes[:-1] - slopes[1:], 0.0]
        a3 = np.r_[slopes[:-1] + slopes[1:] - 2 * chord, 0.0]
        return Law(step=STEP, coefficients=np.array([values, slopes, a2, a3]))


def linear(mu_r: float) -> Law:
    """Return the law of linear iron."""
    at = STEP * np.arange(round(END / STEP) + 1) / MU0 / mu_r
    slope = np.full(at.size, STEP / MU0 / mu_r)
    return Law(step=STEP, coefficients=np.array([at, slope, 0 * at, 0 * at]))


def field_of(law: Law) -> CubicHermiteSpline:
    """Return H(b) of a law [A/m], [T]."""
    at = law.step * np.arange(law.coefficients.shape[1])
    return CubicHermiteSpline(at, law.coefficients[0], law.coefficients[1] / law.step)
