"""Go-and-return leads with alternating current: skin and proximity effect by formula and by the field.

Of the pair per metre Z' = R' + j omega L': R' by IEC 60287 where the conductors are thin enough, else both by the
time-harmonic field of two solid conductors, on one side of the plane midway, where A = 0.
"""

from __future__ import annotations

from math import pi, sqrt

import numpy as np

from fem.arrays import Number, of_each, positive
from fem.constants import MU0
from fem.field.harmonic.model import harmonic_problem, skin_sizes
from fem.field.harmonic.paths import join
from fem.field.harmonic.solve import respond
from fem.kept import Recent
from fem.materials.metals import metal
from geometries.assembly.conductors import round_pair_section
from geometries.assembly.mesh import mesh_section
from geometries.windings.conductors import Conductor

FORMULA_BOUND = 2.8
"""Largest x for which the formula of `cable_pair_ratio` is given."""

FORMULA_PRECISE = 1.5
"""x up to which that formula's excess is within 5 % of the field's; its proximity term is double at 2.8."""

ALMOST_TOUCHING = 0.99
"""Largest diameter that is meshed, in spacings: a mesh needs some air between the conductors."""


def cable_pair_ratio(resistance_per_m: float, diameter: float, spacing: Number, frequency: float) -> Number:
    """Return the a.c. against the d.c. resistance of two round conductors, go and return, (...,) [-].

    Parameters
    ----------
    resistance_per_m
        D.c. resistance of one conductor [ohm/m], at its temperature.
    diameter
        Of the conductor [m].
    spacing
        Centre to centre, (...,) [m].
    frequency
        [Hz].

    Raises
    ------
    ValueError
        If a number is not positive, the conductors overlap, or x is above 2.8.

    Notes
    -----
    1 + y_s + y_p of IEC 60287-1-1:2006, 2.1.2 and 2.1.3, round conductors, k_s = k_p = 1, two cores:
    x^2 = 8 pi f 1e-7/R', y_s = x^4/(192 + 0.8 x^4), y_p = 2.9 y_s (diameter/spacing)^2. The standard counts a
    stranded conductor as solid; fine strands that are twisted and dull do better, so it is an upper bound for them.
    """
    positive(resistance_per_m=resistance_per_m, diameter=diameter, frequency=frequency)
    if not np.all(spacing >= diameter):
        msg = f"spacing {np.min(spacing):g} m is less than the diameter, {diameter:g} m"
        raise ValueError(msg)
    x = thickness(resistance_per_m, frequency)
    if x > FORMULA_BOUND:
        msg = f"x = {x:.3g} is above {FORMULA_BOUND}: too thick for the formula; solve the field (round_pair)"
        raise ValueError(msg)
    x4 = x**4
    own = x4 / (192 + 0.8 * x4)
    return 1 + own + 2.9 * own * (diameter / spacing) ** 2


def lead_ratio(conductor: Conductor, material: str, *, spacing: Number, frequency: float, temperature: float) -> Number:
    """Return the a.c. against the d.c. resistance of leads of round wire or cable, go and return, (...,) [-].

    Parameters
    ----------
    conductor
        Of either lead.
    material
        Its metal, by its name in the materials tables.
    spacing
        Centre to centre, (...,) [m].
    frequency
        [Hz].
    temperature
        [K].

    Raises
    ------
    ValueError
        If the conductor is a strip, or as `cable_pair_ratio` and `round_pair`.

    Notes
    -----
    By `cable_pair_ratio` as far as it is precise, beyond by the field of solid conductors of the same diameter and d.c.
    resistance: for cable an upper bound in either case.
    """
    if not conductor.circular:
        msg = f"{conductor.label}: only round leads have a formula"
        raise ValueError(msg)
    resistivity, area = float(metal(material).resistivity(temperature)), conductor.conducting_area
    if thickness(resistivity / area, frequency) <= FORMULA_PRECISE:
        return cable_pair_ratio(resistivity / area, conductor.bare_width, spacing, frequency)

    def solved(apart: float) -> float:
        radius = min(conductor.bare_width / 2, ALMOST_TOUCHING * apart / 2)
        return round_pair(radius, apart, area / (resistivity * pi * radius**2), frequency)

    each, places = np.unique(spacing, return_inverse=True)
    return of_each(np.array([solved(float(apart)) for apart in each])[places].reshape(np.shape(spacing)))


def thickness(resistance_per_m: float, frequency: float) -> float:
    """Return x, the square root of 8 pi f 1e-7 over the d.c. resistance of one conductor per metre [-]."""
    return sqrt(8e-7 * pi * frequency / resistance_per_m)


_PAIRS: Recent[float] = Recent(64)


def round_pair(radius: float, spacing: float, conductivity: float, frequency: float) -> float:
    """Return the a.c. against the d.c. resistance of two solid round conductors in free air, go and return [-].

    Parameters
    ----------
    radius
        [m].
    spacing
        Centre to centre [m].
    conductivity
        [S/m].
    frequency
        [Hz].

    Raises
    ------
    ValueError
        If the conductors touch, or are too thick for the mesh.
    """
    given = radius, spacing, conductivity, frequency
    return _PAIRS.get(given, lambda: _solved_pair(*given))


def _solved_pair(radius: float, spacing: float, conductivity: float, frequency: float) -> float:
    """Solve for the half of the pair on one side of its plane of symmetry."""
    section = round_pair_section(radius, spacing).half()
    solid = {"go": conductivity}
    mesh = mesh_section(section, sizes=skin_sizes(section, solid, frequency))
    problem = harmonic_problem(mesh, solid=solid, stranded={})
    response = respond(problem, frequency)
    impedance = join(response, {"leads": ({"go": 1.0},)}).impedance_per_m[0, 0]
    direct = 2 / (conductivity * pi * radius**2)
    return float(impedance.real) / direct


def pair_force_per_m(current: float, spacing: float) -> float:
    """Return the repulsion between go and return [N/m].

    Parameters
    ----------
    current
        At that instant [A].
    spacing
        Centre to centre [m].

    Notes
    -----
    mu0 I^2/(2 pi d): exact for filaments and for round conductors with evenly spread current, at any distance.
    """
    positive(spacing=spacing)
    return MU0 * current**2 / (2 * pi * spacing)
