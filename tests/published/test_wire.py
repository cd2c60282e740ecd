"""Wire and cable sizes against printed tables."""

import pytest

from geometries.conductors import Conductor
from geometries.wire_sizes import (
    COPPER_CONDUCTIVITY,
    awg_area,
    awg_diameter,
    enamelled_diameter,
    flexible_resistances,
)

FOOT = 0.3048
MIL = 25.4e-6

# ASTM B258 table of nominal diameters, in inches as printed: from memory.
DIAMETERS = {
    -3: "0.4600", -2: "0.4096", -1: "0.3648", 0: "0.3249", 1: "0.2893", 2: "0.2576", 4: "0.2043", 6: "0.1620",
    8: "0.1285", 10: "0.1019", 12: "0.0808", 14: "0.0641", 16: "0.0508", 18: "0.0403", 20: "0.0320", 24: "0.0201",
    30: "0.0100", 36: "0.0050", 40: "0.0031",
}  # fmt: skip

# Copper wire table of NBS Circular 100 (handbooks print it under ASTM B258): ohm per 1000 ft at 20 degC. From memory.
RESISTANCES = {
    -3: "0.0490", -2: "0.0618", -1: "0.0779", 0: "0.0983", 1: "0.1239", 2: "0.1563", 4: "0.2485", 6: "0.3951",
    8: "0.6282", 10: "0.9989", 12: "1.588", 14: "2.525", 16: "4.016", 18: "6.385", 20: "10.15", 24: "25.67",
    28: "64.90", 30: "103.2",
}  # fmt: skip

# IEC 60228:2004, table 3, class 5, plain copper: largest resistance at 20 degC, ohm/km (read in cable makers' tables).
CLASS_5 = {1.5: 13.3, 2.5: 7.98, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554, 50: 0.386, 70: 0.272, 95: 0.206}


def last_digit(printed: str) -> float:
    """Half a unit of the last printed digit."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(("gauge", "printed"), DIAMETERS.items())
def test_awg_diameter_is_the_printed_one(gauge, printed):
    assert awg_diameter(gauge) / 0.0254 == pytest.approx(float(printed), abs=last_digit(printed), rel=0)


@pytest.mark.parametrize(("gauge", "printed"), RESISTANCES.items())
def test_awg_resistance_is_the_printed_one(gauge, printed):
    per_1000_feet = 1000 * FOOT / (COPPER_CONDUCTIVITY * awg_area(gauge))
    # The printed table rests on 10.371 ohm circular mil per foot, from memory: 5e-5 by its own last digit.
    tolerance = last_digit(printed) + 5e-5 * float(printed)
    assert per_1000_feet == pytest.approx(float(printed), abs=tolerance, rel=0)


def test_awg_4_0_has_211600_circular_mils():
    # ASTM B258: 0.4600 in squared is exact by definition of the series.
    assert (awg_diameter(-3) / MIL) ** 2 == pytest.approx(211_600, rel=1e-12)


@pytest.mark.parametrize(("area", "per_km"), CLASS_5.items())
def test_cable_has_the_largest_resistance_of_its_class(area, per_km):
    cable = Conductor(cable=f"{area} mm2")
    assert 1e3 / (COPPER_CONDUCTIVITY * cable.conducting_area) == pytest.approx(per_km, rel=1e-12)
    # Stranding only ever costs: the table's maxima exceed solid copper of the nominal area by 10 to 16 %.
    assert 1.10 < cable.area / cable.conducting_area < 1.16


def test_iec_table_falls_with_area():
    resistances = list(flexible_resistances().values())
    assert resistances == sorted(resistances, reverse=True)


@pytest.mark.parametrize(("bare", "overall"), [(0.5, 0.566), (1.0, 1.094), (2.0, 2.120)])
def test_enamelled_wire(bare, overall):
    # IEC 60317-0-1, grade 2, largest overall diameter: from memory.
    assert enamelled_diameter(bare * 1e-3) == pytest.approx(overall * 1e-3, rel=1e-9)
    assert Conductor(round=f"{bare} mm").insulated_height == pytest.approx(overall * 1e-3, rel=1e-9)
