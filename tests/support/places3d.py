"""Flux densities by place in three dimensions: `tests/physics/data/places3d.json` and how they were made.

    python -m tests.support.places3d NAME ...

solves the named cores of `nonlinear3d.json` at their two lowest states by tetrahedra of second order and puts into the
file what they say. Import only after `needed("ngsolve")`.
"""

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

from fem.materials.mixture import Reluctivity
from geometries.assembly.section_of import section_of
from geometries.shapes.section import Cut
from tests.support.nonlinear3d import DATA as CORES
from tests.support.nonlinear3d import blocks_of_entry, core_of, curve_of, fields_of, shunt_of
from tests.support.open_fields import PER_MM, Floats, OpenField
from tests.support.open_mesh import MM

DATA = CORES.with_name("places3d.json")
NEAR = 0.25
"""Reach of the mean round a cut, over the leg's width; what is nearer weighs more."""


def mean_through(field: OpenField, F: Floats, cut: Cut, near: float) -> float:
    """Return the mean flux density through a cut, iron and insulation together [T], sizes alone."""
    x, y = sorted((cut.x0 / MM, cut.x1 / MM)), sorted((cut.y0 / MM, cut.y1 / MM))
    normal, at, (low, high) = (1, y[0], x) if x[0] < x[1] else (0, x[0], y)
    total = np.zeros(2)
    for (law, part), t in zip(field.laws, field.t, strict=True):
        H = PER_MM * (np.tensordot(F, t, axes=1) - part.gradient(field.u))
        size = np.maximum(np.sqrt((H * H).sum(axis=-1)), 1e-9)
        along, across = part.places[..., normal], part.places[..., 1 - normal]
        weight = part.scale * np.maximum(1 - np.abs(along - at) / near, 0.0) * ((across > low) & (across < high))
        total += (weight * law.flux(size)[0] * H[..., normal] / size).sum(), weight.sum()
    return float(abs(total[0] / total[1]))


def solved(entry: dict[str, Any], tables: dict[str, Any]) -> list[dict[str, Any]]:
    """Return a core's states with the flux density of the iron through each cut on the right or across x = 0."""
    _, frame = core_of(entry)
    blocks = blocks_of_entry(entry)
    cuts = [cut for cut in section_of(frame, blocks, shunt=shunt_of(entry)).cuts if cut.x0 + cut.x1 > -1e-9]
    iron = Reluctivity.of_lamination(curve_of(entry, tables), entry["stacking_factor"])
    (field,), found, last = fields_of(entry, tables, orders=(2,))[1], [], None
    for ampere_turns in sorted(entry["levels"])[1::-1]:
        F = np.array([ampere_turns] + [0.0] * (len(field.driven) - 1))
        point = field.solve(*F, scale=1.0 if last is None else ampere_turns / last)
        last = ampere_turns
        places = {c.name: mean_through(field, F, c, NEAR * frame.wound_leg.width / MM) for c in cuts}
        iron_T = {name: round(float(iron.iron_flux_density(b)), 5) for name, b in places.items()}
        found.insert(0, {"ampere_turns": ampere_turns, "flux_Wb": float(f"{point.fluxes[0]:.7g}"), "iron_T": iron_T})
    return found


def main(names: list[str]) -> None:
    """Solve named cores and write them down."""
    data = json.loads(CORES.read_text(encoding="utf-8"))
    for entry in data["cores"]:
        if entry["name"] in names or not names:
            found = solved(entry, data["tables"])
            kept = json.loads(DATA.read_text(encoding="utf-8")) if Path(DATA).exists() else {}
            DATA.write_text(json.dumps(kept | {entry["name"]: found}, indent=1) + "\n", encoding="utf-8")
            sys.stdout.write(f"{entry['name']}: {found}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
