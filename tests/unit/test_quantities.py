"""Quantities with units: what is read, what is refused and how it is said."""

import math
from decimal import Decimal
from typing import Annotated

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from geometries.described import quantities
from geometries.described import units as unit_registry
from geometries.described.faults import Description, faults
from geometries.described.quantities import (
    AREA,
    COMMON,
    DURATION,
    FRACTION,
    FREQUENCY,
    INDUCTANCE,
    LENGTH,
    RESISTANCE,
    TEMPERATURE,
    VOLTAGE,
    Between,
    Dimension,
    Fraction,
    Length,
    QuantityError,
    Temperature,
    WholeNumber,
    format_quantity,
    parse_quantity,
)


class Plate(Description):
    """A description to try the fields on."""

    width: Annotated[Length, Between(1e-3, 1.0, "m")] = 0.1
    temperature: Temperature = 293.15
    share: Fraction = 1.0
    holes: Annotated[int, WholeNumber(1, 100_000)] = 1


def refusal(key, value, **context):
    with pytest.raises(ValidationError) as caught:
        Plate.model_validate({key: value}, context=context)
    (fault,) = faults(caught.value)
    assert fault.key == key
    return fault.message


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("38 mm", LENGTH, 0.038),
        (" 1.1mm ", LENGTH, 0.0011),
        ("1.5 in", LENGTH, 0.0381),
        ("1 ft", LENGTH, 0.3048),
        ("1 thou", LENGTH, 25.4e-6),
        ("+.5e1 cm", LENGTH, 0.05),
        ("70 mm2", AREA, 70e-6),
        ("70 mm^2", AREA, 70e-6),
        ("70 mm²", AREA, 70e-6),
        ("70 mm**2", AREA, 70e-6),
        ("1 in2", AREA, 0.0254**2),
        ("230 V", VOLTAGE, 230.0),
        ("10 mohm", RESISTANCE, 0.01),
        ("10 mΩ", RESISTANCE, 0.01),
        ("0.05 kHz", FREQUENCY, 50.0),
        ("5 µH", INDUCTANCE, 5e-6),
        ("5 μH", INDUCTANCE, 5e-6),
        ("5 Wb/A", INDUCTANCE, 5.0),
        ("2 min", DURATION, 120.0),
        ("60 degC", TEMPERATURE, 333.15),
        ("60 °C", TEMPERATURE, 333.15),
        ("140 degF", TEMPERATURE, 333.15),
        ("333.15 K", TEMPERATURE, 333.15),
        ("95 %", FRACTION, 0.95),
        ("0.95", FRACTION, 0.95),
    ],
)
def test_text_with_unit(text, dimension, value):
    # Units are exact by definition; what is left is the rounding of one or two products.
    assert parse_quantity(text, dimension, unit_needed=True) == pytest.approx(value, rel=4e-16 * 4)


def test_common_units_are_the_nearest_float():
    # In decimal arithmetic "13.3 mm" is the float nearest to 0.0133; 13.3 * 1e-3 is its neighbour.
    assert parse_quantity("13.3 mm", LENGTH) == 0.0133 != 13.3 * 1e-3


def test_common_units_do_not_wait_for_pint(monkeypatch):
    monkeypatch.setattr(quantities, "to_si", None)
    for text, dimension in (("38 mm", LENGTH), ("70 mm2", AREA), ("230 V", VOLTAGE), ("60 degC", TEMPERATURE)):
        parse_quantity(text, dimension)
    with pytest.raises(TypeError):
        parse_quantity("1 ft", LENGTH)


DIMENSIONS = {d.name: d for d in globals().values() if isinstance(d, Dimension)}
ROWS = [(name, unit) for name, units in COMMON.items() if name in DIMENSIONS for unit in units if unit]


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(ROWS), st.decimals(-(10**6), 10**6, places=4))
def test_common_units_are_those_of_pint(row, number):
    name, unit = row
    dimension = DIMENSIONS[name]
    registry, _ = unit_registry._registry()
    reference = registry.Quantity(float(number), registry.parse_units(unit)).to(dimension.unit or "dimensionless").m
    # Two roundings on either side; a temperature also loses digits to its offset.
    absolute = 1e-9 if dimension is TEMPERATURE else 0.0
    assert parse_quantity(f"{number} {unit}", dimension) == pytest.approx(reference, rel=1e-15, abs=absolute)


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("38 V", LENGTH),
        ("38", LENGTH),
        ("mm", LENGTH),
        ("", LENGTH),
        ("38 MM", LENGTH),
        ("38 mm2", LENGTH),
        ("38 mm x 2 mm", LENGTH),
        ("1/0 in", LENGTH),
        ("1/2", LENGTH),
        ("3 M", LENGTH),
        ("0.15 m", RESISTANCE),
        ("0.15 MOHM", RESISTANCE),
        ("0.15 Kohm", RESISTANCE),
        ("5 mhz", FREQUENCY),
        ("5 V dc", VOLTAGE),
        ("5 S", DURATION),
        ("nan mm", LENGTH),
        ("inf mm", LENGTH),
        ("1e400 mm", LENGTH),
        ("1e308 km", LENGTH),
        ("1e-99999999999 mm", LENGTH),
        ("38 m*", LENGTH),
        ("2 m**9**9**9", LENGTH),
        ("5 " + "(" * 3000, LENGTH),
        ("9" * 400 + " mm", LENGTH),
        (None, LENGTH),
        (True, LENGTH),
        ([38], LENGTH),
        (math.nan, LENGTH),
        (math.inf, LENGTH),
        ("314 rad/s", FREQUENCY),
        ("3000 rpm", FREQUENCY),
        ("40 delta_degC", TEMPERATURE),
        ("60 deg", TEMPERATURE),
    ],
)
def test_anything_else_is_refused_in_one_short_line(text, dimension):
    with pytest.raises(QuantityError, match=f"^expected {dimension.phrase}") as caught:
        parse_quantity(text, dimension)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 180


