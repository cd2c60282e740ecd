"""How sure a number is, as it is told: digits follow the band, open ends and missing bands say so."""

import io
import json
from dataclasses import replace
from math import inf

import numpy as np
import pytest
from matplotlib.image import imread
from rich.console import Console

from fem.estimation.result import Estimate
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import ONE_SIDED, Band, Show, Unknown, declared
from fem.report.figures.estimate import figures_of, save
from fem.report.figures.sure import how_sure
from fem.report.files.json import to_json
from fem.report.text.estimate import report
from fem.report.text.sure import HEADLINES, headlines, why, with_band
from fem.sweeps.rows.flat import ends

MAINS = "measure the voltage at the socket when and where the machine will be used: mains.voltage with its tolerance"
TERMS = (("mains", 0.48), ("joint gap", 0.31), ("steel", 0.12), ("stacking", 0.02), ("together", 0.07))
BANDS = {
    "idle.current_rms_A": Band(low=0.78, high=1.71, terms=TERMS, measure=MAINS, left=0.72),
    "saturation.peak_flux_density_T": Band(low=1.42, high=1.64, terms=(("mains", 0.83),), measure=MAINS, left=0.41),
    "short_circuit.secondary_current_rms_A": Band(low=1310.0, high=2790.0, terms=(("joints", 0.61), ("mains", 0.2))),
    "switch_on.primary_first_peak_A": Band(low=71.0, high=inf, why="12 % of draws lie beyond", terms=(("mains", 1.0),)),
    "idle.core_loss_W": Unknown("40 of 256 draws of what is in doubt could not be computed", gap=True),
}


@pytest.fixture
def told(hand_made: Estimate) -> Estimate:
    return replace(hand_made, bands=BANDS)


@pytest.mark.parametrize(
    ("value", "low", "high", "unit", "expected"),
    [
        (1.1523, 0.7801, 1.7099, "A", ("1.15 A", "0.78 A to 1.71 A")),
        (1140.3, 1139.6, 1141.2, "A", ("1140.30 A", "1139.60 A to 1141.20 A")),
        (2480.0, 1310.0, 2790.0, "A", ("2480 A", "1310 A to 2790 A")),
        (1140.3, 1139.9, 1140.4, "A", ("1140.30 A", "1139.90 A to 1140.40 A")),
        (973.15, 823.15, 1083.15, "K", ("700 degC", "550 degC to 810 degC")),
        (0.00105, 0.00098, 0.00121, "ohm", ("1.05 mohm", "0.98 mohm to 1.21 mohm")),
        (1.83e-7, 1.81e-7, 1.86e-7, "H", ("183.0 nH", "181.0 nH to 186.0 nH")),
        (98.0, 71.0, inf, "A", ("98 A", "71 A or more")),
        (98.0, -inf, 120.0, "A", ("98 A", "up to 120 A")),
        (3.0, 3.0, 3.0, "A", ("3.00 A", "")),
        (52.4, 38.1, 67.2, "s", ("52 s", "38 s to 1 min 7 s")),
        (3730.0, 2700.0, 5200.0, "s", ("1 h 2 min", "45 min to 1 h 27 min")),
    ],
)
def test_digits_follow_the_band(value: float, low: float, high: float, unit: str, expected: tuple[str, str]) -> None:
    assert with_band(value, Band(low=low, high=high), unit) == expected


def test_both_ends_can_be_told_apart() -> None:
    rng = np.random.default_rng(5)
    for value, width in zip(10 ** rng.uniform(-6, 5, 300), 10 ** rng.uniform(-4, 0, 300), strict=True):
        band = Band(low=value * (1 - width / 2), high=value * (1 + width / 2))
        number, between = with_band(value, band, "A")
        low, high = (float(text.removesuffix(" A")) for text in between.split(" to "))
        assert low < high
        assert low <= float(number.removesuffix(" A")) <= high
        # by rounding neither end is off by more than half a twentieth of the width
        assert abs(low - band.low) <= 0.025 * value * width * 1.001
        assert abs(high - band.high) <= 0.025 * value * width * 1.001


