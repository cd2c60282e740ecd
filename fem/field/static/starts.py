"""Where Newton's method starts on a moved mesh: from the canonical section's field and its derivatives.

A mesh is moved from that of its canonical section (`geometries/assembly/morph.py`), and ampere-turns have canonical
sizes in equal ratios as well. At such a state, solved once, A is known with its derivatives by every line of the mesh
and by the ampere-turns F; a section whose lines lie e further and that carries dF more starts from

    A + sum_k dA/de_k e_k + dA/dF dF:

one factorisation for each of both meshes then does, where a cold start takes some eight and three. The iteration goes
on to the same residual from wherever it starts; what is read agrees to 1e-10 (tests/physics/test_starts.py).

The canonical state costs as much as two or three further sections spare, so it is solved when a second section asks for
it: a lone estimate never pays for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.static.model import FieldModel, Grid, SolvedField, build_model
from fem.field.static.newton import FieldSolution, solve
from fem.field.static.shape import Adjoint, Moving
from fem.kept import Recent
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import SectionMesh
from geometries.assembly.morph import edges

RATIO = 1.25
"""Between neighbouring canonical sizes of the ampere-turns."""
PAYS_AT = 2
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
    """A canonical state: a field near it, and once it is solved its own with their derivatives.

    `slopes` are the derivatives of both of `field`, by lines and then by the ampere-turns.
    """

    ampere_turns: dict[str, float]
    asked: int = 0
    field: Start | None = None
    lines: Floats | None = None
    slopes: tuple[Floats, Floats] | None = None


KEPT: Recent[_State] = Recent(16, by_thread=True)
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
    state, base = _state_of(model, ampere_turns), model.mesh.base
    if state is None or base is None:
        return None
    state.asked += 1
    if state.asked < PAYS_AT or state.field is None:
        return None
    if state.slopes is None or state.lines is None:
        canonical = build_model(base, model.law_of)
        low = solve(canonical.coarse.problem, state.ampere_turns, start=state.field.coarse)
        change = state.field.change
        high = solve(canonical.fine.problem, state.ampere_turns, start=canonical.refine(low.A) + change)
        coarse, fine = _slopes(canonical, low, canonical.coarse), _slopes(canonical, high, canonical.fine)
        refined = np.stack([canonical.refine(column) for column in coarse.T], axis=1)
        state.field = Start(coarse=low.A, change=high.A - canonical.refine(low.A))
        state.lines, state.slopes = _lines(base), (coarse, fine - refined)
    step = np.append(_lines(model.mesh) - state.lines, _size(ampere_turns) - _size(state.ampere_turns))
    coarse, change = state.slopes
    return Start(coarse=state.field.coarse + coarse @ step, change=state.field.change + change @ step)


def keep_first(solved: SolvedField) -> None:
    """Keep the first field of its canonical state: to solve that from, should it be asked for."""
    state = _state_of(solved.model, solved.fine.ampere_turns)
    if state is not None and state.field is None:
        low = solved.coarse.A
        state.field = Start(coarse=low, change=solved.fine.A - solved.model.refine(low))


def _state_of(model: FieldModel, ampere_turns: Mapping[str, float]) -> _State | None:
    """Return the canonical state that a field is near; None where nothing saturates or the mesh is its own."""
    base, size = model.mesh.base, _size(ampere_turns)
    laws = [law for _, law in model.coarse.problem.laws]
    if base is None or size == 0 or all(isinstance(law, Reluctivity) and law.is_linear for law in laws):
        return None
    steps = round(np.log(size) / np.log(RATIO))
    shares = {name: round(F / size, 9) for name, F in sorted(ampere_turns.items())}
    key = (base.section, steps, *shares.items(), *(law.digest if isinstance(law, Reluctivity) else law for law in laws))
    return KEPT.get(key, lambda: _State({name: share * RATIO**steps for name, share in shares.items()}))


def _size(ampere_turns: Mapping[str, float]) -> float:
    return float(np.linalg.norm(list(ampere_turns.values())))


def _slopes(model: FieldModel, solution: FieldSolution, grid: Grid) -> Floats:
    """Return the derivatives of a field by every line of the mesh, and by the ampere-turns along themselves."""
    points, found = model.mesh.points, edges(model.mesh.section)
    hats = [
        np.stack([np.interp(points[axis], lines, one) * (axis == k) for k in (0, 1)])
        for axis, lines in ((0, found.x), (1, found.y))
        for one in np.eye(lines.size)
    ]
    vertices = np.stack(hats, axis=-1)
    if grid is model.fine:
        vertices = model.shape.fine_points(vertices)
    by_line = Adjoint(Moving(grid, vertices), solution).field_by_key()
    free, by_size = grid.problem.space.free, np.zeros((grid.problem.space.size, 1))
    # the tangent at this field is still factored
    by_size[free, 0] = grid.problem.space.factor.solve(grid.problem.load(solution.ampere_turns)[free])
    return np.hstack((by_line, by_size / _size(solution.ampere_turns)))


def _lines(mesh: SectionMesh) -> Floats:
    found = edges(mesh.section)
    return np.concatenate((found.x, found.y))
