"""Where Newton's method starts on a moved mesh: from the canonical section's field and its derivatives.

A mesh is moved from that of its canonical section (`geometries/assembly/morph.py`), and ampere-turns have canonical
sizes in equal ratios as well. At such a state, solved once, A is known with its derivatives by every line of the mesh
and by the ampere-turns F; a section whose lines lie e further and that carries dF more starts from

    A + sum_k dA/de_k e_k + dA/dF dF:

one factorisation for each of both meshes then does, where a cold start takes some eight and three. The iteration goes
on to the same residual from wherever it starts; what is read agrees to 1e-10 (tests/physics/test_starts.py).

The canonical state costs as much as three cold starts spare, so it is solved when a third section asks for it: a lone
estimate never pays for it, and no sweep pays twice what it would have at best.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.static.model import FieldModel, SolvedField, build_model, solve_both
from fem.field.static.newton import FieldSolution
from fem.field.static.shape import Adjoint, Moving
from fem.kept import Recent
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import SectionMesh
from geometries.assembly.morph import edges

RATIO = 1.25
"""Between neighbouring canonical sizes of the ampere-turns."""
PAYS_AT = 3
"""Which section to ask for a canonical state has it solved."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Start:
    """Fields to start from.

    Parameters
    ----------
    coarse
        On the coarse mesh (size,) [Wb/m].
    change
        What refinement adds to it on the finer one (size,) [Wb/m].
    """

    coarse: Floats
    change: Floats


@dataclass(slots=True, eq=False)
class _State:
    """A canonical state: how many sections asked for it, and once it is solved its fields with their derivatives.

    `fields` and `slopes` are the coarse field and refinement's change; derivatives by lines, then by the ampere-turns.
    """

    asked: int = 0
    lines: Floats | None = None
    fields: tuple[Floats, Floats] | None = None
    slopes: tuple[Floats, Floats] | None = None


KEPT: Recent[_State] = Recent(32, by_thread=True)
"""One takes some 2 MB at 8 000 unknowns."""


def start_near(model: FieldModel, ampere_turns: Mapping[str, float]) -> Start | None:
    """Return fields to start from; None where the mesh was not moved, or too few like it were asked for.

    Parameters
    ----------
    model
        What is to be solved.
    ampere_turns
        Per winding [A].
    """
    base, size = model.mesh.base, float(np.linalg.norm(list(ampere_turns.values())))
    laws = [law for _, law in model.coarse.problem.laws]
    if base is None or size == 0 or all(isinstance(law, Reluctivity) and law.is_linear for law in laws):
        return None
    steps = round(np.log(size) / np.log(RATIO))
    shares = {name: F / size for name, F in ampere_turns.items()}
    key = (
        base.section,
        steps,
        tuple((name, round(share, 9)) for name, share in sorted(shares.items())),
        tuple(law.digest if isinstance(law, Reluctivity) else law for law in laws),
    )
    state = KEPT.get(key, _State)
    state.asked += 1
    if state.asked < PAYS_AT:
        return None
    if state.fields is None:
        _solve(state, model, base, {name: share * RATIO**steps for name, share in shares.items()})
    assert state.fields is not None and state.slopes is not None and state.lines is not None  # noqa: PT018
    step = np.append(_lines(model.mesh) - state.lines, size - RATIO**steps)
    coarse, change = (field + slope @ step for field, slope in zip(state.fields, state.slopes, strict=True))
    return Start(coarse=coarse, change=change)


def _solve(state: _State, model: FieldModel, base: SectionMesh, ampere_turns: dict[str, float]) -> None:
    canonical = build_model(base, model.law_of)
    (solved,) = solve_both(canonical, [ampere_turns], [None])
    coarse = _slopes(canonical, solved, fine=False)
    fine = _slopes(canonical, solved, fine=True)
    refined = np.stack([canonical.refine(column) for column in coarse.T], axis=1)
    state.lines = _lines(base)
    state.fields = solved.coarse.A, solved.fine.A - canonical.refine(solved.coarse.A)
    state.slopes = coarse, fine - refined


def _slopes(model: FieldModel, solved: SolvedField, *, fine: bool) -> Floats:
    """Return the derivatives of a field by every line of the mesh, and by the ampere-turns along themselves."""
    points, found = model.mesh.points, edges(model.mesh.section)
    hats = [
        np.stack([np.interp(points[axis], lines, one) * (axis == k) for k in (0, 1)])
        for axis, lines in ((0, found.x), (1, found.y))
        for one in np.eye(lines.size)
    ]
    vertices = np.stack(hats, axis=-1)
    grid = model.fine if fine else model.coarse
    solution: FieldSolution = solved.fine if fine else solved.coarse
    by_line = Adjoint(Moving(grid, model.shape.fine_points(vertices) if fine else vertices), solution).field_by_key()
    problem, size = grid.problem, float(np.linalg.norm(list(solution.ampere_turns.values())))
    by_current = np.zeros((problem.space.size, 1))
    # the tangent at this field is still factored
    by_current[problem.space.free, 0] = problem.space.factor.solve(
        problem.load(solution.ampere_turns)[problem.space.free] / size
    )
    return np.hstack((by_line, by_current))


def _lines(mesh: SectionMesh) -> Floats:
    found = edges(mesh.section)
    return np.concatenate((found.x, found.y))
