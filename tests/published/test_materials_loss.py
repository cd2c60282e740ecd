"""Loss separation against worked examples, and every grade against the losses of EN 10106."""

from itertools import pairwise

import pytest

from fem.materials.loss import eddy_coefficient
from fem.materials.steel import steel, steel_names
from tests.support.values import published

# EN 10106 table 2: the table of published values says which rows are from memory.
EN10106 = {name: tuple(published(f"steel_{name}_P{b}").number for b in ("1.0", "1.5")) for name in steel_names()}


@pytest.mark.parametrize("name", steel_names())
def test_guaranteed_losses_are_met_exactly(name):
    at_1_0, at_1_5 = EN10106[name]
    # Two parameters through two figures: only rounding is left.
    assert steel(name).loss.specific([1.0, 1.5], 50.0) == pytest.approx([at_1_0, at_1_5], rel=1e-12)


@pytest.mark.parametrize("name", steel_names())
def test_guaranteed_loss_agrees_with_the_steel_name(name):
    # EN 10027-1: the figure after M is a hundred times the maximum loss at 1.5 T, 50 Hz; the one after the dash is a
    # hundred times the thickness in mm.
    figure, thickness = name.strip("MA").split("-")
    assert float(steel(name).loss.specific(1.5, 50.0)) * 100 == pytest.approx(float(figure))
    assert steel(name).thickness * 1e5 == pytest.approx(float(thickness))


@pytest.mark.parametrize("name", steel_names())
def test_classical_part_is_the_textbook_formula(name):
    # P = pi^2 sigma d^2 f^2 B^2/(6 rho), any text on lamination loss; spelled out with d in mm, sigma in MS/m, rho in
    # kg/dm3: the powers of ten cancel to 1e-3 (from memory). Unknown conductivity: 45 micro-ohm cm.
    grade = steel(name)
    sigma = (grade.conductivity or 1 / 45e-8) / 1e6
    expected = 1e-3 * 9.8696044 * sigma * (grade.thickness * 1e3) ** 2 * 50**2 * 1.5**2 / (6 * grade.density / 1e3)
    assert grade.loss.eddy(1.5, 50.0) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("name", steel_names())
def test_hysteresis_exponent_is_usual(name):
    # Steinmetz's exponent for sheet between 1.0 and 1.5 T: 1.6 to 2.5, common practice, no source.
    assert 1.6 < steel(name).loss.hysteresis_exponent < 2.5


def test_lower_end_of_the_band_is_the_widest_step_between_grades():
    # EN 10106, maximum at 1.5 T of the 0.50 mm grades [W/kg].
    ladder = (2.50, 2.70, 2.90, 3.10, 3.30, 3.50, 4.00, 4.70, 5.30, 6.00, 7.00, 8.00, 9.40)
    widest = min(better / worse for better, worse in pairwise(ladder))
    low, high = steel("M400-50A").loss.band(1.5, 50.0)
    assert low / high == pytest.approx(widest, abs=0.005)  # rounded to 0.01


def test_eddy_coefficient_needs_positive_numbers():
    with pytest.raises(ValueError, match=r"conductivity 0 S/m"):
        eddy_coefficient(thickness=5e-4, density=7700.0, conductivity=0.0)