def test_messages():
    assert refusal("width", 0.038, job_file=True) == 'expected a length with its unit, such as "38 mm"; got 0.038'
    assert (
        refusal("width", "38 V")
        == 'expected a length with its unit, such as "38 mm"; got "38 V"; units: m, cm, mm, um, in'
    )
    assert refusal("width", "2 m") == "2 m is outside 1 mm to 1 m"
    assert refusal("width", 0.0005) == "500 um is outside 1 mm to 1 m"
    assert refusal("width", "1,5 mm").endswith('got "1,5 mm": write 1.5 mm')
    assert refusal("width", "1,500 mm").endswith("write 1.500 mm, or 1500 mm if the comma parts thousands")
    assert refusal("width", "0,150 mm").endswith("write 0.150 mm")
    assert refusal("width", "1.234,5 mm").endswith("write a decimal point, not a comma")
    assert refusal("temperature", "60 C") == "60 C is a charge; write 60 degC"
    assert refusal("temperature", "140 F") == "140 F is a capacitance; write 140 degF"
    assert refusal("temperature", 60, job_file=True).startswith("expected a temperature with its unit")
    assert refusal("holes", 2.5) == "expected a whole number; got 2.5"
    assert refusal("holes", True) == "expected a whole number; got True"
    assert refusal("holes", 0) == "0 is outside 1 to 100000"
    assert refusal("holes", math.nan).startswith("expected a whole number")
    assert refusal("widht", "38 mm") == 'unknown key "widht"; did you mean "width"?'
    assert refusal("zzzz", "38 mm") == 'unknown key "zzzz"'


def test_plain_numbers_are_metres_from_python_and_counts_and_fractions_need_no_unit():
    assert Plate(width=0.038).width == 0.038
    plate = Plate.model_validate({"holes": 3, "share": 0.5}, context={"job_file": True})
    assert (plate.holes, plate.share) == (3, 0.5)


def test_descriptions_are_frozen_and_survive_a_round_trip():
    plate = Plate.model_validate({"width": "38 mm"})
    with pytest.raises(ValidationError):
        plate.width = 1.0
    assert Plate.model_validate(plate.model_dump()) == plate
    assert Plate.model_validate_json(plate.model_dump_json()) == plate


def test_schema_names_unit_and_range():
    schema = Plate.model_json_schema()["properties"]["width"]
    assert schema["type"] == "string"
    assert "38 mm" in schema["description"]
    assert "1 mm to 1 m" in schema["description"]


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.038, "m", "38 mm"),
        (0.99996, "m", "1 m"),
        (1234.0, "m", "1234 m"),
        (1e-6, "m", "1 um"),
        (0.0, "m", "0 mm"),
        (-0.0025, "ohm", "-2.5 mohm"),
        (70e-6, "m2", "70 mm2"),
        (333.15, "degC", "60 degC"),
        (0.95, "", "0.95"),
        (12e3, "W", "12 kW"),
    ],
)
def test_format(value, unit, text):
    assert format_quantity(value, unit) == text


@given(st.floats(1e-12, 1e11), st.sampled_from([VOLTAGE, RESISTANCE, INDUCTANCE]))
def test_format_reads_back(value, dimension):
    unit = dimension.unit
    # Four digits: half a unit of the fourth is 5e-4 of the value at worst.
    assert parse_quantity(format_quantity(value, unit), dimension) == pytest.approx(value, rel=5.01e-4)


def test_units_leave_nothing_on_disk(tmp_path, monkeypatch):
    for name in ("XDG_CACHE_HOME", "HOME", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path))
    unit_registry._registry.cache_clear()
    assert parse_quantity("1 ft", LENGTH) == pytest.approx(0.3048)
    assert not list(tmp_path.iterdir())


def test_exact_zero_celsius():
    assert parse_quantity("0 degC", TEMPERATURE) == float(Decimal("273.15"))
