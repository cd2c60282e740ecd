"""Conductors: what can be given, what follows from it, what is refused."""

from math import inf, nan, pi

import pytest
from pydantic import ValidationError

from geometries.described.faults import faults
from geometries.windings.conductors import CABLE_OUTSIDE_RATIO, Conductor
from geometries.windings.wire import awg_area, awg_diameter, awg_name, awg_number


def message(**given):
    with pytest.raises(ValidationError) as caught:
        Conductor.model_validate(given, context={"job_file": True})
    (fault,) = faults(caught.value)
    return fault


def test_round_by_diameter_area_and_gauge():
    wire = Conductor(round="1.6 mm")
    assert wire.area == pytest.approx(pi / 4 * 1.6e-3**2, rel=1e-12)
    assert wire.conducting_area == wire.area
    assert wire.bare_width == wire.bare_height == 1.6e-3
    assert Conductor(round=1.6e-3) == Conductor(round=0.0016)
    assert Conductor(round="2 mm2").area == pytest.approx(2e-6, rel=1e-12)
    assert Conductor(round="14 AWG").bare_width == awg_diameter(14)
    assert Conductor(round="14 AWG").label == "14 AWG wire"


def test_strip_lies_flat():
    # Width along the leg, thickness across the build.
    strip = Conductor(strip="8 mm x 2 mm", insulated="8.4 mm × 2.5 mm")
    assert (strip.bare_height, strip.bare_width) == (8e-3, 2e-3)
    assert (strip.insulated_height, strip.insulated_width) == (8.4e-3, 2.5e-3)
    assert strip.area == pytest.approx(16e-6, rel=1e-12)
    assert Conductor(strip=[8e-3, 2e-3]) == Conductor(strip=(8e-3, 2e-3))
    assert not strip.circular


@pytest.mark.parametrize("size", [0.5, 35, 70, 95, 240])
def test_cable_off_the_table_has_the_ohms_of_the_sizes_beside_it(size):
    """No jump: a tenth of a per cent of area changes ohms times area by far less, beside a size or beyond all."""
    named, less, more = (Conductor(cable=f"{size * by} mm2") for by in (1, 0.999, 1.001))
    for cable in (less, more):
        assert cable.conducting_area / cable.area == pytest.approx(named.conducting_area / named.area, rel=2e-4)
        assert cable.ohms.endswith("as sizes beside it, class 5")
    assert "the most of IEC 60228, class 5" in named.ohms


def test_between_two_sizes_the_ohms_lie_between():
    # 0.272 and 0.206 ohm/km of 70 and 95 mm2: 19.04 and 19.57 ohm mm2/km
    between = Conductor(cable="82 mm2")
    assert 19.04e-9 < between.area / between.conducting_area / 58e6 < 19.57e-9


def test_cable_of_a_gauge_is_stranded():
    cable = Conductor(cable="2/0 AWG")
    assert cable.area == awg_area(-1)
    # From memory: stranding costs 2 to 8 %.
    assert 1.02 <= cable.area / cable.conducting_area <= 1.08
    assert "stranding" in cable.ohms


def test_missing_outside_size_is_assumed():
    for given in ({"round": "1 mm"}, {"strip": "8 mm x 2 mm"}, {"cable": "70 mm2"}):
        conductor = Conductor(**given)
        assert conductor.insulated_width > conductor.bare_width
        assert conductor.insulated_height > conductor.bare_height
    cable = Conductor(cable="70 mm2")
    assert cable.insulated_width == pytest.approx(CABLE_OUTSIDE_RATIO * cable.bare_width)
    assert Conductor(cable="70 mm2", insulated="17 mm").insulated_width == 0.017


@pytest.mark.parametrize(
    ("text", "number", "name"),
    [
        ("14 AWG", 14, "14 AWG"),
        ("AWG 14", 14, "14 AWG"),
        ("14awg", 14, "14 AWG"),
        ("1/0 AWG", 0, "1/0 AWG"),
        ("4/0 AWG", -3, "4/0 AWG"),
        ("0000 AWG", -3, "4/0 AWG"),
        ("14", None, None),
        ("14 mm", None, None),
    ],
)
def test_gauge_designations(text, number, name):
    assert awg_number(text) == number
    if number is not None:
        assert awg_name(number) == name


