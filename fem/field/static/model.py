"""A section ready to be solved: the mesh and its uniform refinement, materials, windings and cuts.

Every field is solved twice, on a coarse mesh and on the mesh refined from it. The first is the second's start, and
the difference between them is what the discretisation error is estimated from.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Integers
from fem.field.static.newton import TOLERANCE, FieldSolution, solve
from fem.field.static.problem import Law, Problem, winding_source
from fem.field.static.space import Space, Where, build_geometry, values_at
from fem.field.static.topology import Topology, build_topology, kept_topology
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.section import Region, Role

SETTLED = 1e-9
"""Residual, relative to the load, at which flux no longer tells to 1e-11 from where an iteration started."""

LawOf = Callable[[Region], Law | None]
"""Which material fills a region; None for air and non-magnetic conductors."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Grid:
    """One of the two meshes with everything that is read from it.

    Parameters
    ----------
    problem
        What is solved on it.
    regions
        Of the section.
    region
        Number of the region each element lies in (m,); -1 in the air between.
    cuts
        For each cut the vector (size,) whose product with A is the flux per metre through it [Wb/m].
    """

    problem: Problem
    regions: tuple[Region, ...]
    region: Integers
    cuts: Mapping[str, Floats]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FieldModel:
    """A section with materials on a mesh and on its refinement.

    Parameters
    ----------
    mesh
        The coarse mesh.
    coarse, fine
        Both meshes with what is solved on them.
    shape
        What they share with all meshes of these triangles.
    law_of
        Which material fills a region.
    """

    mesh: SectionMesh
    coarse: Grid
    fine: Grid
    shape: Topology
    law_of: LawOf

    def refine(self, A: Floats) -> Floats:
        """Return a field of the coarse mesh on the fine one."""
        return self.shape.refine(A)

    @property
    def unknowns(self) -> int:
        """Unknowns of the finer mesh."""
        return int(self.fine.problem.space.free.size)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SolvedField:
    """The field at one set of ampere-turns, on both meshes: what refinement changed, tells the error.

    Parameters
    ----------
    model
        What was solved.
    coarse, fine
        The solutions.
    """

    model: FieldModel
    coarse: FieldSolution
    fine: FieldSolution

    @property
    def steps(self) -> int:
        """Newton steps on the finer mesh."""
        return self.fine.steps


def build_model(mesh: SectionMesh, law_of: LawOf, *, fixed: Where | None = None) -> FieldModel:
    """Prepare a meshed section for solving; models on the same triangles share what does not depend on their places.

    Parameters
    ----------
    mesh
        The coarse mesh.
    law_of
        Material of each region.
    fixed
        Where on the boundary A = 0 (see `build_space`); everywhere if None.
    """
    points, triangles = mesh.points, mesh.triangles
    shape = kept_topology(points, triangles) if fixed is None else build_topology(points, triangles, fixed)
    return FieldModel(
        mesh=mesh,
        coarse=_grid(mesh, shape.coarse, points, mesh.region, law_of),
        fine=_grid(mesh, shape.fine, shape.fine_points(points), np.tile(mesh.region, 4), law_of),
        shape=shape,
        law_of=law_of,
    )


def _grid(mesh: SectionMesh, space: Space, points: Floats, region: Integers, law_of: LawOf) -> Grid:
    section = mesh.section
    geometry = build_geometry(points, space.triangles)
    by_law: dict[int, tuple[Law, list[int]]] = {}
    parts: dict[str, list[tuple[Integers, float]]] = {}
    for index, r in enumerate(section.regions):
        law = law_of(r)
        if law is not None:
            by_law.setdefault(id(law), (law, []))[1].append(index)
        if r.role is Role.CONDUCTOR and r.winding is not None:
            parts.setdefault(r.winding, []).append((np.flatnonzero(region == index), r.sense * r.share))
    problem = Problem(
        space=space,
        geometry=geometry,
        laws=tuple((np.flatnonzero(np.isin(region, where)), law) for law, where in by_law.values()),
        sources={name: winding_source(space, geometry, blocks) for name, blocks in parts.items()},
        copies=2 if section.halved else 1,
    )

    # in the mirror half A has the opposite sign
    mirrored = [section.halved and x < 0 for cut in section.cuts for x in (cut.x0, cut.x1)]
    ends = [end for cut in section.cuts for end in ((cut.x0, cut.y0), (cut.x1, cut.y1))]
    places = [(-x if m else x, y) for (x, y), m in zip(ends, mirrored, strict=True)]
    different = list(dict.fromkeys(places))  # both sides' are one in a half section
    at = dict(zip(different, values_at(space, geometry, different), strict=True))
    signed = [-at[point] if m else at[point] for point, m in zip(places, mirrored, strict=True)]
    cuts = {cut.name: signed[2 * k] - signed[2 * k + 1] for k, cut in enumerate(section.cuts)}
    return Grid(problem=problem, regions=section.regions, region=region, cuts=cuts)


