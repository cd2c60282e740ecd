"""The error estimate against the truth from much finer meshes.

The signed error of one linkage at one current can pass through zero between two currents, where an estimate is "wrong"
by any factor. So estimates are judged in the root mean square over the currents of a curve.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from fem.field.static.error import relative_error, remaining_share
from fem.field.static.model import FieldModel, SolvedField, build_model, solve_both
from fem.field.static.problem import Law
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
SHEET = Reluctivity.of_lamination(steel("M400-50A").curve, 0.96)
LINEAR = Reluctivity.linear(3000.0)
CURRENTS = [{"primary": value} for value in (10e3, 3000.0, 1000.0, 300.0, 30.0)]
GAPS = [0.0, 0.05 * MM, 0.2 * MM]


def model_of(gap: float, level: int, law: Law) -> FieldModel:
    def fill(region: Region) -> Law | None:
        return law if region.role is Role.IRON else None

    return build_model(mesh_section(shell(SIDE_BY_SIDE, gap=gap).half(), level=level), fill)


def linkages(solved: list[SolvedField]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the primary's linkage at each current on the coarse and the fine mesh [Wb/m]."""
    both = np.array([[2 * float(s.problem.sources["primary"] @ s.A) for s in (one.coarse, one.fine)] for one in solved])
    return both[:, 0], both[:, 1]


def estimated(solved: list[SolvedField]) -> NDArray[np.float64]:
    coarse, fine = linkages(solved)
    return relative_error(coarse, fine, np.array([remaining_share(one) for one in solved]))


def solved_curve(gap: float, level: int) -> list[SolvedField]:
    return solve_both(model_of(gap, level, SHEET), CURRENTS, [None] * len(CURRENTS))


def rms(values: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2)))


@pytest.mark.parametrize("gap", GAPS)
def test_estimate_of_the_coarsest_level(gap: float) -> None:
    """Truth: level 1 refined once, whose own error is a tenth of what is estimated."""
    rough, fine = solved_curve(gap, 0), solved_curve(gap, 1)
    estimate, truth = estimated(rough), linkages(fine)[1]
    true = np.abs(linkages(rough)[1] / truth - 1)
    assert 0.5 < rms(estimate) / rms(true) < 5, (estimate, true)
    # The finer level's estimate is at least four times smaller: elements halve, corner elements shrink by eight.
    assert rms(estimated(fine)) < rms(estimate) / 4
    # And level 0 is as good as the project needs for flux: 0.1 %.
    assert true.max() < 1e-3


@pytest.mark.slow
@pytest.mark.parametrize("level", [0, 1])
@pytest.mark.parametrize("gap", GAPS)
def test_estimate_of_both_levels_against_level_two(gap: float, level: int) -> None:
    rough, truth = solved_curve(gap, level), linkages(solved_curve(gap, 2))[1]
    estimate, true = estimated(rough), np.abs(linkages(rough)[1] / truth - 1)
    assert 0.5 < rms(estimate) / rms(true) < 5, (estimate, true)


@pytest.mark.parametrize("gap", GAPS)
def test_estimate_of_the_leakage(gap: float) -> None:
    """Opposite ampere-turns in linear iron: the energy's error is the square of a norm and cannot change its sign."""
    found = []
    for level in (0, 1):
        one = solve_both(model_of(gap, level, LINEAR), [{"primary": 1.0, "secondary": -1.0}], [None])[0]
        energies = [s.problem.energy_per_m(s.A) for s in (one.coarse, one.fine)]
        found.append((*energies, float(relative_error(*energies, remaining_share(one)))))
    true = 1 - found[0][1] / found[1][1]
    assert found[0][0] < found[0][1] < found[1][1]
    assert 0.5 < found[0][2] / true < 5, found


def test_no_difference_is_no_error() -> None:
    one = solve_both(model_of(0.0, 0, LINEAR), [{"primary": 0.0}], [None])[0]
    assert relative_error(0.0, 0.0, remaining_share(one)) == 0.0
