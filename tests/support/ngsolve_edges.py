"""Cores in three dimensions by edge elements of another finite-element library: lower bounds.

The vector potential with A x n = 0 all round maximises 2 (T0, curl A) - (nu curl A, curl A), where T0 is a y-directed
field whose curl is the blocks' current. The maximum is the permeance; any discrete A lies below it, and so does
shutting the flux in by a far box. Nothing here is shared with the package but the dimensions.

Import this module only after `needed("ngsolve")`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from netgen.occ import Box, Glue, OCCGeometry, Pnt, Solid
from ngsolve import (
    CF,
    BilinearForm,
    CGSolver,
    CoefficientFunction,
    GridFunction,
    HCurl,
    IfPos,
    Integrate,
    LinearForm,
    Mesh,
    Preconditioner,
    curl,
    dx,
    sqrt,
    x,
    y,
    z,
)

from fem.constants import MU0
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, Framed
from tests.support.open_mesh import encircled

MM = 1e-3
"""Geometry and mesh are in mm: the mesher's tolerances are absolute."""
NEAR = 1e-4
"""Places closer than this [mm] are the same."""
GAUGE = 1e-8
"""Weight of |A|^2 beside |curl A|^2 [1/mm2] that makes the system definite; what it costs is a loss, so still a lower
bound: some 1e-5."""


@dataclass(frozen=True, kw_only=True, slots=True)
class EdgeSolution:
    """A lower bound.

    Parameters
    ----------
    permeance
        2 (T0, curl A) - (nu curl A, curl A) at the discrete A, of the whole arrangement [H].
    closure
        How far (T0, curl A) and (nu curl A, curl A), equal at the maximum, differ [-].
    unknowns, steps
        Of the linear system and of its solver.
    """

    permeance: float
    closure: float
    unknowns: int
    steps: int


def _quarter(frame: Frame, blocks: Sequence[Block]) -> bool:
    """Return whether x = 0 is a mirror plane besides z = 0, mid-stack or midway between two stacks."""
    return frame.mirror_symmetric and not any(block.leg_axis for block in blocks)


def edge_mesh(
    core: Framed, blocks: Sequence[Block], *, size: float, corner: float, margin: float, joint: float = MM
) -> Mesh:
    """Mesh what mirror planes leave of the iron, the blocks and the air round them by curved tetrahedra.

    Parameters
    ----------
    core, blocks
        What is built; joints at the legs' upper ends only.
    size, corner
        Largest element in the iron and the blocks, and along edges of iron [m].
    margin
        Air round the iron [m].
    joint
        Largest element on the faces of joints [m].
    """
    frame = core.frame
    far, yoke, height, gap = (v / MM for v in (margin, frame.yoke_height, frame.window_height, frame.joint_gap))
    behind, depth = (v / MM for v in frame.nearest_stack)
    left, right = frame.left_edge / MM, frame.right_edge / MM
    low = (0 if _quarter(frame, blocks) else left - far, -yoke - far, 0)
    high = (right + far, height + yoke + far, depth + far)
    air = Box(Pnt(*low), Pnt(*high))

    def box(x0: float, x1: float, y0: float, y1: float) -> Solid:
        return Box(Pnt(x0, y0, behind), Pnt(x1, y1, depth))

    legs = [(leg.x0 / MM, leg.x1 / MM) for leg in frame.legs]
    parts = [box(left, right, -yoke, 0), box(left, right, height, height + yoke)]
    parts += [box(x0, x1, 0, height - gap) for x0, x1 in legs]
    parts += [box(x0, x1, height - gap, height) for x0, x1 in legs if gap]
    parts += [encircled(frame, block, offset) for block in blocks for offset in (0.0, block.build)]
    # a leg left of the mirror plane leaves nothing
    shape = Glue([air, *(part * air for part in parts if part.bounding_box[1].x > low[0])])
    for solid in shape.solids:
        if solid.bounding_box[1].x < high[0] - NEAR:
            solid.maxh = size / MM
    faces = [v for leg in legs for v in leg]
    for line in shape.edges:
        c = line.center
        on_face = abs(c.z - depth) < NEAR or (behind > 0 and abs(c.z - behind) < NEAR)
        in_front = on_face and left - NEAR < c.x < right + NEAR and -yoke - NEAR < c.y < height + yoke + 1
        inside = behind + NEAR < c.z < depth - NEAR and min(abs(c.x - v) for v in faces) < NEAR
        if in_front or (inside and min(abs(c.y), abs(c.y - height)) < NEAR):
            line.maxh = corner / MM
    for face in shape.faces:
        first, last = face.bounding_box
        if gap and first.y > height - gap - NEAR and last.y < height + NEAR and last.x < right + NEAR:
            face.maxh = joint / MM
        c = (face.center.x, face.center.y, face.center.z)
        outer = any(min(abs(v - a), abs(v - b)) < NEAR for v, a, b in zip(c, low, high, strict=True))
        face.name = "outer" if outer else "inner"
    mesh = Mesh(OCCGeometry(shape).GenerateMesh(maxh=far / 3, grading=0.4))
    mesh.Curve(2)
    return mesh


