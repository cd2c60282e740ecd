"""Shell-type cores in three dimensions by edge elements of another finite-element library: lower bounds.

The vector potential with A x n = 0 all round maximises 2 (T0, curl A) - (nu curl A, curl A), where T0 is a y-directed
field whose curl is the blocks' current. The maximum is the permeance; any discrete A lies below it, and so does
shutting the flux in by a far box. Nothing here is shared with the package but the dimensions.

Import this module only after `pytest.importorskip("ngsolve")`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from netgen.occ import Axes, Box, Glue, OCCGeometry, Pnt, Solid, WorkPlane, X, Y
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

from fem.characteristics.end_region_shape import CoreShape
from fem.constants import MU0
from geometries.blocks import Block

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
        2 (T0, curl A) - (nu curl A, curl A) at the discrete A, of the whole core [H].
    closure
        How far (T0, curl A) and (nu curl A, curl A), equal at the maximum, differ [-].
    unknowns, steps
        Of the linear system and of its solver.
    """

    permeance: float
    closure: float
    unknowns: int
    steps: int


@dataclass(frozen=True, kw_only=True, slots=True)
class _Places:
    """Lines of a quarter of a core [mm]."""

    leg: float
    wall: float
    edge: float
    depth: float
    yoke: float
    height: float
    gap: float


def _places(core: CoreShape) -> _Places:
    assert core.outer_leg_widths[0] == core.outer_leg_widths[1], "a quarter stands only for a symmetric core"
    wall = core.leg_width / 2 + core.window_width
    return _Places(
        leg=core.leg_width / 2 / MM,
        wall=wall / MM,
        edge=(wall + core.outer_leg_widths[0]) / MM,
        depth=core.stack_depth / 2 / MM,
        yoke=core.yoke_height / MM,
        height=core.window_height / MM,
        gap=core.joint_gap / MM,
    )


def _encircled(core: CoreShape, block: Block, offset: float) -> Solid:
    """Return the quarter of what a turn encircles that lies `offset` [m] outside the innermost, over its height."""
    half_x = (core.leg_width / 2 + block.leg_clearance + offset) / MM
    half_z = (core.stack_depth / 2 + block.end_clearance + offset) / MM
    radius = (block.corner_radius + offset) / MM
    plane = WorkPlane(Axes((0, block.bottom / MM, 0), n=-Y, h=X))
    plane.MoveTo(0, 0).LineTo(half_x, 0).LineTo(half_x, half_z - radius)
    plane.ArcTo(half_x - radius, half_z, (0, 1))
    return plane.LineTo(0, half_z).Close().Face().Extrude(-block.height / MM)


def edge_mesh(
    core: CoreShape, blocks: Sequence[Block], *, size: float, corner: float, joint: float, margin: float
) -> Mesh:
    """Mesh a quarter of a core, its blocks and the air round it by curved tetrahedra.

    Parameters
    ----------
    core, blocks
        What is built.
    size, corner, joint
        Largest element in the core and the blocks, along edges of iron, and on the faces of joints [m].
    margin
        Air round the core [m].
    """
    p, far = _places(core), margin / MM

    def box(x0: float, x1: float, y0: float, y1: float) -> Solid:
        return Box(Pnt(x0, y0, 0), Pnt(x1, y1, p.depth))

    iron = [
        box(0, p.edge, -p.yoke, 0),
        box(0, p.leg, 0, p.height - p.gap),
        box(p.wall, p.edge, 0, p.height - p.gap),
        box(0, p.edge, p.height, p.height + p.yoke),
    ]
    joints = [box(a, b, p.height - p.gap, p.height) for a, b in ((0, p.leg), (p.wall, p.edge)) if p.gap]
    turns = [_encircled(core, block, offset) for block in blocks for offset in (0.0, block.build)]
    low, high = (0, -p.yoke - far, 0), (p.edge + far, p.height + p.yoke + far, p.depth + far)
    shape = Glue([Box(Pnt(*low), Pnt(*high)), *iron, *joints, *turns])
    for solid in shape.solids:
        if solid.bounding_box[1].x < p.edge + 1:
            solid.maxh = size / MM
    for line in shape.edges:
        c = line.center
        in_front = (
            abs(c.z - p.depth) < NEAR and c.x < p.edge + NEAR and -NEAR < c.y + p.yoke < p.height + 2 * p.yoke + 1
        )
        inside = NEAR < c.z < p.depth - NEAR and min(abs(c.x - p.leg), abs(c.x - p.wall)) < NEAR
        if in_front or (inside and min(abs(c.y), abs(c.y - p.height)) < NEAR):
            line.maxh = corner / MM
    for face in shape.faces:
        first, last = face.bounding_box
        if p.gap and first.y > p.height - p.gap - NEAR and last.y < p.height + NEAR and last.x < p.edge + NEAR:
            face.maxh = joint / MM
        c = (face.center.x, face.center.y, face.center.z)
        outer = any(min(abs(v - a), abs(v - b)) < NEAR for v, a, b in zip(c, low, high, strict=True))
        face.name = "outer" if outer else "inner"
    mesh = Mesh(OCCGeometry(shape).GenerateMesh(maxh=far / 3, grading=0.4))
    mesh.Curve(2)
    return mesh


def _within(value: CoefficientFunction, low: float, high: float) -> CoefficientFunction:
    return IfPos(value - low, IfPos(high - value, 1.0, 0.0), 0.0)


def _reluctivity(core: CoreShape, mu_r: float) -> CoefficientFunction:
    """Return nu over that of air; the mesh follows the iron's faces, so places tell what fills an element."""
    p = _places(core)
    legs = _within(y, -NEAR, p.height - p.gap) * (_within(x, -1, p.leg) + _within(x, p.wall, p.edge))
    yokes = (_within(y, -p.yoke, 0) + _within(y, p.height, p.height + p.yoke)) * _within(x, -1, p.edge)
    return IfPos((legs + yokes) * _within(z, -1, p.depth) - 0.5, 1 / mu_r, 1.0)


def _ampere_turns_field(core: CoreShape, block: Block) -> CoefficientFunction:
    """Return T0 of one ampere-turn [1/mm]: the share of the turns that encircles a place, over the block's height."""
    p, radius = _places(core), block.corner_radius / MM
    over_x = x - (p.leg + block.leg_clearance / MM - radius)
    over_z = z - (p.depth + block.end_clearance / MM - radius)
    straight = IfPos(over_x - over_z, over_x, over_z)
    distance = IfPos(over_x, IfPos(over_z, sqrt(over_x * over_x + over_z * over_z), straight), straight)
    share = 1 - (distance - radius) / (block.build / MM)
    inside = IfPos(share, IfPos(1 - share, share, 1.0), 0.0)
    return inside * _within(y, block.bottom / MM, block.top / MM) / (block.height / MM)


def solve_edges(
    mesh: Mesh, core: CoreShape, blocks: Sequence[Block], ampere_turns: Sequence[float], *, mu_r: float = 4000.0
) -> EdgeSolution:
    """Solve by second-order edge elements and conjugate gradients.

    Parameters
    ----------
    mesh
        From `edge_mesh`.
    core, blocks
        What was meshed.
    ampere_turns
        Of each block [A].
    mu_r
        Relative permeability of the iron [-].
    """
    nu = _reluctivity(core, mu_r)
    source = sum((s * _ampere_turns_field(core, b) for b, s in zip(blocks, ampere_turns, strict=True)), CF(0.0))
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
        permeance=4 * MU0 * MM * (2 * driven - stored),
        closure=abs(driven / stored - 1),
        unknowns=space.ndof,
        steps=solver.iterations,
    )
