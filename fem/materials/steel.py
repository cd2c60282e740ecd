"""Sheet grades that ship with the tool: magnetisation curve, loss and what both come from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.materials.bh import BHCurve
from fem.materials.loss import CoreLoss
from geometries.described.faults import not_known
from geometries.described.tables import table_rows

FIT_END = 1.9
"""Flux density [T] up to which a fitted curve is used: it has no saturation limit of its own."""


class UnknownSteel(ValueError):
    """There is no steel of that name."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Steel:
    """Hold what is known of a sheet grade.

    Parameters
    ----------
    name
        Steel name as in EN 10027-1, e.g. "M400-50A".
    thickness
        Of the sheet [m].
    density
        Conventional density [kg/m^3].
    conductivity
        [S/m]; None if unknown, and then the loss is split with an assumed one.
    curve
        Magnetisation curve of the sheet itself, without stacking; its source says where it comes from.
    curve_of
        Grade whose curve it is, where none of this grade was at hand; None where it is its own.
    loss
        Specific loss on the guaranteed side: typical sheet lies below.
    source
        Where loss, density and conductivity come from, and what is assumed.

    Notes
    -----
    A borrowed curve keeps the other grade's field strengths, its polarisation goes with the saturation: J = J_other(H)
    J_s/J_s,other. Loss and density are the grade's own.
    """

    name: str
    thickness: float
    density: float
    conductivity: float | None
    curve: BHCurve
    curve_of: str | None
    loss: CoreLoss
    source: str


def steel_names() -> tuple[str, ...]:
    """Return the names of the grades, from low to high guaranteed loss."""
    return tuple(_grades())


@cache
def steel(name: str) -> Steel:
    """Return a grade by its name.

    Raises
    ------
    UnknownSteel
        If there is none of that name; the message lists the names and the nearest.
    """
    grades = _grades()
    if name not in grades:
        raise UnknownSteel(not_known(name, grades, "steel"))
    row = grades[name]
    thickness, density = float(row["thickness_m"]), float(row["density_kg_per_m3"])
    conductivity = float(row["conductivity_S_per_m"]) if row["conductivity_S_per_m"] else None
    curve_of, saturation = row["curve_of"] or None, float(row["saturation_polarisation_T"])
    if curve_of is None:
        H, B, source = _points(name)
    else:
        other = steel(curve_of).curve
        ratio = saturation / float(grades[curve_of]["saturation_polarisation_T"])
        H, B = other.H, ratio * (other.B - MU0 * other.H) + MU0 * other.H
        source = f"that of {curve_of}, polarisation as saturation: no curve of this grade was at hand"
    return Steel(
        name=name,
        thickness=thickness,
        density=density,
        conductivity=conductivity,
        curve=BHCurve(name=name, H=H, B=B, saturation_polarisation=saturation, source=source),
        curve_of=curve_of,
        loss=CoreLoss.of_guarantee(
            loss_1_0=float(row["loss_1_0_T_50_Hz_W_per_kg"]),
            loss_1_5=float(row["loss_1_5_T_50_Hz_W_per_kg"]),
            thickness=thickness,
            density=density,
            conductivity=conductivity,
        ),
        source=row["source"],
    )


def fitted_field(
    B: Floats, *, initial_mu_r: float, B_greatest: float, rise: float, levelling: float, knee: float
) -> Floats:
    """Return the field strength [A/m] of a curve fitted as permeability over flux density.

    Parameters
    ----------
    B
        Flux density [T], any shape.
    initial_mu_r
        Relative permeability at B = 0 [-].
    B_greatest
        Flux density near which the permeability is greatest [T]; b = |B|/B_greatest.
    rise, levelling
        How fast the permeability rises at first, and how soon that levels off [-].
    knee
        Power of b with which it falls beyond [-].

    Notes
    -----
    H = B/(MU0 mu_r), mu_r = 1 + (initial_mu_r - 1 + rise b)/(1 + levelling b + b^knee): T. Roschke, Entwurf geregelter
    elektromagnetischer Antriebe für Luftschütze, VDI Fortschritt-Berichte 21/293, 2000.
    """
    b = np.abs(B) / B_greatest
    mu_r = 1 + (initial_mu_r - 1 + rise * b) / (1 + levelling * b + b**knee)
    return B / (MU0 * mu_r)


@cache
def _grades() -> dict[str, dict[str, str]]:
    return {row["grade"]: row for row in table_rows(__package__, "steels.csv")}


def _points(name: str) -> tuple[Floats, Floats, str]:
    """Return field strength [A/m] and flux density [T] of a grade, and their source."""
    for row in table_rows(__package__, "steel_fits.csv"):
        if row["grade"] == name:
            # Fine at the start, where the permeability rises, then 20 mT: the fitted knee is some 100 mT wide.
            B = np.concatenate(
                ([0.0, 0.005, 0.01, 0.02], np.linspace(0.04, FIT_END, round((FIT_END - 0.04) / 0.02) + 1))
            )
            H = fitted_field(
                B,
                initial_mu_r=float(row["initial_mu_r"]),
                B_greatest=float(row["B_greatest_T"]),
                rise=float(row["rise"]),
                levelling=float(row["levelling"]),
                knee=float(row["knee"]),
            )
            return H, B, row["source"]
    rows = [row for row in table_rows(__package__, "steel_points.csv") if row["grade"] == name]
    H = np.array([float(row["H_A_per_m"]) for row in rows])
    B = np.array([float(row["B_T"]) for row in rows])
    return H, B, "; ".join(dict.fromkeys(row["source"] for row in rows))
