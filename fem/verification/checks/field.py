"""Wires, bars, slots and pole edges whose fields are known in closed form, through the mesher and the solver."""

from __future__ import annotations

import numpy as np

from fem.characteristics.resistance.leads import pair_force_per_m
from fem.constants import MU0
from fem.field.static.force import lorentz_force_per_m
from fem.field.static.model import FieldModel, build_model, solve_model
from fem.field.static.quantities import both, cut_fluxes_per_m, flux_density, quadrature_areas
from fem.verification.meshes import as_section_mesh, graded, rings, tensor_mesh
from geometries.assembly.conductors import round_pair_section
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Cut, Region, Role, Section, Shape

MM = 1e-3


def wires() -> dict[str, float]:
    """Compute inductances of wires and bars in air [H/m] and the force between two [N/m]."""
    found = {"coax_thin_shell": _coaxial(6 * MM)[0], "coax_finite_shell": _coaxial(6 * MM, 7 * MM)[0]}
    found["wire_internal"] = _coaxial(6 * MM)[1]
    # The line A = 0 far enough that the images' share is 2e-5.
    pair = round_pair_section(2 * MM, 20 * MM, reach=100.0).half()
    model = build_model(mesh_section(pair, level=1), lambda _: None)
    found["two_wires"] = both(solve_model(model, {"leads": 1.0}), "leads")[1]
    for width, height, apart in ((5, 50, 15), (6, 60, 26), (10, 100, 60), (1, 100, 2)):
        found[f"bars_{width}x{height}_{apart}"] = _bars(width * MM, height * MM, apart * MM)
    found["lead_force"] = pair_force_per_m(1000.0, 50 * MM)
    found["lead_force_field"] = _force_between_leads(1000.0)
    return found


def _coaxial(*shell: float) -> tuple[float, float]:
    """Return the inductance of a wire of 2 mm in a shell [H/m], and its internal part; A = 0 on the outermost circle.

    With two radii the current returns between them, with one in a shell without thickness.
    """
    wire = 2 * MM
    names = ("wire", "return")
    circles = (wire, *((shell[1],) if len(shell) == 2 else ()))
    # A ring is what a disc leaves of the next: the first region that holds a triangle has it.
    gap = Region(name="gap", role=Role.AIR, x0=-shell[0], y0=-shell[0], x1=shell[0], y1=shell[0], shape=Shape.DISC)
    discs = [
        Region(
            name=name, role=Role.CONDUCTOR, winding="loop", sense=sense, shape=Shape.DISC,
            x0=-radius, y0=-radius, x1=radius, y1=radius,
        )
        for name, sense, radius in zip(names, (1, -1), circles, strict=False)
    ]  # fmt: skip
    far = shell[-1]
    section = Section(regions=(discs[0], gap, *discs[1:]), outline=(-far, -far, far, far))
    mesh = rings(graded([0.0, wire, *shell], [wire / 12] * (len(shell) + 2), 1.2), 120)
    model = build_model(as_section_mesh(mesh, section), lambda _: None)
    field = solve_model(model, {"loop": 1.0})
    inside = model.fine.region == 0
    b2 = flux_density(field.fine)[:, inside] ** 2
    internal = float((quadrature_areas(field.fine)[:, inside] * b2).sum()) / MU0
    return both(field, "loop")[1], internal


def _bars(width: float, height: float, apart: float) -> float:
    far = 150 * max(height, apart)
    bars = tuple(
        Region(
            name=f"bar {sense:+d}", role=Role.CONDUCTOR, winding="loop", sense=sense,
            x0=sense * apart / 2 - width / 2, x1=sense * apart / 2 + width / 2, y0=-height / 2, y1=height / 2,
        )
        for sense in (1, -1)
    )  # fmt: skip
    half = Section(regions=bars, outline=(-far, -far, far, far)).half()
    mesh = mesh_section(half, sizes={"bar +1": max(width / 2, height / 30)})
    return both(solve_model(build_model(mesh, lambda _: None), {"loop": 1.0}), "loop")[1]


