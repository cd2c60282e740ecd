"""Skin and proximity effect: tables and formulas of the handbooks."""

from math import pi, sqrt

import numpy as np
import pytest

from fem.characteristics.resistance.leads import cable_pair_ratio, lead_ratio, round_pair
from fem.characteristics.resistance.wire import round_wire_field_loss, round_wire_ratio, strip_field_loss
from fem.constants import MU0
from fem.field.harmonic.problem import skin_depth
from fem.field.harmonic.solve import respond
from geometries.shapes.section import Section
from geometries.windings.conductors import Conductor
from tests.support.harmonic import COPPER, disc, slot, solid_problem

# Isolated round wire, x = radius sqrt(omega mu0 sigma): R/R0 and internal L/L0. E. B. Rosa and F. W. Grover, Bull.
# Bureau of Standards 8 (1911), table XXII; NBS Circular 74, table 18 (from memory, recomputed with Bessel functions).
ROUND_WIRE = [
    (1.0, 1.00519, 0.99741),
    (2.0, 1.07816, 0.96114),
    (3.0, 1.31809, 0.84517),
    (4.0, 1.67787, 0.68632),
    (5.0, 2.04273, 0.55597),
]
FREQUENCY = 50.0


@pytest.mark.parametrize(("frequency", "depth", "digits"), [(50.0, 9.346e-3, 5e-7), (60.0, 8.532e-3, 5e-7)])
def test_skin_depth_of_copper(frequency: float, depth: float, digits: float) -> None:
    # Handbook value for 1/58 ohm mm2/m, "about 8.5 mm at 60 Hz" (four digits computed from the definition).
    assert skin_depth(COPPER, frequency) == pytest.approx(depth, abs=digits)


@pytest.mark.parametrize(("x", "resistance", "inductance"), ROUND_WIRE)
def test_round_wire_with_automatic_mesh(x: float, resistance: float, inductance: float) -> None:
    """Two quadratic elements per skin depth.

    The slope of exp((1 + j) s) is off by h^2/12 of its second derivative in an element: 0.25 x 2/12 = 4 % at the
    surface for h = 1/2, and an impedance, stationary in the field, by the square of that, 0.17 %; less inside.
    """
    radius = x / sqrt(2) * skin_depth(COPPER, FREQUENCY)
    far = 4 * radius
    problem = solid_problem(Section(regions=(disc("wire", 0, 0, radius),), outline=(-far, -far, far, far)), FREQUENCY)
    Z = respond(problem, FREQUENCY).impedance_per_m[0, 0]
    assert Z.real * COPPER * pi * radius**2 == pytest.approx(resistance, rel=1.7e-3)
    # Only the internal inductance changes with frequency. The wire is a polygon of 24 sides: its corners share the
    # inner flux differently by (pi/24)^2/12 = 0.14 % of the internal part.
    even = respond(problem, 1e-3 * FREQUENCY).impedance_per_m[0, 0].imag / (2e-3 * pi * FREQUENCY)
    change = (Z.imag / (2 * pi * FREQUENCY) - even) / (MU0 / (8 * pi))
    assert 1 + change == pytest.approx(inductance, abs=1.5e-3)


@pytest.mark.parametrize(("x", "resistance", "_"), ROUND_WIRE)
def test_round_wire_by_formula(x: float, resistance: float, _: float) -> None:
    # five decimals printed
    assert round_wire_ratio(x / sqrt(2) * skin_depth(COPPER, 50.0), COPPER, 50.0) == pytest.approx(resistance, abs=6e-6)


def test_round_wire_printed_anchor() -> None:
    # J. H. Neher and M. H. McGrath, Trans. AIEE 76 (1957) 752, table III: x = 2.14 -> 10.05 %.
    assert round_wire_ratio(2.14 / sqrt(2) * skin_depth(COPPER, 50.0), COPPER, 50.0) - 1 == pytest.approx(
        0.1005, abs=1e-4
    )


@pytest.mark.parametrize(("xi", "resistance", "inductance"), [(1.0, 1.085636, 0.975589), (2.0, 1.897806, 0.752276)])
def test_bar_that_fills_a_slot(xi: float, resistance: float, inductance: float) -> None:
    """A. B. Field (1905), F. Emde, R. Richter, Elektrische Maschinen (from memory): xi = height/skin depth.

    Tolerance as for the round wire, with the mean of the squared slope error over the bar, a third: 0.06 %.
    """
    height, width = xi * skin_depth(COPPER, FREQUENCY), 5e-3
    section, mouth = slot(1, height, width)
    Z = respond(solid_problem(section, FREQUENCY, fixed=mouth), FREQUENCY).impedance_per_m[0, 0]
    assert Z.real * COPPER * height * width == pytest.approx(resistance, rel=6e-4)
    assert Z.imag / (2 * pi * FREQUENCY) == pytest.approx(inductance * MU0 * height / (3 * width), rel=6e-4)


@pytest.mark.parametrize(("layers", "resistance"), [(2, 1.40601), (3, 1.93996), (4, 2.68750)])
def test_foil_winding(layers: int, resistance: float) -> None:
    """P. L. Dowell, Proc. IEE 113 (1966) 1387: layers of one skin depth, equal currents.

    The gaps between the layers do not matter. Tolerance as for the bar; asked: 1 %.
    """
    height, width = skin_depth(COPPER, FREQUENCY), 5e-3
    section, mouth = slot(layers, height, width, gap=1e-3)
    response = respond(solid_problem(section, FREQUENCY, fixed=mouth), FREQUENCY)
    power = response.at(np.ones(layers, dtype=np.complex128)).complex_power_per_m
    assert power.real / layers * COPPER * height * width == pytest.approx(resistance, rel=6e-4)


