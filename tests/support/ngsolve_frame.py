"""Any frame of legs and yokes in three dimensions by edge elements of another library: lower bounds, front half.

As `ngsolve_edges`, of which this is the case without a mirror plane across the legs. Of two frames one behind the other
the front half is the front one. Nothing here is shared with the
package but the dimensions.

Import this module only after `pytest.importorskip("ngsolve")`.
"""

from collections.abc import Sequence

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

from fem.constants import MU0
from geometries.blocks import Block
from geometries.frame import Frame
from tests.support.ngsolve_edges import GAUGE, MM, NEAR, EdgeSolution


def _encircled(frame: Frame, block: Block, offset: float) -> Solid:
    """Return the front half of what a turn encircles that lies `offset` [m] outside the innermost, over its height."""
    width, depth = frame.surrounded(block)
    centre, radius = frame.turn_centre(block) / MM, (block.corner_radius + offset) / MM
    half_x, half_z = (
        (v / 2 + c + offset) / MM for v, c in ((width, block.leg_clearance), (depth, block.end_clearance))
    )
    left, right = block.leg_axis / MM - half_x, block.leg_axis / MM + half_x
    back, front = centre - half_z, centre + half_z
    plane = WorkPlane(Axes((0, block.bottom / MM, 0), n=-Y, h=X))
    if centre == 0:
        plane.MoveTo(left, 0).LineTo(right, 0)
    else:
        plane.MoveTo(left, back + radius).ArcTo(left + radius, back, (0, -1)).LineTo(right - radius, back)
        plane.ArcTo(right, back + radius, (1, 0))
    plane.LineTo(right, front - radius).ArcTo(right - radius, front, (0, 1)).LineTo(left + radius, front)
    return plane.ArcTo(left, front - radius, (-1, 0)).Close().Face().Extrude(-block.height / MM)


def frame_mesh(frame: Frame, blocks: Sequence[Block], *, size: float, corner: float, margin: float) -> Mesh:
    """Mesh the front half of a frame with closed joints, its blocks and the air round it by curved tetrahedra.

    Parameters
    ----------
    frame, blocks
        What is built.
    size, corner
        Largest element in the core and the blocks, and along edges of iron [m].
    margin
        Air round the core [m].
    """
    far, yoke, height = (v / MM for v in (margin, frame.yoke_height, frame.window_height))
    behind, depth = (v / MM for v in frame.nearest_stack)
    left, right = frame.left_edge / MM, frame.right_edge / MM
    iron = [
        Box(Pnt(left, -yoke, behind), Pnt(right, 0, depth)),
        Box(Pnt(left, height, behind), Pnt(right, height + yoke, depth)),
        *(Box(Pnt(leg.x0 / MM, 0, behind), Pnt(leg.x1 / MM, height, depth)) for leg in frame.legs),
    ]
    turns = [_encircled(frame, block, offset) for block in blocks for offset in (0.0, block.build)]
    low, high = (left - far, -yoke - far, 0), (right + far, height + yoke + far, depth + far)
    shape = Glue([Box(Pnt(*low), Pnt(*high)), *iron, *turns])
    for solid in shape.solids:
        if solid.bounding_box[1].x < high[0] - NEAR:
            solid.maxh = size / MM
    faces = [v / MM for leg in frame.legs for v in (leg.x0, leg.x1)]
    for line in shape.edges:
        c = line.center
        on_face = abs(c.z - depth) < NEAR or (behind > 0 and abs(c.z - behind) < NEAR)
        in_front = on_face and left - NEAR < c.x < right + NEAR and -yoke - NEAR < c.y < height + yoke + 1
        inside = behind + NEAR < c.z < depth - NEAR and min(abs(c.x - v) for v in faces) < NEAR
        if in_front or (inside and min(abs(c.y), abs(c.y - height)) < NEAR):
            line.maxh = corner / MM
    for face in shape.faces:
        c = (face.center.x, face.center.y, face.center.z)
        outer = any(min(abs(v - a), abs(v - b)) < NEAR for v, a, b in zip(c, low, high, strict=True))
        face.name = "outer" if outer else "inner"
    mesh = Mesh(OCCGeometry(shape).GenerateMesh(maxh=far / 3, grading=0.4))
    mesh.Curve(2)
    return mesh


def _within(value: CoefficientFunction, low: float, high: float) -> CoefficientFunction:
    return IfPos(value - low, IfPos(high - value, 1.0, 0.0), 0.0)


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


def solve_frame(
    mesh: Mesh, frame: Frame, blocks: Sequence[Block], ampere_turns: dict[str, float], *, mu_r: float = 4000.0
) -> EdgeSolution:
    """Solve by second-order edge elements and conjugate gradients.

    Parameters
    ----------
    mesh
        From `frame_mesh`.
    frame, blocks
        What was meshed.
    ampere_turns
        Of each winding [A].
    mu_r
        Relative permeability of the iron [-].
    """
    yoke, height = frame.yoke_height / MM, frame.window_height / MM
    behind, depth = (v / MM for v in frame.nearest_stack)
    legs = sum((_within(x, leg.x0 / MM, leg.x1 / MM) for leg in frame.legs), CF(0.0)) * _within(y, 0, height)
    yokes = (_within(y, -yoke, 0) + _within(y, height, height + yoke)) * _within(
        x, frame.left_edge / MM, frame.right_edge / MM
    )
    nu = IfPos((legs + yokes) * _within(z, behind - NEAR, depth) - 0.5, 1 / mu_r, 1.0)
    source = sum((ampere_turns[b.winding] * _ampere_turns_field(frame, b) for b in blocks), CF(0.0))
    # A x n = 0 at mid-stack as well: no flux crosses the mirror plane.
    space = HCurl(mesh, order=2, dirichlet="outer", nograds=True)
    u, v = space.TnT()
    stiffness = BilinearForm(space, symmetric=True)
    stiffness += nu * curl(u) * curl(v) * dx + GAUGE * nu * u * v * dx
    smoother = Preconditioner(stiffness, "bddc")
    load = LinearForm(space)
    load += source * curl(v)[1] * dx(bonus_intorder=4)
    load.Assemble()
    stiffness.Assemble()
    A = GridFunction(space)
    solver = CGSolver(stiffness.mat, smoother.mat, maxiter=200, tol=1e-8)
    A.vec.data = solver * load.vec
    B = curl(A)
    driven, stored = Integrate(source * B[1] * dx(bonus_intorder=4), mesh), Integrate(nu * B * B * dx, mesh)
    return EdgeSolution(
        permeance=2 * MU0 * MM * (2 * driven - stored),
        closure=abs(driven / stored - 1),
        unknowns=space.ndof,
        steps=solver.iterations,
    )
