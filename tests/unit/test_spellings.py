"""What people type against what it means: prefixes and symbols as ISO 80000-1 and NIST SP 811 have them, inches exact.

Spellings themselves are common practice, no source; a meaning is never wider than SI's: "m" is no "M".
"""

from contextlib import suppress
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fem
from fem.design.mains import Mains
from geometries.described.quantities import (
    AREA,
    CURRENT,
    DURATION,
    FRACTION,
    FREQUENCY,
    INDUCTANCE,
    LENGTH,
    RESISTANCE,
    TEMPERATURE,
    VOLTAGE,
    Dimension,
    QuantityError,
    parse_quantity,
)
from geometries.described.spellings import common_metal
from geometries.windings.conductors import Conductor
from geometries.windings.wire import awg_area


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1 1/2 in", LENGTH, 0.0381),
        ("1-1/2 in", LENGTH, 0.0381),
        ("1½ in", LENGTH, 0.0381),
        ('1 1/2"', LENGTH, 0.0381),
        ("2 Inches", LENGTH, 0.0508),
        ("38 Millimeters", LENGTH, 0.038),
        ("70 sq mm", AREA, 70e-6),
        ("70 sq. mm", AREA, 70e-6),
        ("70 mm sq", AREA, 70e-6),
        ("70sqmm", AREA, 70e-6),
        ("70 square mm", AREA, 70e-6),
        ("120 VAC", VOLTAGE, 120.0),
        ("120 V AC", VOLTAGE, 120.0),
        ("120V~", VOLTAGE, 120.0),
        ("120 Volts", VOLTAGE, 120.0),
        ("60 hz", FREQUENCY, 60.0),
        ("60 HZ", FREQUENCY, 60.0),
        ("50Hz", FREQUENCY, 50.0),
        ("16 Amps", CURRENT, 16.0),
        ("16 mA", CURRENT, 0.016),
        ("16 a", CURRENT, 16.0),
        ("0.15 mOhm", RESISTANCE, 0.15e-3),
        ("0.15 mohms", RESISTANCE, 0.15e-3),
        ("0.15 milliohm", RESISTANCE, 0.15e-3),
        ("0.15 Milli-Ohms", RESISTANCE, 0.15e-3),
        ("0.15 m\u2126", RESISTANCE, 0.15e-3),
        ("0.15 m\u03a9", RESISTANCE, 0.15e-3),
        ("150 \u03bc\u03a9", RESISTANCE, 0.15e-3),
        ("150 \u00b5Ohm", RESISTANCE, 0.15e-3),
        ("2 MOhm", RESISTANCE, 2e6),
        ("2 Mohm", RESISTANCE, 2e6),
        ("2 Megohm", RESISTANCE, 2e6),
        ("0.62 OHM", RESISTANCE, 0.62),
        ("5 \u03bcH", INDUCTANCE, 5e-6),
        ("25 °C", TEMPERATURE, 298.15),
        ("25 deg C", TEMPERATURE, 298.15),
        ("25\u2103", TEMPERATURE, 298.15),
        ("25 degrees C", TEMPERATURE, 298.15),
        ("77 °F", TEMPERATURE, 298.15),
        ("5 sec", DURATION, 5.0),
        ("2 Min.", DURATION, 120.0),
        ("95 percent", FRACTION, 0.95),
    ],
)
def test_what_people_type(text: str, dimension: Dimension, value: float) -> None:
    assert parse_quantity(text, dimension, unit_needed=True) == pytest.approx(value, rel=1e-14)


@given(st.integers(0, 99), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]), st.sampled_from(" -"))
def test_fractions_of_an_inch_are_the_nearest_float(whole: int, above: int, below: int, between: str) -> None:
    # 1 in = 25.4 mm exactly (NIST SP 811, B.6); a fraction by powers of two has a finite decimal.
    text = f"{whole}{between}{above}/{below} in" if whole else f"{above}/{below}in"
    exact = (whole + Fraction(above, below)) * Fraction(254, 10_000)
    assert parse_quantity(text, LENGTH) == float(exact)


