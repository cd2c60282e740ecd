"""The base machines: `tests/truth/data/bases.json` and how their fields were solved.

    python -m tests.truth.bases NAME ...

solves named bases anew and puts them into the file: nonlinear states of the primary alone in unbounded air, below
those of other tests' references where there are such, and both windings' permeances with linear iron. Elements are of
second order; what that leaves is 0.3 % of the flux, told by states that others solved to third. Blocks are even, the
sheet isotropic, joints layers of even gap.
"""

import json
import sys
import time
from typing import Any

import numpy as np

from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block
from tests.support.needed import needed

needed("ngsolve")

from tests.support.open_fields import OpenField
from tests.support.open_laws import AIR, Law
from tests.support.open_mesh import OpenMesh, Sizes, open_mesh, turns_field
from tests.truth.built import DATA, MM, built, joined
from tests.truth.fields import BRIDGED, carrier_of, others, sheet_of, spec_of
from tests.truth.sheet import MU0, Floats, Sheet, linear

THINNEST = 0.3
"""Height [mm] that lower joints and gaps are stretched to, iron and gap in series."""
MU_R = 4000.0
"""Of linear iron: a modelling choice shared with the tool."""


def laws_of(core: AnyCore, share: float, sheet: Sheet, *, saturating: bool = True) -> dict[str, Law]:
    """Return the laws by material of the mesh."""
    iron = sheet.stacked(share) if saturating else linear(MU_R)
    fill = AIR
    if core.joint.value == "interleaved":
        fill = sheet.stacked(BRIDGED * share) if saturating else linear(BRIDGED * MU_R)
    air = linear(1.0)
    parts = {box.part.name: box.gap_share for box in core.frame.boxes(THINNEST * MM)}
    fill = air if fill is AIR else fill
    return {
        "iron": iron,
        "joint": iron.beside(fill, parts.get("JOINT", 1.0)),
        "gap": iron.beside(air, parts.get("GAP", 1.0)),
    }


def meshed(core: AnyCore, blocks: tuple[Block, ...], *, fineness: float) -> OpenMesh:
    """Return a mesh as fine as the leg asks for."""
    leg = core.frame.wound_leg.width / MM
    size = 0.48 * leg / fineness
    sizes = Sizes(iron=size, corner=size / 2, joint=0.13 * leg / fineness, air=0.4)
    return open_mesh(core.frame, blocks, sizes=sizes, thinnest=THINNEST)


def read_iron(field: OpenField, F: Floats, core: AnyCore, at: float, share: float, sheet: Sheet) -> dict[str, float]:
    """Return the mean flux density of the leg's iron round a height [T], and int b^a, int b^2 over all iron [m3]."""
    leg, found = core.frame.wound_leg, {"leg_T": 0.0, "hysteresis_m3": 0.0, "eddy_m3": 0.0}
    for (law, part), t in zip(field.laws, field.t, strict=True):
        if law is not field.laws[0][0]:
            continue
        H = 1e3 * (np.tensordot(F, t, axes=1) - part.gradient(field.u))
        size = np.maximum(np.sqrt((H * H).sum(axis=-1)), 1e-9)
        b = law.flux(size)[0]
        b = (b - (1 - share) * MU0 * size) / share
        x, y, _ = np.moveaxis(part.places, -1, 0)
        window = np.maximum(1 - np.abs(y - at / MM) / (0.25 * leg.width / MM), 0.0)
        weight = part.scale * window * (np.abs(x) < leg.width / MM / 2)
        found["leg_T"] += float(abs((weight * b * H[..., 1] / size).sum() / weight.sum()))
        volume = share * part.scale * field.opened.copies * MM**3
        found["hysteresis_m3"] += float((volume * b**sheet.exponent).sum())
        found["eddy_m3"] += float((volume * b**2).sum())
    return found


LOWER = (1.5, 1.35, 1.15, 0.95, 0.75, 0.5, 0.25, 0.12)
ALL = (2.05, 1.75, 1.6, *LOWER)
"""Flux densities that states of other tests' cores are added at, and that those of our own have [T]."""


def solve(spec: dict[str, Any], fineness: float = 1.0) -> dict[str, Any]:
    """Solve a base."""
    began = time.time()
    core, placed = built(spec)
    blocks = joined(placed)
    sheet, share = sheet_of(spec), spec["stacking"]
    laws = laws_of(core, share, sheet)
    opened = meshed(core, blocks, fineness=fineness)
    field = OpenField(opened, lambda p: turns_field(core.frame, blocks, p), laws, order=2)
    say(spec, began, f"{len(field.corners)} elements {field.size} unknowns")
    carrier = carrier_of(spec)
    at = max((b for b in blocks if b.winding == "primary"), key=lambda b: b.height)
    states: list[dict[str, Any]] = []
    # of other tests' the first is their lowest: what this mesh adds to its flux, it adds to the others
    known = [float(entry["points"][0]["ampere_turns"]) for name, entry in others().items() if name == spec["name"]]
    asked = np.interp(share * carrier.area * np.array(LOWER if known else ALL), carrier.flux, carrier.F)
    for F in known + [float(F) for F in asked if not known or known[0] > F]:
        point = field.solve(F, 0.0, scale=1.0 if not states else F / states[0]["ampere_turns"])
        state = {
            "ampere_turns": F,
            "flux_Wb": [point.fluxes[0]],
            "other_flux_Wb": [point.fluxes[1]],
            "coenergy_J": [point.coenergy],
            **read_iron(field, np.array([F, 0.0]), core, (at.bottom + at.top) / 2, share, sheet),
        }
        states.insert(0, state)
        say(spec, began, f"{state}")
    straight = laws_of(core, share, sheet, saturating=False)
    kept = [name for name in laws if any(law is laws[name] for law, _ in field.laws)]
    field.laws = [(straight[name], part) for name, (_, part) in zip(kept, field.laws, strict=True)]
    Q = field.permeances(1.0, -1.0)
    say(spec, began, f"linear {Q.tolist()}")
    return {"states": states, "linear_H": Q.tolist(), "elements": len(field.corners)}


def say(spec: dict[str, Any], began: float, text: str) -> None:
    """Say how far it is."""
    sys.stdout.write(f"{spec['name']} {time.time() - began:.0f} s: {text}\n")
    sys.stdout.flush()


def main(names: list[str]) -> None:
    """Solve named bases and write them down."""
    path = DATA / "bases.json"
    for name in names:
        found = solve(spec_of(name))
        kept = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
        kept[name] = rounded(found)
        path.write_text(json.dumps(dict(sorted(kept.items())), indent=1) + "\n", encoding="utf-8")


def rounded(value: Any) -> Any:
    """Return the same with seven digits."""
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [rounded(inner) for inner in value]
    return float(f"{value:.7g}") if isinstance(value, float) else value


if __name__ == "__main__":
    main(sys.argv[1:])