@pytest.mark.parametrize(
    ("given", "key", "text"),
    [
        ({}, "", "give exactly one of round, strip and cable; none given"),
        ({"round": "1 mm", "cable": "70 mm2"}, "", "give exactly one of round, strip and cable; round and cable given"),
        ({"round": "1 kg"}, "round", 'such as "1.6 mm", "2 mm2" or "14 AWG"; got "1 kg"'),
        ({"round": 1.6}, "round", 'such as "1.6 mm", "2 mm2" or "14 AWG"; got 1.6'),
        ({"round": "50 AWG"}, "round", "AWG sizes from 4/0 to 40 are known"),
        ({"round": "9/0 AWG"}, "round", "AWG sizes from 4/0 to 40 are known"),
        ({"round": "-1 mm"}, "round", "outside 0.05 mm to 100 mm"),
        ({"round": "1.6 m"}, "round", "outside 0.05 mm to 100 mm"),
        ({"strip": "8 mm"}, "strip", 'expected width x thickness, such as "8 mm x 2 mm"; got "8 mm"'),
        ({"strip": "8 x 2"}, "strip", 'expected a length with its unit, such as "38 mm"; got "8"'),
        ({"strip": [8, 2]}, "strip", "expected a length with its unit"),
        ({"strip": "8 mm x 2 mm x 1 mm"}, "strip", "expected width x thickness"),
        ({"cable": "70"}, "cable", 'expected an area or a gauge, such as "70 mm2" or "2/0 AWG"; got "70"'),
        ({"cable": "70 mm"}, "cable", "expected an area or a gauge"),
        ({"cable": "0 mm2"}, "cable", "no conductor"),
        ({"cable": "-70 mm2"}, "cable", "no conductor"),
        ({"cable": "0.7 m2"}, "cable", "outside 0.05 mm to 100 mm"),
        ({"cable": True}, "cable", "expected an area or a gauge"),
        ({"cable": None}, "", "none given"),
        ({"round": "1.6 mm", "insulated": "1.5 mm"}, "", "insulated 1.5 mm across the build is less than"),
        ({"cable": "70 mm2", "insulated": "9 mm"}, "", "insulated 9 mm across the build is less than"),
        ({"round": "1.6 mm", "insulated": "2 mm x 2 mm"}, "", "one outside diameter"),
        ({"strip": "8 mm x 2 mm", "insulated": "9 mm"}, "", "two outside dimensions"),
        ({"strip": "8 mm x 2 mm", "insulated": "2.5 mm x 9 mm"}, "", "along the leg is less than"),
        ({"cabel": "70 mm2", "cable": "70 mm2"}, "cabel", 'unknown key "cabel"; did you mean "cable"?'),
    ],
)
def test_refused(given, key, text):
    fault = message(**given)
    assert fault.key == key
    assert text in fault.message
    assert "Value error" not in fault.message


NO_CONDUCTOR = [
    {},
    {"a": 1},
    [1, [2]],
    [[1], 2],
    b"1 mm",
    1j,
    inf,
    nan,
    [nan, 1.0],
    10**400,
    10**5000,
    "1 mm" * 99,
    True,
]


@pytest.mark.parametrize("value", NO_CONDUCTOR, ids=range(len(NO_CONDUCTOR)))
@pytest.mark.parametrize("key", ["round", "strip", "cable", "insulated"])
def test_odd_values_end_in_one_short_line(key, value):
    with pytest.raises(ValidationError) as caught:
        Conductor.model_validate({"round": "1 mm", key: value})
    (fault,) = faults(caught.value)
    assert fault.key == key
    assert len(fault.message) < 180
    assert "\n" not in fault.message


def test_round_trip():
    for given in ({"round": "14 AWG"}, {"strip": "8 mm x 2 mm"}, {"cable": 70e-6, "insulated": 0.017}):
        conductor = Conductor(**given)
        assert Conductor.model_validate(conductor.model_dump()) == conductor
        assert Conductor.model_validate_json(conductor.model_dump_json()) == conductor
