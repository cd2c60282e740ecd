"""Magnetisation curves against laws known in closed form, and against what physics allows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from fem.constants import MU0
from fem.materials.bh import BHCurve
from fem.materials.steel import steel, steel_names

J_S = 2.0
BEND = 150.0  # field strength of the knee [A/m]


def smooth(H):
    return J_S * H / np.hypot(BEND, H)


def table(n):
    # Equal steps of asinh: even near the origin, geometric beyond, so halving the step halves it everywhere.
    H = BEND * np.sinh(np.linspace(0.0, np.arcsinh(2e4 / BEND), n + 1))
    return BHCurve(name="law", H=H, B=smooth(H) + MU0 * H, saturation_polarisation=J_S, source="closed form")


def test_interpolation_converges_with_third_order():
    # Slopes of the monotone cubic are right to second order, so the cubic is right to third order (Fritsch and Carlson
    # 1980): 8 times less error per halved step, 7 with the next order in the way.
    H = np.linspace(0.0, 2e4, 40_001)
    errors = [np.abs(table(n).polarisation(H) - smooth(H)).max() for n in (32, 64, 128)]
    assert errors[0] > 7 * errors[1] > 49 * errors[2]


def test_tail_is_exact_where_the_steel_follows_the_law_of_approach():
    # J = J_s - a/(H + c)^2 through the last two rows gives back a and c, so nothing but rounding remains beyond the
    # table. Rounding of the last step, 0.03 T of 2 T, costs two digits.
    a, c = 4e6, 3e3
    H = np.array([0.0, 100.0, 500.0, 2e3, 5e3, 1e4])
    J = J_S - a / (H + c) ** 2
    J[0] = 0.0
    curve = BHCurve(name="law", H=H, B=J + MU0 * H, saturation_polarisation=J_S, source="closed form")
    far = np.geomspace(1e4, 1e7, 50)
    assert_allclose(curve.polarisation(far), J_S - a / (far + c) ** 2, rtol=1e-12)
    # MU0 is some 1e6 times the slope at the far end, which leaves ten digits less six there.
    assert_allclose(curve.differential_permeability(far) - MU0, 2 * a / (far + c) ** 3, rtol=1e-10, atol=1e-10 * MU0)


@pytest.mark.parametrize("name", steel_names())
def test_iron_is_never_less_steep_than_air_nor_above_saturation(name):
    curve = steel(name).curve
    H = np.concatenate(([0.0], np.geomspace(1e-3, 1e6, 20_000)))
    assert np.all(curve.differential_permeability(H) >= MU0)
    J = curve.polarisation(H)
    # A few roundings of J, 2.2e-16 each, may pass for a fall where it is flat.
    assert np.all(np.diff(J) >= -1e-15)
    assert J[-1] < curve.saturation_polarisation


@pytest.mark.parametrize("name", steel_names())
def test_slope_is_continuous_and_is_the_derivative(name):
    curve = steel(name).curve
    # Where rows meet, and at the joint with the tail, the slopes of both sides agree: 1e-9 of H to either side, the
    # slope cannot have changed by more than 1e-9 times the steepest logarithmic change, some 1e3.
    H = curve.H[1:]
    left, right = (curve.differential_permeability(H * (1 + side * 1e-9)) for side in (-1, 1))
    assert_allclose(left, right, rtol=1e-6)
    # On a cubic the difference over four points is exact. Rounding: 1e-16 B over a tenth of an interval, against dB/dH,
    # which where the rows are 1 % apart in H and B rises by 1 % leaves some 1e-13.
    mid, h = (curve.H[1:] + curve.H[:-1]) / 2, np.diff(curve.H) / 8
    B = [curve.flux_density(mid + k * h) for k in (-2, -1, 1, 2)]
    difference = (B[0] - 8 * B[1] + 8 * B[2] - B[3]) / (12 * h)
    assert_allclose(difference, curve.differential_permeability(mid), rtol=1e-10)


@pytest.mark.parametrize("name", steel_names())
@pytest.mark.parametrize("iron_fraction", [1.0, 0.96, 0.48])
def test_field_strength_inverts_the_mixture(name, iron_fraction):
    curve = steel(name).curve
    H = np.concatenate(([0.0], np.geomspace(1e-6, 1e6, 500)))
    H = np.concatenate((-H[::-1], H))
    b = iron_fraction * curve.flux_density(H) + (1 - iron_fraction) * MU0 * H
    # b is rounded to 1e-16; H follows with (b/H)/(db/dH), at most some 100 at the knee.
    assert_allclose(curve.field_strength(b, iron_fraction), H, rtol=1e-12, atol=1e-15)


# 0.3 T over 0.025 A/m is just below 1e7 times air, beyond which a table is refused.
rises = st.lists(st.tuples(st.floats(0.025, 1e4), st.floats(1e-4, 0.3)), min_size=2, max_size=12)


@settings(max_examples=60, deadline=None)
@given(rises, st.floats(0.0, 0.3))
def test_any_rising_table_gives_a_rising_curve(steps, headroom):
    dH, dJ = np.array(steps).T
    J = np.concatenate(([0.0], np.cumsum(dJ)))
    J *= min(1.0, 2.0 / J[-1])
    H = np.concatenate(([0.0], np.cumsum(dH)))
    curve = BHCurve(name="any", H=H, B=J + MU0 * H, saturation_polarisation=float(J[-1]) + headroom, source="generated")
    probe = np.concatenate((np.linspace(0.0, 1.5 * H[-1], 300), np.geomspace(1e-3, 1e7, 300)))
    # J is B minus MU0 H, two numbers of up to some 4 T: the slope is uncertain by 1e-15 T over the shortest step.
    assert np.all(curve.differential_permeability(probe) >= MU0 - 4e-15 / dH.min())
    # Odd: the same field strength the other way gives the same flux density the other way.
    assert np.array_equal(curve.flux_density(-probe), -curve.flux_density(probe))


@pytest.mark.parametrize("B", [(0.0, 1.0, 1.2), (0.0, 0.8, 1.0), (0.0, 1.0, 1.25)])
def test_the_last_row_of_a_short_table_is_found(B):
    """Flat at its end, where an ulp of flux density is 1e-10 A/m: the row itself and values an ulp or two below it."""
    curve = BHCurve(
        name="short", H=np.array([0.0, 100.0, 200.0]), B=np.array(B), saturation_polarisation=None, source="invented"
    )
    near = B[-1] * (1 - np.arange(12) * 2.0**-53)
    found = curve.field_strength(near)
    # J is level there: ten ulp of B through mu0
    assert_allclose(found, 200.0, rtol=0, atol=14 * 2.0**-53 * 1.25 / MU0)
