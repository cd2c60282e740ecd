"""What the derivatives of a core's planar fields cost, against those fields and against differences of them."""

from collections.abc import Callable

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.permeance import leakage_field
from fem.characteristics.magnetising.by_key import PlanarSlopes, planar_slopes
from fem.characteristics.magnetising.planar import SolvedCurve, read_curve, solve_curve
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.field.static.model import SolvedField, build_model
from geometries.assembly.by_key import by_key
from geometries.assembly.morph import morphed_section
from geometries.assembly.velocity import motion
from geometries.windings.arrangement import place
from tests.benchmarks.side_by_side import compare
from tests.physics.test_planar_by_key import leakage_slopes, model_of, section_of_design
from tests.support.every_kind import design_of

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]

TWELVE = (
    "core.leg_width",
    "core.outer_leg_width",
    "core.yoke_height",
    "core.window_width",
    "core.window_height",
    "core.joint_gap",
    "windings.spacing",
    "windings.leg_clearance",
    "windings.yoke_clearance",
    "windings.primary.height",
    "windings.primary.build",
    "windings.secondary.build",
)


def solved(design: Design) -> tuple[SolvedCurve, SolvedField]:
    """Solve a design's planar fields and read them, from its section on."""
    mesh = morphed_section(section_of_design(design))
    curve = solve_curve(*model_of(design, mesh))
    read_curve(curve)
    return curve, leakage_field(build_model(mesh, linear_iron()), place(design.core, design.windings))


def derivatives(design: Design, fields: tuple[SolvedCurve, SolvedField]) -> PlanarSlopes:
    curve, leak = fields
    move = motion(curve.model.mesh, by_key(design.core, design.windings, design.fitted_shunt))
    leakage_slopes(leak, move)
    return planar_slopes(curve, move, sheet_of(design.core).curve)


@pytest.mark.parametrize("kind", ["shell", "leg gap", "interleaved", "two-leg", "shunts"])
def test_all_derivatives_against_the_fields_themselves(kind: str) -> None:
    """All lengths, stacking factor and the steel's rows; the steel's own law is differentiated once for all cores."""
    design = design_of(kind)
    fields = solved(design)
    found = compare(
        f"derivatives, {kind}", lambda: derivatives(design, fields), lambda: solved(design), goal=2, repeats=9
    )
    assert found.median >= found.goal


def test_twelve_lengths_against_central_differences() -> None:
    design = design_of("shell")
    fields = solved(design)
    step = 1e-3

    def differences() -> list[float]:
        values = dict(zip(*_values(design), strict=True))
        sides: Callable[[str, float], SolvedCurve] = lambda key, s: solved(design.vary(key, values[key] * (1 + s)))[0]  # noqa: E731
        return [sides(key, step).nodes[8].flux - sides(key, -step).nodes[8].flux for key in TWELVE]

    found = compare(
        "derivatives against 24 fields", lambda: derivatives(design, fields), differences, goal=10, repeats=3
    )
    assert found.median >= found.goal
    assert np.isfinite(derivatives(design, fields).flux).all()


def _values(design: Design) -> tuple[tuple[str, ...], tuple[float, ...]]:
    described = by_key(design.core, design.windings)
    return described.keys, described.values
