"""The tabulated reluctivity against the curve it came from, closed forms and its own derivative and integrals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fem.constants import MU0
from fem.materials.bh import BHCurve
from fem.materials.mixture import STEP, TABLE_END, Reluctivity
from fem.materials.steel import steel, steel_names

FRACTIONS = (1.0, 0.96, 0.48)
OWN = [name for name in steel_names() if steel(name).curve_of is None]
CASES = [
    *((name, fraction) for name in OWN for fraction in FRACTIONS),
    *((name, 0.96) for name in steel_names() if name not in OWN),  # another grade's curve, its polarisation scaled
]
GRID = STEP * np.arange(round(TABLE_END / STEP) + 1)


@pytest.fixture(scope="module")
def laws():
    return {case: Reluctivity.of_lamination(steel(case[0]).curve, case[1]) for case in CASES}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_table_points_are_exact(laws, case):
    name, fraction = case
    law = laws[case]
    H = law.field_strength(GRID)
    iron = steel(name).curve.flux_density(H)
    # The inversion stops at 1e-13 of H; b moves with at most some twice that in relative terms, on top of rounding.
    assert_allclose(fraction * iron + (1 - fraction) * MU0 * H, GRID, rtol=1e-12, atol=1e-16)
    assert_allclose(law.iron_flux_density(GRID), iron, rtol=1e-12, atol=1e-16)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_between_table_points_the_error_does_not_matter(laws, case):
    # The idle current is wanted to 1 %; a table that is right to 1e-4 in H takes no part in that. A curve bends at its
    # first row, of some grades at 5 mT: a step round it, a three-hundredth of what a core works at, is left out.
    b = GRID[12:-1] + STEP / 2
    assert_allclose(laws[case].field_strength(b), steel(case[0]).curve.field_strength(b, case[1]), rtol=1e-4)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_tangent_is_the_derivative_of_the_field_strength(laws, case):
    # dH/db = nu + 2 b2 dnu. Inside an interval H is a cubic, for which the four-point difference is exact; rounding of
    # H, 1e-16 H over 1e-4 T, stays below 1e-9 of H/b and so of dH/db, which is at least some 0.1 H/b.
    law = laws[case]
    b = np.concatenate((GRID[:-1:7] + STEP / 2, [4.5, 6.0, 20.0]))
    h = STEP / 8
    H = [law.field_strength(b + k * h) for k in (-2, -1, 1, 2)]
    difference = (H[0] - 8 * H[1] + 8 * H[2] - H[3]) / (12 * h)
    nu, dnu = law.nu_dnu(b**2)
    assert_allclose(nu + 2 * b**2 * dnu, difference, rtol=1e-8)
    assert_allclose(nu * b, law.field_strength(b), rtol=1e-13)
    assert np.array_equal(law.nu(b**2), nu)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_tangent_is_positive_and_ends_near_air(laws, case):
    name, fraction = case
    law = laws[case]
    b = np.linspace(0.0, 5.0, 50_001)
    nu, dnu = law.nu_dnu(b**2)
    tangent = nu + 2 * b**2 * dnu
    assert np.all(tangent > 0)
    # Nothing is less permeable than air; 1e-9 covers rounding.
    assert np.all(tangent * MU0 <= 1 + 1e-9)
    # The straight line goes on with the slope of the curve where the table ends.
    mu = fraction * steel(name).curve.differential_permeability(law.field_strength(TABLE_END)) + (1 - fraction) * MU0
    assert_allclose(tangent[-1] * mu, 1.0, rtol=1e-10)


@pytest.mark.parametrize("case", CASES[::5], ids=str)
def test_energy_is_the_integral(laws, case):
    # Two Gauss points integrate a cubic exactly, so H db and b dH over every interval are exact sums.
    law = laws[case]
    edges = np.append(GRID, 5.0)
    mid, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    energy, coenergy = np.zeros(mid.size), np.zeros(mid.size)
    for point in (-(3**-0.5), 3**-0.5):
        b = mid + point * half
        nu, dnu = law.nu_dnu(b**2)
        energy += half * nu * b
        coenergy += half * b * (nu + 2 * b**2 * dnu)
    # Some 1e4 additions of 1e-16 each.
    assert_allclose(law.energy_density(edges[1:]), np.cumsum(energy), rtol=1e-11)
    assert_allclose(law.coenergy_density(edges[1:]), np.cumsum(coenergy), rtol=1e-11)
    # Within an interval the derivative of the energy is H, and on a quartic the four-point difference is exact.
    # Rounding: 1e-16 of the energy, which is at most 4 T times H, over 1e-4 T.
    b, h = GRID[100:-100:77] + STEP / 2, STEP / 8
    w = [law.energy_density(b + k * h) for k in (-2, -1, 1, 2)]
    assert_allclose((w[0] - 8 * w[1] + 8 * w[2] - w[3]) / (12 * h), law.field_strength(b), rtol=1e-10)


def test_zero_field_is_safe(laws):
    for law in laws.values():
        nu, dnu = law.nu_dnu(np.zeros((2, 3)))
        # The reluctivity at zero is that at the floor of 1e-7 T, where it has moved by 1e-8 of what an interval does.
        assert_allclose(nu, law.nu_initial, rtol=1e-8)
        assert np.array_equal(dnu, np.zeros((2, 3)))
        # Just above, nu leaves without a jump and as the even law it is: with b2, all through the first interval.
        b2 = np.array([1e-12, 1e-10, 1e-8])
        near, slope = law.nu_dnu(b2)
        bend = (law.nu(np.array(STEP**2 * 0.99)) - law.nu_initial) / (STEP**2 * 0.99)
        assert_allclose(near, law.nu_initial + bend * b2, rtol=1e-12)
        assert np.all(np.isfinite(slope))
        assert law.energy_density(0.0) == law.field_strength(0.0) == 0.0


def test_shape_and_chunks_do_not_matter(laws):
    law = laws["M400-50A", 0.96]
    b2 = np.random.default_rng(1).uniform(0.0, 20.0, (3, 7, 997))
    nu, dnu = law.nu_dnu(b2)
    assert nu.shape == dnu.shape == b2.shape
    one, slope = law.nu_dnu(b2[2, 3, 500])
    assert (one, slope) == (nu[2, 3, 500], dnu[2, 3, 500])


def test_closed_form_mixture():
    # J = J_s H/(H + h): iron_fraction J(H) + MU0 H = b is a quadratic in H. The table has 2000 rows in equal steps of
    # asinh, 5e-3 of H; away from the origin, where this law has a corner in dJ/dH, its cubics are right to third order,
    # some (5e-3)^3/12 = 1e-8 of J and 20 times that of H at the knee, where (b/H)/(db/dH) is about 20.
    J_s, h, fraction = 2.0, 150.0, 0.48
    H = h * np.sinh(np.linspace(0.0, np.arcsinh(3e6 / h), 2001))
    curve = BHCurve(name="law", H=H, B=J_s * H / (H + h) + MU0 * H, saturation_polarisation=J_s, source="closed form")
    law = Reluctivity.of_lamination(curve, fraction)
    b = np.linspace(0.1, 3.9, 401)
    p = MU0 * h + fraction * J_s - b
    expected = (-p + np.sqrt(p**2 + 4 * MU0 * b * h)) / (2 * MU0)
    assert_allclose(law.field_strength(b), expected, rtol=1e-6)
    assert_allclose(law.iron_flux_density(b), J_s * expected / (expected + h) + MU0 * expected, rtol=1e-6)


@pytest.mark.parametrize("mu_r", [1.0, 1000.0])
def test_linear_law_is_exact(mu_r):
    law = Reluctivity.linear(mu_r)
    b2 = np.geomspace(1e-12, 1e4, 50)
    nu, dnu = law.nu_dnu(b2)
    assert np.array_equal(nu, np.full(50, 1 / (MU0 * mu_r)))
    assert np.array_equal(dnu, np.zeros(50))
    assert law.nu_initial == nu[0]
    b = np.linspace(-3.0, 7.0, 11)
    # Closed forms; a handful of roundings.
    assert_allclose(law.field_strength(b), b / (MU0 * mu_r), rtol=1e-15)
    assert_allclose(law.energy_density(b), b**2 / (2 * MU0 * mu_r), rtol=2e-15)
    assert_allclose(law.coenergy_density(b), b**2 / (2 * MU0 * mu_r), rtol=2e-15)
    assert_allclose(law.iron_flux_density(b), b, rtol=1e-15)
    assert law.valid_to == np.inf


def test_table_without_saturation_keeps_its_last_polarisation():
    curve = BHCurve(
        name="short",
        H=np.array([0.0, 100.0, 1e3, 1e4]),
        B=np.array([0.0, 0.8, 1.4, 1.7]),
        saturation_polarisation=None,
        source="test",
    )
    law = Reluctivity.of_lamination(curve, 0.5)
    b_end = 0.5 * 1.7 + 0.5 * MU0 * 1e4
    assert law.valid_to == pytest.approx(b_end, rel=1e-14)
    # Straight from the first table point above the last row.
    b = np.array([b_end + STEP, 2.0, 3.9, 5.0])
    assert_allclose(law.field_strength(b), 1e4 + (b - b_end) / MU0, rtol=1e-12)


def test_digest_follows_the_table():
    curve = steel("M400-50A").curve
    one = Reluctivity.of_lamination(curve, 0.96)
    assert one.digest == Reluctivity.of_lamination(curve, 0.96).digest
    others = {
        Reluctivity.of_lamination(curve, 0.95).digest,
        Reluctivity.of_lamination(steel("M330-50A").curve, 0.96).digest,
        Reluctivity.linear(1.0).digest,
    }
    assert len(others | {one.digest}) == 4
    assert len(one.digest) == 64
