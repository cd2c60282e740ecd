"""What a result is, by which formula, from what: every key has an answer, and what arithmetic is told is true."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from importlib import import_module
from math import pi, sqrt
from pathlib import Path

import pytest
from rich.console import Console, RenderableType

import fem
from fem.cli import run
from fem.design.transformer import Design
from fem.estimation.explained import NoSuchResult, all_declared, declared_as
from fem.estimation.stations.bench.heating import Heating
from fem.estimation.stations.in_order import STATIONS
from fem.formulas import JOB, KEY, formula_of
from fem.report.text.explain import explanation
from fem.report.text.sure import HEADLINES
from geometries.described.faults import described
from tests.campaign.always import results
from tests.support.kept import KEPT

KEYS = [line.split()[0] for line in Path(__file__).with_name("result_keys.txt").read_text("utf-8").splitlines()]
WITH_ARITHMETIC = {
    getattr(fem.Part, name)
    for name in ("LOAD_LINE", "WORK_PIECE", "HEATING", "METERS", "FIRST_PEAKS", "SHORT_TEST", "HALF_WAVE_SUPPLY")
}


@pytest.fixture(scope="module")
def found() -> fem.Estimate:
    return fem.estimate(fem.example_design(), wanted=WITH_ARITHMETIC, characteristics=KEPT)


def in_job(key: str, model: type = Design) -> bool:
    """Whether a job may have a key: some model of those at each name has the next."""
    first, _, rest = key.partition(".")
    if first not in model.model_fields:
        return False
    return not rest or any(in_job(rest, inner) for inner in described(model.model_fields[first].annotation))


def test_every_key_of_the_results_is_explained(hand_made: fem.Estimate) -> None:
    for key in KEYS:
        said = hand_made.explain(key)
        assert said.label
        assert said.how
        assert said.by.partition(",")[0].endswith(".py")
        assert Path(import_module("fem").__file__).parents[1].joinpath(said.by.partition(",")[0]).is_file()
        assert key in str(said)


def test_all_that_goes_in_exists() -> None:
    for pattern, one in all_declared().items():
        formula = formula_of(one.home, one.name)
        for key in KEY.findall(formula.how):
            if key.startswith(JOB):
                places = [key.replace("*", name) for name in ("primary", "secondary")] if "*" in key else [key]
                assert all(in_job(place.removeprefix(JOB)) for place in places), (pattern, key)
            elif not key.startswith("."):
                assert declared_as(key), (pattern, key)
            else:
                up = len(key) - len(key.lstrip("."))
                full = ".".join([*pattern.split(".")[:-up], key[up:]])
                assert declared_as(full), (pattern, full)


def test_every_formula_is_of_a_field_and_by_something_that_is_there() -> None:
    for home in {one.home for one in all_declared().values()}:
        written = re.findall(r"^    (\w+)(?::| =) ", vars(home).get("FORMULAS", ""), re.MULTILINE)
        assert len(set(written)) == len(written)
        assert set(written) <= {one.name for one in all_declared().values() if one.home is home}
        for name in re.findall(r"^    <(.+)>$", vars(home).get("FORMULAS", ""), re.MULTILINE):
            module, _, thing = name.rpartition(".")
            assert hasattr(import_module(module), thing), name


def test_what_one_decides_by_and_what_has_a_band_has_a_formula() -> None:
    named = {key for key, one in all_declared().items() if formula_of(one.home, one.name).how}
    for key in HEADLINES:
        declared = declared_as(key)
        assert declared, key
        assert declared[0] in named, key
    for station in STATIONS:
        # a path names attributes, a key has units besides
        told = {key for key in named if key.startswith(f"{station.key}.")}
        names = {all_declared()[key].name for key in told}
        assert {path.rpartition(".")[2] for path in station.banded} <= names, station.key


def test_arithmetic_that_is_told_gives_the_result(found: fem.Estimate) -> None:
    """Rounding only: the same numbers by the same arithmetic; of bursts' sums of steps a little more."""
    held = set()
    for key, value in results(found.to_dict()).items():
        declared = declared_as(key)
        if declared is None or not formula_of(declared[1].home, declared[1].name).closed or value is None:
            continue
        said = found.explain(key)
        text, names = said.how.partition(";")[0], {"sqrt": sqrt, "pi": pi}
        for number, taken in enumerate(sorted(said.takes, key=lambda one: -len(one.key))):
            text = text.replace(taken.key, f"x{number}")
            names[f"x{number}"] = taken.value
        assert eval(text, {"__builtins__": {}}, names) == pytest.approx(value, rel=1e-9, abs=1e-12), key
        held.add(declared[0])
    assert len(held) >= 40


def test_a_formula_is_told_with_its_numbers(found: fem.Estimate) -> None:
    said = found.explain("idle.crest_factor")
    assert said.how == "idle.current_peak_A / idle.current_rms_A"
    assert [one.value for one in said.takes] == [found.idle.current_peak, found.idle.current_rms]
    assert found.explain("build.temperature_K").takes[0].told == f"{found.build.temperature - 273.15:.4g} degC"
    assert "primary" in found.explain("build.primary.resistance_ohm").how
    turns = found.explain("build.primary.turns")
    assert all(
        f" {found.build.primary.turns} " in f"{' '.join(said.split())} "
        for said in (str(turns), printed(explanation(turns)))
    )
    part = found.explain("heating.duty.peak_temperatures_K.primary")
    assert part.value == found.heating.duty.peak_temperatures["primary"]
    assert {one.key for one in found.explain("open_circuit").below} == {"open_circuit.secondary_voltage_rms_V"}
    assert found.explain("half_wave_supply.current_rms_A").reason == ""


def test_lists_and_texts_are_written_as_they_are(found: fem.Estimate) -> None:
    assert isinstance(found.heating, Heating)
    hot = replace(found, heating=replace(found.heating, burst=replace(found.heating.burst, too_hot=("leads", "core"))))
    for key, text in (("heating.burst.too_hot", "leads, core"), ("heating.burst.limiting_part", None)):
        said = hot.explain(key)
        text = text or str(said.value or said.reason)
        assert text in str(said)
        assert text in " ".join(printed(explanation(said)).split())


def test_what_is_not_known_says_why(hand_made: fem.Estimate) -> None:
    said = hand_made.explain("heating.duty.share")
    assert said.value is None
    assert said.reason == "not asked for"
    assert "not known: not asked for" in printed(explanation(said))


def test_a_wrong_key_names_the_nearest_ones(hand_made: fem.Estimate, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(NoSuchResult, match=r"idle\.current_rms_A"):
        hand_made.explain("idle.curent_rms_A")
    assert run(["explain", "no such file", "short_circuit.secondary_curent_rms_A"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert '"short_circuit.secondary_current_rms_A"' in err


@pytest.mark.slow
def test_the_command_tells_all_of_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["example"])
    job = tmp_path / "my.toml"
    job.write_text(capsys.readouterr().out, "utf-8")
    assert run(["explain", str(job), "short_circuit.secondary_current_rms_A", "-q"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    for said in ("nine times out of ten", "formula milliohms.shorted.voltage_V /", "band by mains", "load.py, loaded"):
        assert said in words


def printed(what: RenderableType) -> str:
    console = Console(width=80, file=io.StringIO())
    console.print(what)
    return console.file.getvalue()
