"""Problem 13 of the TEAM workshops: thin steel plates round a coil, by edge elements.

Import only after `needed("ngsolve")`.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
from netgen.occ import Box, Glue, OCCGeometry, Pnt, Sphere
from ngsolve import Mesh
from numpy.typing import NDArray

from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from tests.support.ngsolve_saturated import EdgeField
from tests.support.open_laws import Law
from tests.support.open_mesh import OpenMesh

Floats = NDArray[np.float64]
DATA: dict[str, Any] = json.loads(
    (Path(__file__).parents[1] / "physics" / "data" / "team13.json").read_text(encoding="utf-8")
)
THICK, HIGH, WIDE = 3.2, 63.2, 50.0
"""Of the plates: thickness, half the height, width [mm]."""
NEAR, LONG, SHIFT = 2.1, 120.0, 40.0
"""Where a channel begins, its length inside, how far its middle lies aside [mm]."""
PLATES = (
    ((-THICK / 2, -WIDE / 2, 0.0), (THICK / 2, WIDE / 2, HIGH)),
    ((NEAR, SHIFT - WIDE / 2, HIGH - THICK), (NEAR + LONG, SHIFT + WIDE / 2, HIGH)),
    ((NEAR + LONG, SHIFT - WIDE / 2, 0.0), (NEAR + LONG + THICK, SHIFT + WIDE / 2, HIGH)),
    ((-NEAR - LONG, -SHIFT - WIDE / 2, HIGH - THICK), (-NEAR, -SHIFT + WIDE / 2, HIGH)),
    ((-NEAR - LONG - THICK, -SHIFT - WIDE / 2, 0.0), (-NEAR - LONG, -SHIFT + WIDE / 2, HIGH)),
)
"""Two corners of each piece of the upper half [mm]; the field is odd across z = 0."""
BORE, RADIUS, BUILD, TALL = 75.0, 25.0, 25.0, 100.0
"""Coil: half its bore, inner corners' radius, build, height [mm]."""


def turns(places: Floats) -> Floats:
    """Return the field of one ampere-turn along z [1/mm], (1, ..., 3)."""
    x, y, z = np.moveaxis(np.abs(places), -1, 0)
    over_x, over_y = x - BORE + RADIUS, y - BORE + RADIUS
    corner = np.hypot(np.maximum(over_x, 0), np.maximum(over_y, 0))
    distance = np.where((over_x > 0) & (over_y > 0), corner, np.maximum(over_x, over_y)) - RADIUS
    found = np.zeros((1, *places.shape))
    found[0, ..., 2] = np.clip(1 - distance / BUILD, 0.0, 1.0) / TALL * (z < TALL / 2)
    return found


def mesh(size: float, gap: float) -> OpenMesh:
    """Mesh the upper half: largest elements in the plates and at the gap [mm]."""
    inner, outer = 180.0, 360.0
    half = Box(Pnt(-500, -500, 0), Pnt(500, 500, 500))
    balls = [Sphere(Pnt(0, 0, 0), radius) for radius in (inner, outer)]
    plates = [Box(Pnt(*first), Pnt(*last)) for first, last in PLATES]
    coil = Box(Pnt(-BORE - BUILD, -BORE - BUILD, 0), Pnt(BORE + BUILD, BORE + BUILD, TALL / 2))
    shape = Glue([balls[0] * half, (balls[1] - balls[0]) * half, coil, *plates])
    for solid in shape.solids:
        first, last = solid.bounding_box
        thin = min(last.x - first.x, last.z - first.z) < THICK + 0.1
        solid.maxh = size if thin else 45.0 if max(last.x - first.x, last.z - first.z) > 250 else 15.0
    for line in shape.edges:
        c = line.center
        at_gap = abs(c.x) < NEAR + 1e-3 and abs(c.y) < WIDE / 2 + 1e-3 and c.z > HIGH - THICK - 1e-3
        if at_gap and (abs(c.x) > NEAR - 1e-3 or c.z > HIGH - 1e-3):
            line.maxh = gap
    found = OCCGeometry(shape).GenerateMesh(maxh=90, grading=0.4)
    points = np.array([p.p for p in found.Points()])
    elements = found.Elements3D()
    corners = points[np.array([[v.nr - 1 for v in e.vertices] for e in elements])]
    middles = corners.mean(axis=1)
    kind = np.where(np.linalg.norm(corners, axis=2).max(axis=1) > inner * (1 + 1e-6), 2, 0)
    for first, last in PLATES:
        kind[((middles > first) & (middles < last)).all(axis=1)] = 1
    for element, k in zip(elements, kind, strict=True):
        element.index = int(k) + 1
    for k, name in enumerate(("air", "iron", "shell")):
        found.SetMaterial(k + 1, name)
    return OpenMesh(mesh=Mesh(found), copies=2, centre=(0.0, 0.0, 0.0), inner=inner, outer=outer, odd=True)


def law() -> Law:
    """Return the steel's law, table and continuation as the file gives them."""
    H, B = np.transpose(DATA["curve"])
    curve = BHCurve(
        name="plate", H=H, B=B, saturation_polarisation=DATA["saturation_polarisation_T"], source="of the file"
    )
    return Law.of(Reluctivity.of_lamination(curve, 1.0))


def means(field: EdgeField) -> Floats:
    """Return the mean flux density normal to each of the 25 sections [T], by midpoints."""
    across, through = (np.arange(40) + 0.5) / 40 * WIDE - WIDE / 2, ((np.arange(8) + 0.5) / 8 - 0.5) * THICK
    found = []
    for place in DATA["places"]:
        x, z = place["x_mm"], place["z_mm"]
        v, t = (g.ravel() for g in np.meshgrid(across + (0.0 if place["plate"] == "centre" else SHIFT), through))
        # A hair inside where a section lies in the plane of a face.
        if place["plate"] == "top":
            at = np.stack([np.full_like(v, min(max(x, NEAR + 0.01), NEAR + LONG - 0.01)), v, z + t], axis=1)
            found.append(abs(field.density_at(at)[:, 0].mean()))
        else:
            at = np.stack([x + t, v, np.full_like(v, max(z, 0.01))], axis=1)
            found.append(abs(field.density_at(at)[:, 2].mean()))
    return np.array(found)