# ISO 80000-1, table of prefixes; "k" is never "K", and "M" never "m".
PREFIXES = {"": 0, "m": -3, "u": -6, "µ": -6, "μ": -6, "k": 3, "M": 6}
SYMBOLS = [("ohm", RESISTANCE), ("Ohm", RESISTANCE), ("Ω", RESISTANCE), ("\u2126", RESISTANCE), ("V", VOLTAGE)]


@settings(deadline=None)
@given(st.decimals("0.001", "999", places=3), st.sampled_from(sorted(PREFIXES)), st.sampled_from(SYMBOLS))
def test_a_prefix_is_what_it_is_with_every_spelling(number: object, prefix: str, symbol: tuple[str, Dimension]) -> None:
    unit, dimension = symbol
    exact = float(Fraction(str(number)) * Fraction(10) ** PREFIXES[prefix])
    assert parse_quantity(f"{number} {prefix}{unit}", dimension) == pytest.approx(exact, rel=1e-14)
    assert parse_quantity(f"{number}{prefix}{unit}", dimension) == pytest.approx(exact, rel=1e-14)


@pytest.mark.parametrize("text", ["70,5 mm2", "1,6 mm"])
def test_a_comma_in_a_conductor_is_told_from_one_that_is_none(text: str) -> None:
    number, unit = text.replace(",", ".").split()
    with pytest.raises(ValueError, match=f"write {number} {unit}"):
        Conductor(cable=text) if unit == "mm2" else Conductor(round=text)


def test_aughts_alone_are_gauges_and_other_numbers_are_not() -> None:
    assert Conductor(cable="1/0").area == awg_area(0)
    assert Conductor(cable="4/0").area == awg_area(-3)
    for text in ("14", "14 ga", "1/2", "0/0"):
        with pytest.raises(ValueError, match="expected an area or a gauge"):
            Conductor(cable=text)


def test_a_strip_may_say_its_unit_once() -> None:
    once, twice = Conductor(strip="12 x 3 mm"), Conductor(strip="12 mm x 3 mm")
    assert (once.bare_height, once.bare_width) == (twice.bare_height, twice.bare_width) == (12e-3, 3e-3)
    assert Conductor(strip="12 mm by 3 mm").area == twice.area


@pytest.mark.parametrize(
    ("typed", "usual"),
    [
        ("B 16", "B16"),
        ("b16", "B16"),
        ("B-16", "B16"),
        ("16 A type B", "B16"),
        ("C curve 20", "C20"),
        ("16 A", "16 A"),
        ("20 amp breaker", "20 A"),
        ("UL489 20A", "UL 489 20 A"),
        # 13 A is the plug's own rating in BS 1362; 16 A is there of IEC 60269 alone
        ("13 A fuse", "BS 1362 13 A"),
        ("16 A fuse", "gG16"),
        ("10 A plug fuse", "BS 1362 10 A"),
    ],
)
def test_breakers(typed: str, usual: str) -> None:
    assert Mains(voltage="230 V", frequency="50 Hz", breaker=typed).breaker == usual


def test_metals_go_by_the_names_people_use() -> None:
    assert [common_metal(name) for name in ("Aluminum", "Al", " COPPER", "Cu", "Carbon steel")] == [
        "aluminium",
        "aluminium",
        "copper",
        "copper",
        "carbon steel",
    ]
    design = fem.example_design()
    assert design.vary("leads.material", "Aluminum").leads.material == "aluminium"
    assert design.vary("windings.primary.material", "aluminum").windings.primary.material == "aluminium"
    assert design.vary("work_piece.jaws.material", "Copper").work_piece.jaws.material == "copper"


@given(st.text(max_size=30), st.sampled_from([LENGTH, AREA, RESISTANCE]))
def test_any_text_is_read_or_refused(text: str, dimension: Dimension) -> None:
    with suppress(QuantityError):
        assert isinstance(parse_quantity(text, dimension, unit_needed=True), float)