def _force_between_leads(current: float) -> float:
    model = build_model(mesh_section(round_pair_section(4 * MM, 12 * MM).half(), level=1), lambda _: None)
    solution = solve_model(model, {"leads": current}).fine
    go = np.flatnonzero(model.fine.region == 0)
    return float(lorentz_force_per_m(solution.problem, solution.A, go, current)[0])


def slots() -> dict[str, float]:
    """Compute inductances of conductors in an open slot 10 mm wide: [H/m], layers in units of mu0."""
    found = {}
    for key, free in (("slot_filled", 0.0), ("slot_free_height", 5.0)):
        model = _slot({"bar": (0.0, 30.0)}, 30.0 + free)
        found[key] = both(solve_model(model, {"bar": 1.0}), "bar")[1]
    model = _slot({"lower": (0.0, 12.0), "upper": (15.0, 27.0)}, 27.0)
    lower = solve_model(model, {"lower": 1.0})
    found["slot_layers_lower"] = both(lower, "lower")[1] / MU0
    found["slot_layers_mutual"] = both(lower, "upper")[1] / MU0
    found["slot_layers_upper"] = both(solve_model(model, {"upper": 1.0}), "upper")[1] / MU0
    return found


def _slot(layers: dict[str, tuple[float, float]], mouth: float) -> FieldModel:
    """Return a slot with a line of flux at its mouth; its walls, natural boundaries, are iron without reluctance."""
    regions = tuple(
        Region(
            name=name, role=Role.CONDUCTOR, winding=name, sense=1, x0=0.0, x1=10 * MM, y0=low * MM, y1=high * MM
        )
        for name, (low, high) in layers.items()
    )  # fmt: skip
    slot = Section(regions=regions, outline=(0.0, 0.0, 10 * MM, mouth * MM))
    return build_model(mesh_section(slot), lambda _: None, fixed=lambda m: m[1] > mouth * MM - 1e-9)


def pole_edge() -> dict[str, float]:
    """Compute the extra permeance of a square pole edge over a plane [mu0].

    A pole of x < 0, y > 1 over the plane y = 0, both natural boundaries, the gap cut off by a line of flux at x = -5,
    where the field is uniform to exp(-5 pi). Current in the far corner drives the flux; the far sides are natural
    boundaries too, so that the field is symmetric about the corner's bisector, and what they change falls off with the
    fourth power: (20/400)^4 at the highest point read.
    """
    far, edge = 400.0, 1e-4
    drive = Region(name="drive", role=Role.CONDUCTOR, winding="drive", sense=1, x0=360.0, x1=far, y0=360.0, y1=far)
    heights = (1, 2, 5, 10, 20)
    cuts = (
        *(Cut(name=f"side {h}", x0=0.0, y0=1.0 + h, x1=-5.0, y1=0.5) for h in heights),
        Cut(name="uniform", x0=-4.0, y0=0.5, x1=-5.0, y1=0.5),
    )
    section = Section(regions=(drive,), outline=(-5.0, 0.0, far, far), cuts=cuts)
    xs = graded([-5.0, -4.0, 0.0, 360.0, far], [0.5, 0.5, edge, 40.0, 40.0], 1.35)
    ys = graded([0.0, 1.0, 360.0, far], [0.2, edge, 40.0, 40.0], 1.35)
    mesh = as_section_mesh(tensor_mesh(xs, ys, keep=lambda m: (m[0] > 0) | (m[1] < 1)), section)
    model = build_model(mesh, lambda _: None, fixed=lambda m: m[0] < -5 + 1e-9)
    flux = cut_fluxes_per_m(model.fine, solve_model(model, {"drive": 1.0}).fine)
    # The m.m.f. from the uniform field under the pole, over its known permeance of one gap width.
    return {f"gap_corner_{h}": abs(flux[f"side {h}"] / flux["uniform"]) - 5.0 for h in heights}
