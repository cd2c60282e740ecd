"""Grades and metals by name, and the faults of asking for the wrong one."""

import pickle
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from fem.materials.loss import CoreLoss
from fem.materials.metals import UnknownMetal, metal, metal_names
from fem.materials.mixture import Reluctivity
from fem.materials.steel import UnknownSteel, steel, steel_names


def test_unknown_steel_names_all_and_the_nearest():
    with pytest.raises(UnknownSteel) as caught:
        steel("m400 50a")
    text = str(caught.value)
    assert all(name in text for name in steel_names())
    assert 'did you mean "M400-50A"?' in text
    assert "\n" not in text


def test_unknown_metal_names_all_and_the_nearest():
    with pytest.raises(UnknownMetal, match=r'did you mean "aluminium"\?; known: copper, aluminium'):
        metal("aluminum")
    with pytest.raises(UnknownMetal, match=r"known: copper, aluminium, copper-clad aluminium$"):
        metal("xyz")


def test_names_resolve():
    assert len(steel_names()) >= 6
    assert [steel(name).name for name in steel_names()] == list(steel_names())
    assert [metal(name).name for name in metal_names()] == ["copper", "aluminium", "copper-clad aluminium"]


def test_grades_run_from_low_to_high_loss():
    losses = [round(float(steel(name).loss.specific(1.5, 50.0)), 6) for name in steel_names()]
    assert losses == sorted(losses)


def test_grade_cannot_be_changed():
    grade = steel("M400-50A")
    with pytest.raises(FrozenInstanceError):
        grade.thickness = 1.0
    with pytest.raises(ValueError, match="read-only"):
        grade.curve.H[0] = 1.0


def test_pickle_keeps_curve_and_law():
    curve = steel("M400-50A").curve
    law = Reluctivity.of_lamination(curve, 0.96)
    curve_again, law_again = pickle.loads(pickle.dumps((curve, law)))
    H = np.array([0.0, 50.0, 1e3, 1e6])
    assert np.array_equal(curve_again.flux_density(H), curve.flux_density(H))
    assert law_again.digest == law.digest
    assert np.array_equal(law_again.energy_density(H / 1e6), law.energy_density(H / 1e6))


def test_loss_band_holds_the_guaranteed_figure():
    loss = steel("M530-50A").loss
    low, high = loss.band(1.2, 50.0)
    assert low < loss.specific(1.2, 50.0) == high
    # At 60 Hz the upper end lets the rest go with f^1.5 instead of f.
    _, high_60 = loss.band(1.2, 60.0)
    assert high_60 - loss.eddy(1.2, 60.0) == pytest.approx(loss.hysteresis(1.2, 60.0) * 1.2**0.5)


@pytest.mark.parametrize(
    ("call", "text"),
    [
        (lambda: steel("M400-50A").loss.specific(1.0, 0.0), "frequency 0 Hz"),
        (lambda: CoreLoss(hysteresis_coefficient=-1.0, hysteresis_exponent=2.0, eddy_coefficient=0.0), "hysteresis -1"),
        (
            lambda: CoreLoss.of_guarantee(loss_1_0=0.2, loss_1_5=0.5, thickness=1e-3, density=7700.0, conductivity=3e6),
            "leave -",
        ),
        (lambda: metal("copper").resistivity([300.0, 20.0]), "20 K"),
        (
            lambda: replace(metal("copper"), resistivity_20=0.0),
            "resistivity_20 0",
        ),
        (lambda: Reluctivity.of_lamination(steel("M400-50A").curve, 1.2), "iron fraction 1.2"),
        (lambda: Reluctivity.of_lamination(steel("M400-50A").curve, 0.0), "iron fraction 0"),
        (lambda: Reluctivity.linear(0.0), "permeability 0"),
        (lambda: Reluctivity(step=1.0, coefficients=np.array([[0.0], [-1.0], [0.0], [0.0]]), iron_fraction=1.0), "0 T"),
    ],
)
def test_impossible_numbers_are_named(call, text):
    with pytest.raises(ValueError, match=text):
        call()
