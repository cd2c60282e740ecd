"""Leads against quadrature of first principles: their loop's inductance by Neumann, their field by Biot and Savart."""

from itertools import pairwise
from math import pi

import numpy as np
import pytest
from scipy.integrate import quad

from fem.circuit.leads.go_and_return import pair_inductance_per_m, round_loop_inductance
from fem.constants import MU0
from fem.trust.near_leads import PUBLIC, WORKER, field_reach, reference_level
from tests.support.one import lead_field

RADIUS = 1e-3
AREA = pi * RADIUS**2


def neumann_rectangle(a: float, b: float, radius: float) -> float:
    """Return mu0/(4 pi) of the double line integral round a rectangle [H].

    Of a side with itself one of the two lines is moved off by a disc's geometric mean distance from itself,
    r exp(-1/4) (J. C. Maxwell, article 692); sides at right angles do not enter.
    """

    def of(length: float, apart: float) -> float:
        # of the double integral of 1/distance, 2 (l - u) du has the two points u apart along the side
        breaks = [apart / 4, apart, 4 * apart]
        inner = [at for at in breaks if at < length]
        return quad(lambda u: 2 * (length - u) / np.hypot(u, apart), 0, length, points=inner, epsrel=1e-10, limit=200)[
            0
        ]

    own = radius * np.exp(-0.25)
    return MU0 / (4 * pi) * sum(2 * (of(side, own) - of(side, across)) for side, across in ((a, b), (b, a)))


@pytest.mark.parametrize(("a", "b"), [(0.6, 0.04), (0.3, 0.3), (0.1, 0.5), (0.05, 2.0), (0.02, 0.02)])
def test_lead_loop_by_neumann(a: float, b: float) -> None:
    # The closed form leaves out what is of the first order in the wire's radius: mu0/(2 pi) r for each of four sides,
    # and as much again for what the thin-wire integral itself leaves out at the corners.
    expected = neumann_rectangle(a, b, RADIUS)
    assert round_loop_inductance(2 * a, AREA, b) == pytest.approx(expected, abs=2 * 4 * MU0 / (2 * pi) * RADIUS)


def test_square_of_round_wire() -> None:
    # Two closed forms of one loop: a square of side a has 2 mu0 a/pi (ln(a/r) - 0.52401) with current all through the
    # wire; E. B. Rosa and F. W. Grover, Bull. Bur. Stds 8 (1911), from memory: ln(a/r) + mu delta - 0.77401.
    found = round_loop_inductance(2.0, AREA, 1.0)
    assert found == pytest.approx(2 * MU0 / pi * (np.log(1 / RADIUS) + 0.25 - 0.77401), rel=1e-6)


def test_long_leads_are_a_pair_and_nothing_jumps() -> None:
    # What the ends add stays, 6e-9 H here, while the pair grows.
    length = 1e4
    pair = 0.5 * length * pair_inductance_per_m(0.02, RADIUS)
    assert round_loop_inductance(length, AREA, 0.02) == pytest.approx(pair, rel=1e-5)
    for a, b in ((np.geomspace(1e-6, 50, 40001), 0.05), (0.3, np.geomspace(2 * RADIUS, 2.0, 40001))):
        found = round_loop_inductance(2 * a, AREA, b)
        rise = np.diff(np.log(found))
        # Steps of 2e-4 and 4e-4 of a length; steepest where two ends are one wire's radius apart.
        assert rise.min() > 0
        assert rise.max() < 0.01


def biot_savart(points: np.ndarray, spacing: float, length: float) -> np.ndarray:
    """Return |B| (n,) [T] of 1 A go and return in two wires of a length, at points (n, 2) across their middle."""
    nodes, weights = np.polynomial.legendre.leggauss(16)
    # Panels that double away from the middle, so that each is smooth on the scale of its distance.
    ends = np.concatenate([[0.0], 1e-2 * 2.0 ** np.arange(40)])
    ends = np.append(ends[ends < length / 2], length / 2)
    z = np.concatenate([0.5 * (lo + hi) + 0.5 * (hi - lo) * nodes for lo, hi in pairwise(ends)])
    dz = np.concatenate([0.5 * (hi - lo) * weights for lo, hi in pairwise(ends)])
    field = np.zeros_like(points)
    for x, current in ((-spacing / 2, 1.0), (spacing / 2, -1.0)):
        away = points - (x, 0.0)
        kernel = 2 * (dz / (np.sum(away**2, axis=1)[:, None] + z**2) ** 1.5).sum(axis=1)
        field += MU0 / (4 * pi) * current * kernel[:, None] * np.stack([-away[:, 1], away[:, 0]], axis=1)
    return np.hypot(*field.T)


@pytest.mark.parametrize("spacing", [0.04, 0.15, 0.6, 2.0])
@pytest.mark.parametrize("distance", [0.1, 0.2, 0.5])
def test_field_beside_the_leads_is_the_largest_round_them(spacing: float, distance: float) -> None:
    # All round the nearer lead, one half by symmetry; where the other one is nearer, the point is another distance off.
    angle = np.linspace(0, pi, 3601)
    points = np.stack([spacing / 2 + distance * np.cos(angle), distance * np.sin(angle)], axis=1)
    points = points[np.hypot(points[:, 0] + spacing / 2, points[:, 1]) >= distance * (1 - 1e-12)]
    long = biot_savart(points, spacing, 2000.0)
    # pi/3600 of angle between points: 1e-3 of the other lead's distance
    assert long.max() == pytest.approx(lead_field(1.0, distance, spacing), rel=1e-3)
    assert biot_savart(points, spacing, 1.0).max() <= lead_field(1.0, distance, spacing)


@pytest.mark.parametrize("spacing", [0.04, 0.6, 2.0, np.inf])
@pytest.mark.parametrize("level", [0.2e-3, 1e-3, 5e-3])
def test_reach_is_where_the_level_is_met(spacing: float, level: float) -> None:
    reach = field_reach(2000.0, level, spacing)
    assert lead_field(2000.0, reach, spacing) == pytest.approx(level, rel=1e-12)


def test_reference_levels_by_frequency() -> None:
    # ICNIRP 2010, Health Phys. 99:818-836, as reprinted in Bioelectromagnetism, table 7.3; 60 Hz: 2 and 10 gauss.
    at = {16.7: (5e-3 / 16.7, 25e-3 / 16.7), 50: (2e-4, 1e-3), 60: (2e-4, 1e-3), 400: (2e-4, 0.3 / 400)}
    for frequency, (public, worker) in at.items():
        assert reference_level(PUBLIC, frequency) == pytest.approx(public, rel=1e-12)
        assert reference_level(WORKER, frequency) == pytest.approx(worker, rel=1e-12)
    for table in (PUBLIC, WORKER):  # the pieces meet
        for upper, _, _ in table[:-1]:
            assert reference_level(table, upper) == pytest.approx(reference_level(table, upper * (1 + 1e-12)), rel=1e-9)
    with pytest.raises(ValueError, match="4000"):
        reference_level(PUBLIC, 4000.0)
