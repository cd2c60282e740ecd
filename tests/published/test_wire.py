"""Wire and cable sizes against printed tables."""

import pytest

from geometries.windings.conductors import Conductor
from geometries.windings.wire import (
    COPPER_CONDUCTIVITY,
    awg_area,
    awg_diameter,
    enamelled_diameter,
    flexible_resistances,
)
from tests.support.values import published, published_keys

FOOT = 0.3048
MIL = 25.4e-6

# Printed figures and their sources: the table of published values.
DIAMETERS, RESISTANCES, CLASS_5 = (
    {key.removeprefix(prefix): published(key).expected for key in published_keys(prefix)}
    for prefix in ("awg_diameter_", "awg_resistance_", "cable_")
)


def last_digit(printed: str) -> float:
    """Half a unit of the last printed digit."""
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


@pytest.mark.parametrize(("gauge", "printed"), DIAMETERS.items())
def test_awg_diameter_is_the_printed_one(gauge, printed):
    assert awg_diameter(int(gauge)) / 0.0254 == pytest.approx(float(printed), abs=last_digit(printed), rel=0)


@pytest.mark.parametrize(("gauge", "printed"), RESISTANCES.items())
def test_awg_resistance_is_the_printed_one(gauge, printed):
    per_1000_feet = 1000 * FOOT / (COPPER_CONDUCTIVITY * awg_area(int(gauge)))
    # The printed table rests on 10.371 ohm circular mil per foot, from memory: 5e-5 by its own last digit.
    tolerance = last_digit(printed) + 5e-5 * float(printed)
    assert per_1000_feet == pytest.approx(float(printed), abs=tolerance, rel=0)


def test_awg_4_0_has_211600_circular_mils():
    # ASTM B258: 0.4600 in squared is exact by definition of the series.
    assert (awg_diameter(-3) / MIL) ** 2 == pytest.approx(211_600, rel=1e-12)


@pytest.mark.parametrize(("area", "per_km"), CLASS_5.items())
def test_cable_has_the_largest_resistance_of_its_class(area, per_km):
    cable = Conductor(cable=f"{area} mm2")
    assert 1e3 / (COPPER_CONDUCTIVITY * cable.conducting_area) == pytest.approx(float(per_km), rel=1e-12)
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