def _within(value: CoefficientFunction, low: float, high: float) -> CoefficientFunction:
    return IfPos(value - low, IfPos(high - value, 1.0, 0.0), 0.0)


def _reluctivity(frame: Frame, mu_r: float) -> CoefficientFunction:
    """Return nu over that of air; the mesh follows the iron's faces, so places tell what fills an element."""
    yoke, height, gap = (v / MM for v in (frame.yoke_height, frame.window_height, frame.joint_gap))
    behind, depth = (v / MM for v in frame.nearest_stack)
    legs = sum((_within(x, leg.x0 / MM, leg.x1 / MM) for leg in frame.legs), CF(0.0)) * _within(y, -NEAR, height - gap)
    across = _within(x, frame.left_edge / MM, frame.right_edge / MM)
    yokes = (_within(y, -yoke, 0) + _within(y, height, height + yoke)) * across
    return IfPos((legs + yokes) * _within(z, behind - NEAR, depth) - 0.5, 1 / mu_r, 1.0)


def _ampere_turns_field(frame: Frame, block: Block) -> CoefficientFunction:
    """Return T0 of one ampere-turn of its winding [1/mm]: the share of turns round a place, over the height."""
    leg, radius = frame.leg_at(block.leg_axis), block.corner_radius / MM
    width, depth = frame.surrounded(block)
    from_axis, from_middle = x - leg.axis / MM, z - frame.turn_centre(block) / MM
    over_x = IfPos(from_axis, from_axis, -from_axis) - (width / 2 + block.leg_clearance) / MM + radius
    over_z = IfPos(from_middle, from_middle, -from_middle) - (depth / 2 + block.end_clearance) / MM + radius
    straight = IfPos(over_x - over_z, over_x, over_z)
    distance = IfPos(over_x, IfPos(over_z, sqrt(over_x * over_x + over_z * over_z), straight), straight)
    share = 1 - (distance - radius) / (block.build / MM)
    inside = IfPos(share, IfPos(1 - share, share, 1.0), 0.0)
    factor = leg.direction * block.share / (block.height / MM)
    return factor * inside * _within(y, block.bottom / MM, block.top / MM)


def solve_edges(
    mesh: Mesh, core: Framed, blocks: Sequence[Block], ampere_turns: dict[str, float], *, mu_r: float = 4000.0
) -> EdgeSolution:
    """Solve by second-order edge elements and conjugate gradients.

    Parameters
    ----------
    mesh
        From `edge_mesh`.
    core, blocks
        What was meshed.
    ampere_turns
        Of each winding [A].
    mu_r
        Relative permeability of the iron [-].
    """
    nu = _reluctivity(core.frame, mu_r)
    source = sum((ampere_turns[b.winding] * _ampere_turns_field(core.frame, b) for b in blocks), CF(0.0))
    # A x n = 0 on the mirror planes as well: no flux crosses them.
    space = HCurl(mesh, order=2, dirichlet="outer", nograds=True)
    u, v = space.TnT()
    stiffness = BilinearForm(space, symmetric=True)
    stiffness += nu * curl(u) * curl(v) * dx + GAUGE * nu * u * v * dx
    smoother = Preconditioner(stiffness, "bddc")
    load = LinearForm(space)
    load += source * curl(v)[1] * dx(bonus_intorder=4)  # on curved elements T0 is no polynomial
    load.Assemble()
    stiffness.Assemble()
    A = GridFunction(space)
    solver = CGSolver(stiffness.mat, smoother.mat, maxiter=200, tol=1e-8)
    A.vec.data = solver * load.vec
    B = curl(A)
    driven, stored = Integrate(source * B[1] * dx(bonus_intorder=4), mesh), Integrate(nu * B * B * dx, mesh)
    return EdgeSolution(
        permeance=(4 if _quarter(core.frame, blocks) else 2) * MU0 * MM * (2 * driven - stored),
        closure=abs(driven / stored - 1),
        unknowns=space.ndof,
        steps=solver.iterations,
    )
