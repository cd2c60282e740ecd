"""Skin and proximity effect: time-harmonic fields and the tool's own formulas against tables."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np

from fem.characteristics.resistance.wire import round_wire_ratio
from fem.constants import MU0
from fem.field.harmonic.model import harmonic_problem, skin_sizes
from fem.field.harmonic.problem import HarmonicResponse, skin_depth
from fem.field.harmonic.solve import respond
from fem.field.static.space import Where
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role, Section, Shape
from geometries.windings.wire import COPPER_CONDUCTIVITY as COPPER

FREQUENCY = 50.0
WIDTH, GAP = 5e-3, 1e-3
"""Width of the slot and distance between its bars [m]; neither matters."""


def depths() -> dict[str, float]:
    """Compute the skin depth of copper [mm]."""
    return {f"skin_depth_{f}": skin_depth(COPPER, f) * 1e3 for f in (50, 60)}


def round_wires() -> dict[str, float]:
    """Compute the ratio of a.c. to d.c. resistance of an isolated round wire, by the field and by the formula."""
    found = {}
    for x in (1, 2, 3, 4, 5):
        radius = x / sqrt(2) * skin_depth(COPPER, FREQUENCY)
        wire = Region(
            name="wire", role=Role.CONDUCTOR, winding="wire", sense=1, shape=Shape.DISC,
            x0=-radius, y0=-radius, x1=radius, y1=radius,
        )  # fmt: skip
        far = 4 * radius
        impedance = _response(Section(regions=(wire,), outline=(-far, -far, far, far))).impedance_per_m[0, 0]
        found[f"round_wire_ac_{x}"] = float(impedance.real) * COPPER * pi * radius**2
        found[f"round_wire_formula_{x}"] = round_wire_ratio(radius, COPPER, FREQUENCY)
    found["round_wire_neher"] = round_wire_ratio(2.14 / sqrt(2) * skin_depth(COPPER, 50.0), COPPER, 50.0) - 1
    return found


def bars_in_a_slot() -> dict[str, float]:
    """Compute a.c. ratios of one bar that fills a slot, and of layers of one skin depth that carry equal currents."""
    found = {}
    depth = skin_depth(COPPER, FREQUENCY)
    for xi in (1, 2):
        impedance = _slot(1, xi * depth).impedance_per_m[0, 0]
        direct = MU0 * xi * depth / (3 * WIDTH)
        found[f"slot_bar_ac_{xi}"] = float(impedance.real) * COPPER * xi * depth * WIDTH
        found[f"slot_bar_inductance_{xi}"] = float(impedance.imag) / (2 * pi * FREQUENCY) / direct
    for layers in (2, 3, 4):
        power = _slot(layers, depth).at(np.ones(layers, dtype=np.complex128)).complex_power_per_m
        found[f"layers_ac_{layers}"] = power.real / layers * COPPER * depth * WIDTH
    return found


def _slot(layers: int, height: float) -> HarmonicResponse:
    pitch = height + GAP
    bars = tuple(
        Region(
            name=f"bar {k}", role=Role.CONDUCTOR, winding=f"bar {k}", sense=1,
            x0=0.0, y0=k * pitch, x1=WIDTH, y1=k * pitch + height,
        )
        for k in range(layers)
    )  # fmt: skip
    mouth = layers * pitch - GAP
    return _response(Section(regions=bars, outline=(0.0, 0.0, WIDTH, mouth)), fixed=lambda m: m[1] > mouth - 1e-9)


def _response(section: Section, fixed: Where | None = None) -> HarmonicResponse:
    solid = {r.name: COPPER for r in section.regions}
    mesh = mesh_section(section, sizes=skin_sizes(section, solid, FREQUENCY))
    return respond(harmonic_problem(mesh, solid=solid, stranded={}, fixed=fixed), FREQUENCY)