@pytest.mark.parametrize(("diameter", "spacing"), [(10e-3, 12e-3), (10e-3, 30e-3), (20e-3, 24e-3), (20e-3, 60e-3)])
def test_pair_of_solid_leads(diameter: float, spacing: float) -> None:
    """IEC 60287-1-1:2006, 2.1.2 and 2.1.3, two single-core cables (from memory).

    The standard's proximity factor is one term of a series in diameter/spacing and its skin factor a fit: 5 % of the
    excess is left for both.
    """
    found = round_pair(diameter / 2, spacing, COPPER, FREQUENCY) - 1
    direct = 1 / (COPPER * pi / 4 * diameter**2)
    assert found == pytest.approx(cable_pair_ratio(direct, diameter, spacing, FREQUENCY) - 1, rel=0.05)


def test_lead_ratio_goes_on_where_the_formula_ends() -> None:
    """The standard's formula and the field meet at x = 1.5 within 5 % of the excess, which grows as f^2 there."""
    cable, spacing, direct = Conductor(cable="70 mm2"), 40e-3, 0.272e-3
    # x^2 = 8 pi f 1e-7/R' with 0.272 ohm/km (IEC 60228:2004, table 3): 1.5 at 243.5 Hz.
    below, above = (
        lead_ratio(cable, "copper", spacing=spacing, frequency=f, temperature=293.15) - 1 for f in (243.0, 244.0)
    )
    assert below == pytest.approx(cable_pair_ratio(direct, cable.bare_width, spacing, 243.0) - 1, rel=1e-3)
    assert above == pytest.approx(below, rel=0.05 + 2 / 243)
    assert above != pytest.approx(cable_pair_ratio(direct, cable.bare_width, spacing, 244.0) - 1, rel=1e-4)
    with pytest.raises(ValueError, match="too thick for the formula"):
        cable_pair_ratio(direct, 12e-3, spacing, 855.0)


@pytest.mark.parametrize("x", [0.3, 1.0, 2.0, 4.0])
def test_pair_is_the_sum_of_its_terms(x: float) -> None:
    """Own field (Rosa and Grover) and the other's uniform field (Ferreira) add up in far wires: next term (d/s)^4."""
    radius = x / sqrt(2) * skin_depth(COPPER, FREQUENCY)
    spacing = 10 * radius
    direct = 1 / (COPPER * pi * radius**2)
    uniform = MU0 / (2 * pi * spacing)
    own = round_wire_ratio(radius, COPPER, FREQUENCY)
    other = round_wire_field_loss(radius, COPPER, FREQUENCY) * uniform**2 / direct
    assert round_pair(radius, spacing, COPPER, FREQUENCY) == pytest.approx(
        own + other, rel=1.7e-3 * (1 - 1 / own) + 0.2**4 * other + 1e-6
    )


@pytest.mark.parametrize(("size", "ratio"), [(70.0, 1.005), (240.0, 1.05)])
def test_cable_leads_hardly_differ_from_direct_current(size: float, ratio: float) -> None:
    # IEC 60228:2004, table 3, class 5, at 20 degC: 0.272 and 0.0801 ohm/km. A bound, not a value: at 50 Hz the a.c.
    # ratio of cable up to 70 mm2 is below 1.005 even with the conductors nearly touching.
    resistance = {70.0: 0.272e-3, 240.0: 0.0801e-3}[size]
    diameter = sqrt(4 * size * 1e-6 / pi / 0.58)
    assert 1 < cable_pair_ratio(resistance, diameter, 1.2 * diameter, 50.0) < ratio


def test_thin_wire_in_a_field() -> None:
    """pi sigma omega^2 a^4/4, from E = omega B x inside: the textbook limit; the next term is of order (a/depth)^4."""
    radius, omega = 0.05 * skin_depth(COPPER, 50.0), 100 * pi
    limit = pi * COPPER * omega**2 * radius**4 / 4
    assert round_wire_field_loss(radius, COPPER, 50.0) == pytest.approx(limit, rel=0.05**4 * 2)


def test_thick_wire_in_a_field() -> None:
    """Surface resistance under the field 2 H sin(phi) of a wire that lets none in: 4 pi a R_s H^2; next depth/a."""
    depth = skin_depth(COPPER, 50.0)
    radius = 100 * depth
    limit = 4 * pi * radius / (COPPER * depth) / MU0**2
    assert round_wire_field_loss(radius, COPPER, 50.0) == pytest.approx(limit, rel=2e-2)


@pytest.mark.parametrize("x", [0.005, 0.02, 0.5, 2.0])
def test_strip_in_a_field(x: float) -> None:
    """2 H^2/(sigma depth) (sinh x - sin x)/(cosh x + cos x) per area of face, both sides in the same field (Dowell)."""
    depth = skin_depth(COPPER, 50.0)
    exact = (np.sinh(x) - np.sin(x)) / (np.cosh(x) + np.cos(x)) * 2 / (COPPER * depth) / MU0**2
    # For small x the quotient of the test itself cancels digits: x^3/6 of 1 by 1e-16.
    assert strip_field_loss(x * depth, 1.0, COPPER, 50.0) == pytest.approx(exact, rel=1e-8)
