"""What all derivatives of a core cost beside its own solution, and beside differences of twelve dimensions."""

import time

import numpy as np
import pytest

from fem.characteristics.magnetising import by_key, planar
from fem.estimation.by_length import by_length
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from tests.benchmarks.side_by_side import tell
from tests.physics.test_by_length import solved
from tests.support.every_kind import design_of
from tests.support.moved import keyed

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]
DIMENSIONS = 12


@pytest.mark.parametrize("kind", ["shell", "two-leg", "leg gap", "shunts"])
def test_all_derivatives_of_a_core(kind: str) -> None:
    """Less than half the core's own price; ten times less than a central difference of twelve dimensions.

    Processor time, each in turn; medians of five.
    """
    design = design_of(kind)
    lengths, seconds = keyed(design), []
    for _ in range(5):
        pair = []
        for asked in (None, lengths):
            planar.KEPT.clear()
            by_key.KEPT.clear()
            start = time.process_time()
            solved(design, asked)
            pair.append(time.process_time() - start)
        seconds.append(pair)
    alone, extra = np.median(seconds, axis=0)[0], np.median(np.diff(seconds, axis=1))
    low, high = np.quantile(np.diff(seconds, axis=1)[:, 0] / np.array(seconds)[:, 0], (0.25, 0.75))
    differences = 2 * DIMENSIONS * alone / extra
    tell(
        f"derivatives of {kind} by {len(lengths.keys)} lengths: {extra / alone:.2f} ({low:.2f} to {high:.2f}) of its "
        f"own {alone:.2f} s, goal 0.5; {differences:.0f} times cheaper than differences of {DIMENSIONS}, goal 10"
    )
    assert extra < 0.5 * alone
    assert differences > 10


@pytest.mark.parametrize("kind", ["shell", "two-leg"])
def test_what_each_length_does_to_an_estimate(kind: str) -> None:
    """Ten times cheaper than estimates of cores solved anew for each length, one side each; processor time."""
    design, seconds = design_of(kind), []
    lengths = len(by_length(design))
    for _ in range(3):
        pair = []
        for task in (lambda: by_length(design), lambda: estimate(design, wanted={Part.CONDUCTOR_SLICE})):
            planar.KEPT.clear()
            by_key.KEPT.clear()
            start = time.process_time()
            task()
            pair.append(time.process_time() - start)
        seconds.append(pair)
    told, anew = np.median(seconds, axis=0)
    cheaper = (lengths + 1) * anew / told
    tell(
        f"effects of {lengths} lengths of {kind} on an estimate: {told:.2f} s, {cheaper:.1f} times cheaper than "
        f"solving each anew, {anew:.2f} s, goal 10"
    )
    assert cheaper > 10
