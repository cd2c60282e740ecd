"""Magnetic shunts: against a 3-D reference field, and what saturation must do to them."""

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron, saturating_iron
from fem.characteristics.leakage.permeance import Leakage, leakage
from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.field.static.model import build_model
from fem.materials.steel import steel
from fem.quantity import Unknown
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shunt import Shunt
from geometries.cores.stacked import Joint
from tests.physics.test_estimate import CASES, MM, brazing, built
from tests.support.kept import KEPT

CASE = CASES["M1_shunt"]


@pytest.fixture(scope="module")
def shunted() -> Leakage:
    core, blocks = built(CASE)
    given = CASE["shunt"]
    shunt = Shunt(
        height=given["height"] * MM,
        total_gap=(given["gap_to_leg"] + given["gap_to_outer_leg"]) * MM,
        bottom=(given["y_bottom"] + CASE["window_height"] / 2) * MM,
    )
    section = section_of(core, blocks, joint_regions=False, shunt=shunt).half()
    mesh = mesh_section(section)
    law_of, *_ = saturating_iron(steel("M530-50A").curve, 0.95, Joint.BUTT)
    found, _ = leakage(
        build_model(mesh, linear_iron()), core, blocks, shunt=shunt, saturating=build_model(mesh, law_of)
    )
    return found


def test_against_the_three_dimensional_reference(shunted: Leakage) -> None:
    """Reference: bounds by edge elements and scalar potential 1.2 % apart; its shunt has mu_r 2000, ours 4000.

    In series with 1 mm of air, 12 mm of iron at 2000 instead of 4000 are 0.3 % more; the wish is 3 %.
    """
    expected = CASE["leakage_permeance_3d_H_per_turn2"]
    assert shunted.permeance == pytest.approx(expected, rel=0.03)
    assert shunted.recipe_permeance == pytest.approx(expected, rel=0.03)
    window = 2 * CASE["stack_depth"] * MM * CASE["slices_2d"]["in_window_H_per_m"]
    assert shunted.window_permeance == pytest.approx(window, rel=0.01)


def test_the_curve_begins_unsaturated_and_ends_like_air(shunted: Leakage) -> None:
    """Weakly excited sheet is as good as linear iron, within 5 %. Far beyond saturation the plain leakage is left."""
    F, flux = shunted.ampere_turns, shunted.flux_per_turn
    assert F is not None
    assert flux is not None
    slope = np.diff(flux) / np.diff(F)
    assert flux[1] / F[1] == pytest.approx(shunted.permeance, rel=0.05)
    assert (slope > 0).all()
    plain = 2.2e-7  # side by side on such a core; the case without shunt has no reference of its own
    assert slope[-1] == pytest.approx(plain, rel=0.5)
    knee = F[np.argmax(slope < 0.5 * slope[0])]
    # Where the bar's flux reaches 2 T: F = B A / permeance of both bars' gaps, by the leakage beyond the plain one.
    saturates = 2 * 2.0 * CASE["shunt"]["height"] * MM * CASE["stack_depth"] * MM / (shunted.permeance - plain)
    assert knee == pytest.approx(saturates, rel=0.6)


def with_shunt(fitted: bool) -> Design:
    job = brazing(shunt={"height": 0.006, "total_gap": 1e-3, "fitted": fitted})
    job["windings"]["spacing"] = 0.010
    return Design.model_validate(job)


def test_one_switch_compares_with_the_shunts_taken_out() -> None:
    """Kept in they cut the short circuit and the no-load voltage; taken out the design is as if none were described."""
    kept = estimate(with_shunt(True), wanted=frozenset({Part.PHASOR_CHECK, Part.SHORTED_PLACES}))
    removed = estimate(with_shunt(False), wanted=frozenset(), characteristics=KEPT)
    assert kept.short_circuit.secondary_current_rms < 0.7 * removed.short_circuit.secondary_current_rms
    assert kept.open_circuit.secondary_voltage_rms < removed.open_circuit.secondary_voltage_rms
    assert not isinstance(kept.leakage.shorted_permeance, Unknown)
    assert kept.leakage.shorted_permeance < kept.leakage.permeance
    assert isinstance(removed.leakage.shorted_permeance, Unknown)
    none = brazing()
    none["windings"]["spacing"] = 0.010
    plain = estimate(Design.model_validate(none), wanted=frozenset(), characteristics=KEPT)
    assert removed.leakage.permeance == pytest.approx(plain.leakage.permeance, rel=1e-12)
    # A saturating path distorts: the phasors keep to a percent, or the difference is reported as it is here.
    assert not isinstance(kept.short_circuit.phasor_difference, Unknown)
    assert kept.short_circuit.phasor_difference < 0.02
    assert not isinstance(kept.short_circuit.peak_flux_density, Unknown)
    assert kept.short_circuit.peak_flux_density["right shunt"] > 1.5


def test_a_shunt_that_does_not_fit_is_refused_by_millimetres() -> None:
    job = brazing(shunt={"height": 0.006, "total_gap": 1e-3})
    with pytest.raises(DoesNotFit, match=r"shunt: overlaps the primary by .* mm"):
        estimate(Design.model_validate(job))
