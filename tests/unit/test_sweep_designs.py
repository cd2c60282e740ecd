"""Sweeps from Python, point by point."""

import pytest

import fem


def test_points_given_one_by_one_are_those_of_the_combinations() -> None:
    design = fem.example_design()
    lengths = ["0.6 m", 1.2]
    crossed = fem.sweep(design, {"leads.length": lengths})
    listed = fem.sweep(design, ({"leads.length": length} for length in lengths))
    assert listed == crossed


def test_a_point_that_does_not_fit_is_a_row_with_its_reason() -> None:
    points = [{"leads.length": "0.6 m"}, {"windings.secondary.turns": 90, "leads.length": 0.6}]
    done, refused = fem.sweep(fem.example_design(), points)
    assert done.results
    assert not done.reason
    assert refused.status.value == "refused"
    assert "90 turns" in refused.reason
    assert not refused.results
    assert refused.point == points[1]


def test_a_wrong_key_of_a_late_point_is_told_before_anything_is_computed() -> None:
    with pytest.raises(KeyError, match="nonsense"):
        fem.sweep(fem.example_design(), [{"leads.length": 1.0}, {"leads.nonsense": 1.0}])


def test_no_points_are_no_rows() -> None:
    assert fem.sweep(fem.example_design(), []) == []
