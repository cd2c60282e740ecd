"""Common practice on a core of which no one knows the steel: the fit's own curve against that of the bench's truth.

Ten turns of search coil, the no-load run at three volts, ends joined with a clamp, as `tests.truth.benches` reads them
off machines computed apart from the tool. Their steel is M400-50A, drawn off its table; the job names none, so that a
middling grade stands in, of some two and a half times the field strength at 0.8 T and two thirds of it at 1.5 T.
"""

from dataclasses import replace

import numpy as np
import pytest

from fem.materials.steel import steel
from tests.truth.benches import Bench, benches
from tests.truth.judge_fit import fitted


def bench(name: str) -> Bench:
    """Return a bench whose job does not name the steel."""
    found = next(each for each in benches() if each.name == name)
    core = {key: value for key, value in found.job["core"].items() if key != "steel"}
    assert not found.cause
    assert found.job["core"]["steel"] == "M400-50A"
    return replace(found, job={**found.job, "core": core})


@pytest.mark.slow
def test_the_curve_is_that_of_the_steel() -> None:
    inside = []
    for name in ("004", "010", "050"):
        truth = bench(name)
        found = fitted(truth)
        grade, true = steel("M400-50A").curve, truth.true
        B = np.array([point.flux_density for point in found.steel])
        H = np.exp(np.interp(B, grade.B[1:] * true["steel"], np.log(grade.H[1:] * true["field"])))
        told = [(p.low < field < p.high) for p, field in zip(found.steel, H, strict=True) if p.left < 0.5]
        assert len(told) >= 8
        inside += told
        (idle,) = (effect for effect in found.effects if effect.key == "idle.current_rms_A")
        # a 90 % interval misses once in ten times: what holds the truth is it and half its width on either side
        reach = (idle.high - idle.low) / 2
        assert idle.low - reach < truth.outcomes[idle.key] < idle.high + reach
        assert idle.high / idle.low < 0.75 * idle.before_high / idle.before_low
    # points of one curve hang together: of three curves nine in ten may well be eight
    assert np.mean(inside) > 0.75
