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
        Magnetisation curve of the sheet itself, without stacking.
    loss
        Specific loss on the guaranteed side: typical sheet lies below.
    source
        Where the figures come from, and what is assumed.
    """

    name: str
    thickness: float
    density: float
    conductivity: float | None
    curve: BHCurve
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
    H, B, source = _points(name)
    return Steel(
        name=name,
        thickness=thickness,
        density=density,
        conductivity=conductivity,
        curve=BHCurve(
            name=name, H=H, B=B, saturation_polarisation=float(row["saturation_polarisation_T"]), source=source
        ),
        loss=CoreLoss.of_guarantee(
            loss_1_0=float(row["loss_1_0_T_50_Hz_W_per_kg"]),
            loss_1_5=float(row["loss_1_5_T_50_Hz_W_per_kg"]),
            thickness=thickness,
            density=density,
            conductivity=conductivity,
        ),
        source=row["source"],
    )


def fitted_field(B: Floats, *, mu_i: float, B_mumax: float, c_a: float, c_b: float, n: float) -> Floats:
    """Return the field strength [A/m] of a curve fitted as permeability over flux density B [T], any shape.

    Notes
    -----
    mu_r = 1 + (mu_i - 1 + c_a b)/(1 + c_b b + b^n) with b = |B|/B_mumax: T. Roschke, Entwurf geregelter
    elektromagnetischer Antriebe für Luftschütze, VDI Fortschritt-Berichte 21/293, 2000.
    """
    b = np.abs(B) / B_mumax
    mu_r = 1 + (mu_i - 1 + c_a * b) / (1 + c_b * b + b**n)
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
                mu_i=float(row["mu_i"]),
                B_mumax=float(row["B_mumax_T"]),
                c_a=float(row["c_a"]),
                c_b=float(row["c_b"]),
                n=float(row["n"]),
            )
            return H, B, row["source"]
    rows = [row for row in table_rows(__package__, "steel_points.csv") if row["grade"] == name]
    H = np.array([float(row["H_A_per_m"]) for row in rows])
    B = np.array([float(row["B_T"]) for row in rows])
    return H, B, "; ".join(dict.fromkeys(row["source"] for row in rows))
