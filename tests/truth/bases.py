"""The base machines: `tests/truth/data/bases.json` and how their fields were solved.

    python -m tests.truth.bases NAME ...

solves named bases of `data/specs.json` anew and puts them into the file: nonlinear states of the primary alone in
unbounded air, one state of nearly opposite ampere-turns, and the leakage with conductors one by one in closed iron.
Elements are of second order at every state, of third at two; what the order leaves is extrapolated as in
`tests/physics/test_nonlinear3d`. The sheet is isotropic, joints are layers of even gap.
"""

import json
import sys
import time
from typing import Any

import numpy as np

from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block, single_blocks
from tests.support.needed import needed

needed("ngsolve")

from tests.support.open_fields import OpenField
from tests.support.open_laws import AIR, Law
from tests.support.open_mesh import OpenMesh, Sizes, open_mesh, turns_field
from tests.truth.built import DATA, MM, Carrier, built, joined, specs
from tests.truth.fields import other_spec, others, sheet_of
from tests.truth.sheet import MU0, Floats, Sheet, linear

LEVELS = (0.5, 1.1, 1.4, 1.55, 1.7, 1.9)
"""Flux densities in the leg that states aim at [T]; two more far in saturation follow."""
BEYOND = (4.0, 20.0)
ANCHORS = (1, 3)
"""States, from below, that are solved to third order too; further up both differ by 0.1 %."""
THINNEST = 0.3
BRIDGED, MU_R = 0.5, 4000.0
"""Sheets that run through an interleaved joint; linear iron: modelling choices shared with the tool."""


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


def meshed(core: AnyCore, blocks: tuple[Block, ...], *, fineness: float, closed: bool = False) -> OpenMesh:
    """Return a mesh as fine as the leg asks for."""
    leg = core.frame.wound_leg.width / MM
    size = 0.48 * leg / fineness
    sizes = Sizes(iron=size, corner=size / 2, joint=0.13 * leg / fineness, air=0.4)
    return open_mesh(core.frame.closed if closed else core.frame, blocks, sizes=sizes, thinnest=THINNEST)


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


def leakage_of(spec: dict[str, Any], fineness: float = 1.0) -> list[float]:
    """Return a base's leakage per turn squared by elements of second and third order [H]; linear closed iron."""
    core, blocks = built(spec)
    parts, closed = single_blocks(blocks), core.frame.closed
    opened = meshed(core, parts, fineness=fineness, closed=True)
    leakage: list[float] = []
    start = None
    for order in (2, 3):
        field = OpenField(opened, lambda p: turns_field(closed, parts, p), {"iron": linear(MU_R)}, order=order)
        if start is not None:
            field.u[: start.size] = start
        leakage.append(2 * field.solve(1.0, -1.0).coenergy)
        start = field.u
    return leakage