def solve_model(model: FieldModel, ampere_turns: Mapping[str, float]) -> SolvedField:
    """Solve at one set of ampere-turns [A] on both meshes.

    Parameters
    ----------
    model
        What to solve.
    ampere_turns
        Per winding [A].

    Raises
    ------
    NotConverged
        If it does not converge.

    Notes
    -----
    On a moved mesh, where a second like it is solved in this thread, it starts near the solution (see `starts`), and in
    any case ends so tight that what is read does not depend on that.
    """
    from fem.field.static.starts import keep_first, start_near

    near = start_near(model, ampere_turns)
    if near is None:
        (solved,) = solve_both(model, [ampere_turns], [None], tolerance=SETTLED)
        keep_first(solved)
        return solved
    low = solve(model.coarse.problem, ampere_turns, start=near.coarse, tolerance=SETTLED)
    high = solve(model.fine.problem, ampere_turns, start=model.refine(low.A) + near.change, tolerance=SETTLED)
    return SolvedField(model=model, coarse=low, fine=high)


def solve_both(
    model: FieldModel,
    points: Sequence[Mapping[str, float]],
    starts: Sequence[Floats | None],
    *,
    tolerance: float = TOLERANCE,
) -> list[SolvedField]:
    """Solve at several sets of ampere-turns [A], each in the list a step away from the one before.

    Parameters
    ----------
    model
        What to solve.
    points
        Sets of ampere-turns.
    starts
        For each a field on the coarse mesh to start from, for instance its solution; None to start afresh.
    tolerance
        Of the residual, relative to the load [-].

    Raises
    ------
    NotConverged
        If a point does not converge.

    Notes
    -----
    The finer mesh starts from the coarse solution plus what refinement changed at the points before: a small and
    smooth correction, so that one or two steps are left to do.
    """
    solved: list[SolvedField] = []
    corrections: list[Floats] = []
    sizes = [float(np.linalg.norm(list(p.values()))) for p in points]
    for k, (ampere_turns, guess) in enumerate(zip(points, starts, strict=True)):
        low = solve(model.coarse.problem, ampere_turns, start=guess, tolerance=tolerance)
        refined = model.refine(low.A)
        change = extrapolated(sizes[: k + 1], corrections)
        start = refined if change is None else refined + change
        high = solve(model.fine.problem, ampere_turns, start=start, tolerance=tolerance)
        corrections.append(high.A - refined)
        solved.append(SolvedField(model=model, coarse=low, fine=high))
    return solved


def extrapolated(sizes: Sequence[float] | Floats, fields: Sequence[Floats]) -> Floats | None:
    """Continue the last one to three fields, in the logarithm of the ampere-turns, to the last of the sizes.

    Parameters
    ----------
    sizes
        Ampere-turns of the fields, then those to continue to (n + 1,) [A].
    fields
        The n fields so far.
    """
    if not fields:
        return None
    n = min(3, len(fields))
    x = np.log(np.maximum(sizes[-n - 1 :], 1e-300))
    nodes, target = x[:-1], x[-1]
    if np.unique(nodes).size < n:
        return fields[-1]
    total = np.zeros_like(fields[-1])
    for i in range(n):
        others = np.delete(nodes, i)
        total += np.prod((target - others) / (nodes[i] - others)) * fields[len(fields) - n + i]
    return total