def test_shares_are_told_as_such() -> None:
    band = Band(low=0.021, high=0.038)
    assert with_band(0.031, band, "-", Show.SHARE) == ("3.10 %", "2.10 % to 3.80 %")


def test_what_drives_it_is_told_largest_first() -> None:
    assert why(BANDS["idle.current_rms_A"]) == "mains 48 %, joint gap 31 %, steel 12 %"
    assert why(BANDS["switch_on.primary_first_peak_A"]) == "mains 100 %; 12 % of draws lie beyond"


def test_the_report_carries_the_band(told: Estimate) -> None:
    console = Console(width=200, record=True, file=io.StringIO())
    console.print(report(told))
    text = " ".join(console.export_text().split())
    assert "1.17 A 0.78 A to 1.71 A: mains 48 %, joint gap 31 %, steel 12 %" in text
    assert "band not known: 40 of 256 draws" in text
    assert "core loss band not known 40 of 256 draws" in text
    assert f"{MAINS[:60]}" in text
    assert "narrows flux density, no-load peak to 41 %; no-load current, r.m.s. to 72 % of its width" in text
    assert "Nine times out of ten" in text


def test_numbers_stand_side_by_side(told: Estimate) -> None:
    found = headlines(told)
    assert [one.words for one in found] == [HEADLINES[key] for key in HEADLINES if isinstance(BANDS.get(key), Band)]
    assert found[0].texts == ("1.53 T", "1.42 T to 1.64 T")


@pytest.mark.parametrize(("told", "within"), [(32.3, "32.3 W to 50.5 W"), (60.04, "33 W to 60 W")])
def test_a_number_told_on_the_safe_side_is_the_end_of_its_band(told: float, within: str) -> None:
    # as a first peak with the most remanence; rounded alike, so that no rounding takes it out
    band = Band(low=32.52, high=50.52, why="some draws").around(told)
    assert with_band(told, band, "W")[1] == within
    assert band.why == f"some draws; {ONE_SIDED}"
    assert band.around(told) is band.around(40.0) is band


def test_a_band_without_width_is_not_told() -> None:
    assert with_band(2.2, Band(low=2.2, high=2.2 + 4e-16), "s") == ("2.20 s", "")  # no room for more than rounding


def test_headlines_are_results() -> None:
    keys = {f"{station.key}.{one.key}" for station in STATIONS for one in declared(station.result)}
    # of what hangs on parts the part is the last word
    assert all(key in keys or key.rpartition(".")[0] in keys for key in HEADLINES)


def test_json_carries_it(told: Estimate) -> None:
    found = json.loads(to_json(told))
    assert found["bands"]["idle.current_rms_A"] == {
        "low": 0.78,
        "high": 1.71,
        "why": "",
        "terms": [{"doubt": words, "share": share} for words, share in TERMS],
        "measure": MAINS,
        "left": 0.72,
    }
    assert found["bands"]["switch_on.primary_first_peak_A"]["high"] is None
    assert found["reasons"]["bands.idle.core_loss_W"].startswith("40 of 256")
    assert "bands.switch_on.primary_first_peak_A.high" not in found["reasons"]


def test_rows_carry_both_ends() -> None:
    found = ends(BANDS)
    assert (found["idle.current_rms_A.low"], found["idle.current_rms_A.high"]) == (0.78, 1.71)
    assert found["switch_on.primary_first_peak_A.high"] is None
    assert found["idle.core_loss_W.low"] is None


def test_the_figure_is_drawn_where_there_are_bands(told: Estimate, tmp_path) -> None:
    assert "how-sure" in {name for name, _ in figures_of(told)}
    assert "how-sure" not in {name for name, _ in figures_of(replace(told, bands={}))}
    _, png = save(how_sure(told), tmp_path, "how-sure")
    pixels = imread(png)[..., :3].min(axis=2)
    # nothing is cropped: the outermost pixels are white
    assert all(edge.min() == 1.0 for edge in (pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1]))