def solve(spec: dict[str, Any], fineness: float = 1.0) -> dict[str, Any]:
    """Solve a base."""
    began = time.time()
    core, blocks = built(spec)
    sheet, share = Sheet.of(spec["grade"]), spec["stacking"]
    found: dict[str, Any] = {"fineness": fineness}

    if "lays" not in spec:
        found["leakage_H"] = leakage_of(spec, fineness)
        say(spec, began, f"leakage {found['leakage_H']}")

    even = joined(blocks)
    opened = meshed(core, even, fineness=fineness)
    laws = laws_of(core, share, sheet)
    second, third = (OpenField(opened, lambda p: turns_field(core.frame, even, p), laws, order=k) for k in (2, 3))
    found["elements"], found["unknowns"] = len(second.corners), [second.size, third.size]
    say(spec, began, f"{found['elements']} elements {found['unknowns']} unknowns")
    carrier = Carrier(core, blocks, laws["iron"])
    levels = [float(np.interp(share * b * carrier.area, carrier.flux, carrier.F)) for b in LEVELS]
    levels += [factor * levels[-1] for factor in BEYOND]
    primary = [b for b in blocks if b.winding == "primary"]
    at = max(primary, key=lambda b: b.height)
    states: list[dict[str, Any]] = []
    for k in range(len(levels) - 1, -1, -1):
        F = levels[k]
        point = second.solve(F, 0.0, scale=1.0 if not states else F / levels[k + 1])
        state = {
            "ampere_turns": F,
            "flux_Wb": [point.fluxes[0]],
            "other_flux_Wb": [point.fluxes[1]],
            "coenergy_J": [point.coenergy],
            **read_iron(second, np.array([F, 0.0]), core, (at.bottom + at.top) / 2, share, sheet),
        }
        if k in ANCHORS:
            third.u = np.zeros(third.size)
            third.u[: second.size] = second.u
            fine = third.solve(F, 0.0)
            state["flux_Wb"].append(fine.fluxes[0])
            state["other_flux_Wb"].append(fine.fluxes[1])
            state["coenergy_J"].append(fine.coenergy)
        states.insert(0, state)
        say(spec, began, f"{F:.5g} A {state}")
    found["states"] = states

    # the iron of a state with the lead ends joined: both windings, a flux as with a half of the voltage at the primary
    flux = 0.75 * share * 1.5 * carrier.area
    net = float(np.interp(flux, [s["flux_Wb"][0] for s in states], levels))
    opposite = 0.6 * flux / found.get("leakage_H", [2.8e-7])[-1]  # H, of the lays: it only says where to look
    second.permeances(levels[0], 0.0)
    second.u = np.array([net + opposite, -opposite]) @ second.responses
    second.solve(net + opposite, -opposite, tolerance=1e-4, most=60)
    P = second.permeances(net + opposite, -opposite)
    straight = laws_of(core, share, sheet, saturating=False)
    names = list(laws)
    kept = [name for name in names if any(law is laws[name] for law, _ in second.laws)]
    second.laws = [(straight[name], part) for name, (_, part) in zip(kept, second.laws, strict=True)]
    Q = second.permeances(1.0, -1.0)
    found["shorted_H"], found["linear_H"] = P.tolist(), Q.tolist()
    say(spec, began, f"shorted {leak(P)} linear {leak(Q)} ratio {leak(P) / leak(Q)}")
    found["seconds"] = round(time.time() - began)
    return found


LOWER = (1.5, 1.15)
"""Flux densities that states of other tests' cores are added at [T]."""


def lower(spec: dict[str, Any], fineness: float = 1.0) -> dict[str, Any]:
    """Solve states below those of another test's core, of second order, and permeances with linear iron."""
    began = time.time()
    core, blocks = built(spec)
    sheet, share = sheet_of(spec), spec["stacking"]
    laws = laws_of(core, share, sheet)
    opened = meshed(core, blocks, fineness=fineness)
    field = OpenField(opened, lambda p: turns_field(core.frame, blocks, p), laws, order=2)
    say(spec, began, f"{len(field.corners)} elements {field.size} unknowns")
    carrier = Carrier(core, blocks, laws["iron"])
    at = max((b for b in blocks if b.winding == "primary"), key=lambda b: b.height)
    states: list[dict[str, Any]] = []
    for b in LOWER:
        F = float(np.interp(share * b * carrier.area, carrier.flux, carrier.F))
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


def leak(P: Floats) -> float:
    """Return the leakage of windings by windings [H]."""
    return float(P[0, 0] - P[0, 1] - P[1, 0] + P[1, 1])


def say(spec: dict[str, Any], began: float, text: str) -> None:
    """Say how far it is."""
    sys.stdout.write(f"{spec['name']} {time.time() - began:.0f} s: {text}\n")
    sys.stdout.flush()


def main(names: list[str]) -> None:
    """Solve named bases and write them down."""
    path = DATA / "bases.json"
    for name in names:
        found = solve(specs()[name]) if name in specs() else lower(other_spec(others()[name]))
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
