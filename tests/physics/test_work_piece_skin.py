"""Skin effect: the linear formulas against limits, the saturating steel against a march of the diffusion."""

from math import pi, sqrt

import numpy as np
import pytest

from fem.constants import MU0
from fem.work.sections import RoundSection, StripSection
from fem.work.skin import effective_permeability, round_ac_factor, strip_ac_factor
from tests.support.diffusion import marched_field


@pytest.mark.parametrize(
    ("factor", "low", "high"),
    # Series and limits of the same solutions, B. Hague / textbooks, from memory: 1 + x^4/48 and x/2 + 1/4 with
    # x = a / delta for a round bar; 1 + 4 x^4 / 45 and x for a strip of half thickness x deltas.
    [
        (round_ac_factor, lambda x: 1 + x**4 / 48, lambda x: x / 2 + 0.25),
        (strip_ac_factor, lambda x: 1 + 4 * x**4 / 45, lambda x: x),
    ],
)
def test_limits(factor, low, high) -> None:
    # Next terms: x^8 / 2880 and 3 / (32 x) for the round bar, less for the strip.
    assert factor(0.5) == pytest.approx(low(0.5), abs=2e-4)
    assert factor(20.0) == pytest.approx(high(20.0), abs=5e-3)
    assert factor(0.0) == 1.0
    assert np.all(np.diff(factor(np.linspace(0.0, 40.0, 500))) > -1e-12)


def marched_factor(
    field_peak: float, section: RoundSection | StripSection, rho: float, js: float, half: float
) -> float:
    """March the diffusion through a section at 50 Hz with a sinusoidal current; return loss over d.c. loss."""
    depth, cells, steps = section.half_depth, 60, 160
    fields = marched_field(field_peak, section, rho, js, half, cells=cells, steps=steps, periods=2, residual=1e-8)
    is_round = isinstance(section, RoundSection)
    weight = (2 * np.arange(cells) + 1) / cells if is_round else np.ones(cells)
    loss = float(np.sum(fields[steps:] ** 2 @ weight)) / rho * depth / cells / steps
    uniform = (2 if is_round else 1) * field_peak / depth
    return loss / (rho * uniform**2 / 2 * depth)


@pytest.mark.parametrize("field_peak", [3e3, 1e4, 3e4])
@pytest.mark.parametrize(
    "section",
    [
        RoundSection(diameter=4e-3),
        RoundSection(diameter=16e-3),
        StripSection(width=0.2, thickness=4e-3),
        StripSection(width=0.2, thickness=16e-3),
    ],
    ids=["rod 4", "rod 16", "strip 4", "strip 16"],
)
def test_saturating_steel(field_peak: float, section: RoundSection | StripSection) -> None:
    # The same B(H), solved without the notion of an effective permeability: the formula claims 11 %.
    rho, js, half = 2e-7, 2.0, 2000.0
    mu, _ = effective_permeability(field_peak, js, half)
    found = float(section.ac_factor(section.half_depth * sqrt(pi * 50.0 * MU0 * mu / rho)))
    assert found == pytest.approx(marched_factor(field_peak, section, rho, js, half), rel=0.11)


def test_slope_of_the_permeability() -> None:
    for h in (0.0, 500.0, 2e4):
        up, down = (effective_permeability(h + d, 2.0, 2000.0)[0] for d in (1e-2, -1e-2 if h else 0.0))
        step = 2e-2 if h else 1e-2
        assert effective_permeability(h, 2.0, 2000.0)[1] == pytest.approx((up - down) / step, rel=1e-4)


def test_no_polarisation_no_permeability() -> None:
    assert effective_permeability(1e4, 0.0, 2000.0) == (1.0, 0.0)
