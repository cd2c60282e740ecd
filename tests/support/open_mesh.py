"""Cores in unbounded air, meshed by tetrahedra: a ball, and a shell that stands for the rest.

The shell R1 < r < R2 holds all that is outside of the ball by rho = R1 (R2 - R1) / (R2 - r): no box, nothing to
extrapolate. A dipole's potential 1/rho^2 is a parabola in r there, so that second order holds it.

Import this module only after `needed("ngsolve")`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from netgen.occ import Axes, Box, Glue, OCCGeometry, Pnt, Solid, Sphere, WorkPlane, X, Y
from ngsolve import Mesh
from numpy.typing import NDArray

from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Part
from geometries.shapes.section import Region

Floats = NDArray[np.float64]
MM = 1e-3
"""Geometry and mesh are in mm: the mesher's tolerances are absolute."""
NEAR = 1e-4
"""Places closer than this [mm] are the same."""
NAMES = {Part.JOINT: "joint", Part.GAP: "gap"}
"""Materials of the mesh besides iron, air and shell."""


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenMesh:
    """A meshed core.

    Parameters
    ----------
    mesh
        Materials iron, joint, gap, shunt, air, shell; boundary "outer" at infinity, "mirror" on mirror planes.
    copies
        How many mirror images make up the whole.
    centre, inner, outer
        Of the shell [mm].
    odd
        Whether the potential is odd across the plane z = 0 and so 0 there; even across mirror planes otherwise.
    """

    mesh: Mesh
    copies: int
    centre: tuple[float, float, float]
    inner: float
    outer: float
    odd: bool = False

    def stretched_at(self, places: Floats) -> Floats:
        """Return the shell's permeability over that of air at places (..., 3) [mm], (..., 3, 3).

        grad u of space outside the ball, seen in the shell: rho'(r) along the radius and rho / r across it.
        """
        away = places - np.array(self.centre)
        r = np.linalg.norm(away, axis=-1)
        scale = self.inner * (self.outer - self.inner)
        # A chord of the inner sphere cuts inside: there space is as it is.
        along = np.where(r < self.inner, 1.0, scale / r**2)
        across = np.where(r < self.inner, 1.0, scale / (self.outer - r) ** 2)
        n = away / r[..., None]
        return (
            across[..., None, None] * np.eye(3) + (along - across)[..., None, None] * n[..., :, None] * n[..., None, :]
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Sizes:
    """Largest elements [mm].

    Parameters
    ----------
    iron
        In the iron and the windings.
    corner
        Along edges of iron at the windows and on the end faces.
    joint
        Along the rims of joints and gaps.
    air
        In the ball, over its radius [-].
    """

    iron: float = 7.0
    corner: float = 3.0
    joint: float = 1.5
    air: float = 0.25


def encircled(frame: Frame, block: Block, offset: float) -> Solid:
    """Return what a turn encircles that lies `offset` [m] outside the innermost, over the block's height."""
    width, depth = frame.surrounded(block)
    centre, radius = frame.turn_centre(block) / MM, (block.corner_radius + offset) / MM
    half_x, half_z = (
        (v / 2 + c + offset) / MM for v, c in ((width, block.leg_clearance), (depth, block.end_clearance))
    )
    left, right = block.leg_axis / MM - half_x, block.leg_axis / MM + half_x
    back, front = centre - half_z, centre + half_z
    plane = WorkPlane(Axes((0, block.bottom / MM, 0), n=-Y, h=X))
    plane.MoveTo(left, back + radius).ArcTo(left + radius, back, (0, -1)).LineTo(right - radius, back)
    plane.ArcTo(right, back + radius, (1, 0)).LineTo(right, front - radius)
    plane.ArcTo(right - radius, front, (0, 1)).LineTo(left + radius, front)
    return plane.ArcTo(left, front - radius, (-1, 0)).Close().Face().Extrude(-block.height / MM)


def open_mesh(
    frame: Frame,
    blocks: Sequence[Block],
    *,
    sizes: Sizes,
    bars: Sequence[Region] = (),
    thinnest: float = 0.3,
    ball: float = 1.1,
    shell: float = 2.0,
) -> OpenMesh:
    """Mesh what mirror planes leave of the iron, the windings and the air round them by curved tetrahedra.

    Parameters
    ----------
    frame, blocks
        What is built.
    sizes
        Largest elements.
    bars
        Of shunts, as deep as the stack.
    thinnest
        Height that lower joints and gaps are stretched to [mm].
    ball
        Radius over that of the smallest ball round iron and windings [-].
    shell
        Outer radius of the shell over the inner one [-].
    """
    quarter = frame.mirror_symmetric and not any(block.leg_axis for block in blocks)
    left, right = frame.left_edge / MM, frame.right_edge / MM
    yoke, height = frame.yoke_height / MM, frame.window_height / MM
    behind, depth = (v / MM for v in frame.nearest_stack)
    turns = [
        (
            abs(b.leg_axis) / MM + (frame.surrounded(b)[0] / 2 + b.leg_clearance + b.build) / MM,
            frame.turn_centre(b) / MM + (frame.surrounded(b)[1] / 2 + b.end_clearance + b.build) / MM,
            max(b.top / MM - height / 2, height / 2 - b.bottom / MM),
        )
        for b in blocks
    ]
    middle = 0.0 if quarter else (left + right) / 2
    centre = (middle, height / 2, 0.0)
    reach = [((right - left) / 2, depth, height / 2 + yoke), *((a + abs(middle), c, e) for a, c, e in turns)]
    inner = ball * max(float(np.hypot(np.hypot(a, c), e)) for a, c, e in reach)
    outer = shell * inner
    low = (0.0 if quarter else middle - 2 * outer, height / 2 - 2 * outer, 0.0)
    half = Box(Pnt(*low), Pnt(middle + 2 * outer, height / 2 + 2 * outer, 2 * outer))
    for face in half.faces:
        face.name = "mirror"
    shells = [Sphere(Pnt(*centre), radius) for radius in (inner, outer)]
    for sphere, name in zip(shells, ("inner", "outer"), strict=True):
        sphere.faces.name = name
    boxes = frame.boxes(thinnest * MM)
    ball_part = shells[0] * half
    parts = [Box(Pnt(b.x0 / MM, b.y0 / MM, behind), Pnt(b.x1 / MM, b.y1 / MM, depth)) for b in (*boxes, *bars)]
    windings = [encircled(frame, block, offset) for block in blocks for offset in (0.0, block.build)]
    kept = [part * half for part in (*parts, *windings) if part.bounding_box[1].x > low[0] + NEAR]
    shape = Glue([ball_part, (shells[1] - shells[0]) * half, *kept])
    for solid in shape.solids:
        first, last = solid.bounding_box
        solid.maxh = sizes.air * inner if max(last.x - first.x, last.y - first.y) > 1.3 * inner else sizes.iron
    layers = [b for b in boxes if b.part in NAMES]
    x_faces = [v / MM for leg in frame.legs for v in (leg.x0, leg.x1)]
    for line in shape.edges:
        c = line.center
        on_face = abs(c.z - depth) < NEAR or (behind > 0 and abs(c.z - behind) < NEAR)
        within_x, within_y = left - NEAR < c.x < right + NEAR, -yoke - NEAR < c.y < height + yoke + NEAR
        at_window = min(abs(c.x - v) for v in x_faces) < NEAR and behind - NEAR < c.z < depth + NEAR
        if (on_face and within_x and within_y) or (at_window and min(abs(c.y), abs(c.y - height)) < NEAR):
            line.maxh = sizes.corner
        for b in (*layers, *bars):
            rim = min(abs(c.x - b.x0 / MM), abs(c.x - b.x1 / MM)) < NEAR or on_face
            if rim and b.x0 / MM - NEAR < c.x < b.x1 / MM + NEAR and b.y0 / MM - NEAR < c.y < b.y1 / MM + NEAR:
                line.maxh = sizes.joint
    ngmesh = OCCGeometry(shape).GenerateMesh(maxh=inner / 2, grading=0.4)
    names = ["air", "iron", "joint", "gap", "shunt", "shell"]
    points = np.array([p.p for p in ngmesh.Points()])
    elements = ngmesh.Elements3D()
    middles = points[np.array([[v.nr - 1 for v in e.vertices] for e in elements])].mean(axis=1)
    kind = np.zeros(len(middles), dtype=int)
    in_stack = (middles[:, 2] > behind) & (middles[:, 2] < depth)
    filled = [*((b, NAMES.get(b.part, "iron")) for b in boxes), *((bar, "shunt") for bar in bars)]
    for b, name in filled:
        inside = (middles[:, 0] > b.x0 / MM) & (middles[:, 0] < b.x1 / MM) & in_stack
        inside &= (middles[:, 1] > b.y0 / MM) & (middles[:, 1] < b.y1 / MM)
        kind[inside] = names.index(name)
    # Solids of the shell are those that reach beyond the ball.
    reach_out = np.array(
        [np.linalg.norm(points[[v.nr - 1 for v in e.vertices]] - centre, axis=1).max() for e in elements]
    )
    kind[reach_out > inner * (1 + 1e-6)] = names.index("shell")
    for element, k in zip(elements, kind, strict=True):
        element.index = int(k) + 1
    for k, name in enumerate(names):
        ngmesh.SetMaterial(k + 1, name)
    return OpenMesh(mesh=Mesh(ngmesh), copies=4 if quarter else 2, centre=centre, inner=inner, outer=outer)


def turns_field(frame: Frame, blocks: Sequence[Block], places: Floats) -> Floats:
    """Return T0 of one ampere-turn of each winding at places (..., 3) [mm], (windings, ..., 3) [1/mm].

    Along y, the share of a block's turns that run round a place, over its height; its curl is the block's current, even
    over its section and round its corners. A straight element's share of it is integrated as it is: nothing is lost
    where the mesh cuts a rounded corner.
    """
    x, y, z = np.moveaxis(places, -1, 0)
    names = list(dict.fromkeys(block.winding for block in blocks))
    found = np.zeros((len(names), *places.shape))
    for b in blocks:
        leg, (width, depth), radius = frame.leg_at(b.leg_axis), frame.surrounded(b), b.corner_radius / MM
        over_x = np.abs(x - leg.axis / MM) - (width / 2 + b.leg_clearance) / MM + radius
        over_z = np.abs(z - frame.turn_centre(b) / MM) - (depth / 2 + b.end_clearance) / MM + radius
        round_corner = np.sqrt(np.maximum(over_x, 0) ** 2 + np.maximum(over_z, 0) ** 2)
        distance = np.where((over_x > 0) & (over_z > 0), round_corner, np.maximum(over_x, over_z)) - radius
        share = np.clip(1 - distance / (b.build / MM), 0.0, 1.0)
        inside = (y > b.bottom / MM) & (y < b.top / MM)
        found[names.index(b.winding), ..., 1] += leg.direction * b.share / (b.height / MM) * share * inside
    return found
