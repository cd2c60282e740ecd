"""A design fitted to readings: mechanics on benches that the tool itself foretold, what is told, and the command."""

import json
import tomllib
from dataclasses import replace
from functools import cache
from io import StringIO
from math import log
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from fem.advising.advice import advice
from fem.advising.found import Next
from fem.advising.hypothesis import as_fitted, matters_of
from fem.cli import run
from fem.design.job import read_job
from fem.design.load import Load
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.fitting.corrected import changes, corrected
from fem.fitting.fit import fit_of
from fem.fitting.found import Fit
from fem.fitting.no_load import no_load_curves
from fem.fitting.unknowns import PRIMARY, counted, unknowns_of
from fem.quantity import Band
from fem.readings.conditions import Instruments
from fem.readings.described import Readings
from fem.readings.measurements import as_readings, filled, measurements
from fem.readings.predict import covariance, predict
from fem.readings.reading import Reading, readings_of
from fem.report.figures.estimate import save
from fem.report.figures.fit import fitted, no_load
from fem.report.text.fit import fit_json, fit_report
from fem.trust.doubt import Z90
from fem.trust.scored import scored
from tests.support.every_kind import design_of
from tests.support.kept import KEPT

TURNS = 221
"""Of the machine on the bench, whose job says 230."""
TOLD = {"job_file": True}
BENCH = {
    "resistance": [{"resistance": "1 ohm", "leads_together": "0.1 ohm"}],
    "search_coil": [{"turns": 20, "voltage": "10 V", "primary_voltage": "110 V"}],
    "no_load": [
        {"primary_voltage": "60 V", "current": "0.2 A", "power": "4 W"},
        {"primary_voltage": "150 V", "current": "0.5 A", "power": "15 W"},
    ],
}


@cache
def job() -> Design:
    return (
        design_of("shell")
        .model_copy(update={"core": design_of("shell").core.model_copy(update={"joint_gap": 0.1e-3})})
        .vary("core.joint_gap", None)
    )


@cache
def case() -> Case:
    return Case(design=job(), wanted=frozenset(), source=KEPT)


@cache
def bench() -> tuple[Reading, ...]:
    """Return what meters show of a machine of other turns and a gap at its 95 % quantile, each off by what it may be.

    Circular: the tool foretells what it is then fitted to. So nothing here says that its physics is right.
    """
    taken = readings_of(Readings.model_validate(BENCH, context=TOLD))
    doubts = unknowns_of(job(), primary=True, secondary=False)
    names, scores = [doubt.name for doubt in doubts], np.zeros((1, len(doubts)))
    scores[0, names.index(PRIMARY)] = log(TURNS / job().windings.primary.turns) / log(2) * Z90
    scores[0, names.index("core.joint_gap")] = Z90
    machine = case().with_draws(scored(doubts, scores))
    shows = predict(machine, taken)[:, 0]
    lone = replace(machine.member(0), drawn_of=None)
    off = np.linalg.cholesky(covariance(lone, taken)) @ np.random.Generator(np.random.PCG64(2)).normal(size=len(taken))
    return tuple(replace(one, value=float(value)) for one, value in zip(taken, shows + off, strict=True))


@cache
def fit() -> Fit:
    return fit_of(job(), bench(), source=KEPT)


def test_turns_of_members_are_those_of_a_design_of_such_turns() -> None:
    # sizes of the primary are given, so other turns lie in the same field
    doubts = unknowns_of(job(), primary=True, secondary=False)
    scores = np.zeros((2, len(doubts)))
    scores[0, 0] = log(TURNS / job().windings.primary.turns) / log(2) * Z90
    machine = case().with_draws(scored(doubts, scores))
    other = Case(design=job().vary("windings.primary.turns", TURNS), wanted=frozenset(), source=KEPT)
    apart = other.with_draws(scored(doubts[1:], scores[:1, 1:]))
    joined = readings_of(
        Readings.model_validate({"joined": [{"primary_voltage": "10 V", "primary_current": "1 A"}]}, context=TOLD)
    )
    for taken, within in ((bench(), 1e-4), (joined, 1e-3)):
        # what is held: what a.c. adds to the primary's resistance, the own field of its single turns in the leakage
        assert predict(machine, taken)[:, 0] == pytest.approx(predict(apart, taken)[:, 0], rel=within)
    assert machine.member(1).circuit.primary_turns == pytest.approx(case().circuit.primary_turns, rel=1e-12)


def test_turns_and_gap_are_found_on_a_bench_of_its_own() -> None:
    (count,) = fit().counts
    assert sum(count.probabilities) == pytest.approx(1.0)
    assert all(n == round(n) for n in count.numbers)
    assert TURNS in count.numbers
    gap = next(finding for finding in fit().findings if finding.key == "core.joint_gap")
    # one bench: a 90 % interval misses once in ten times, four standard deviations do not
    assert abs(gap.value - 0.15e-3) < 4 * gap.spread
    assert gap.left < 0.5
    assert not any(reading.suspect for reading in fit().readings)
    # winding sizes come out as fitted: mean of the reading's residuals is small where nothing contradicts
    assert np.abs([reading.residual for reading in fit().readings]).max() < 3.0


def test_what_readings_do_not_see_stays() -> None:
    assert fit().draws.doubts[-1].name not in {finding.key for finding in fit().findings}
    names = [doubt.name for doubt in fit().draws.doubts]
    untold = fit().draws.scores[:, names.index("leads.spacing") if "leads.spacing" in names else -1]
    assert np.quantile(untold, [0.05, 0.95]) == pytest.approx([-1.645, 1.645], abs=0.05)


@pytest.mark.slow
def test_a_reading_that_contradicts_all_others_is_left_out() -> None:
    wrong = [replace(one, value=1.6 * one.value) if one.key == "search_coil.0.voltage" else one for one in bench()]
    found = fit_of(job(), wrong, source=KEPT)
    (suspect,) = (reading for reading in found.readings if reading.suspect)
    alike = {other for pair in found.or_else for other in pair}
    assert "search_coil.0.voltage" in {suspect.key, *alike}
    text = shown(found)
    assert "Suspect: reading" in text
    assert "* left out" in text


def shown(found: Fit, width: int = 80) -> str:
    screen = StringIO()
    Console(file=screen, width=width).print(fit_report(found))
    return screen.getvalue()


def test_the_answer_comes_first_and_keeps_to_the_screen() -> None:
    lines = shown(fit()).splitlines()
    assert lines[1].startswith("Nothing is wrong that these readings tell of (")
    assert any(line.startswith("It is: primary of ") for line in lines[2:4])
    assert any(line.startswith("How sure: ") for line in lines)
    assert max(map(len, lines)) <= 80
    told = json.loads(fit_json(fit()))
    assert [reading["key"] for reading in told["readings"]] == [reading.key for reading in bench()]
    assert told["counts"][0]["best"] == fit().counts[0].best
    assert "draws" not in told


def test_bands_of_an_estimate_take_what_is_known() -> None:
    known = Case(design=job(), wanted=frozenset(), source=KEPT, known=fit().draws.first(256))
    turns = known.drawn.alone.primary_turns
    assert set(np.round(turns)) <= set(fit().counts[0].numbers)
    assert np.abs(turns - np.round(turns)).max() < 1e-9


def test_an_estimate_is_banded_by_what_is_known() -> None:
    wanted = {Part.BANDS}
    known = fit().draws.first(256)
    before, after = (estimate(job(), wanted=wanted, characteristics=KEPT, known=draws) for draws in (None, known))
    key = "short_circuit.secondary_current_rms_A"
    assert after.short_circuit == before.short_circuit
    for found in (before, after):
        band = found.bands[key]
        assert isinstance(band, Band)
        assert sum(share for _, share in band.terms) <= 1.01
    # what the fit tells of the same draws before and after: the band's surface is within some per cent of their spread
    (effect,) = (effect for effect in fit().effects if effect.key == key)
    band = after.bands[key]
    assert isinstance(band, Band)
    assert (band.low, band.high) == pytest.approx((effect.low, effect.high), abs=0.1 * (effect.high - effect.low))


def test_a_figure_draws_what_is_told() -> None:
    above, below = fitted(fit()).axes
    points = [float(line.get_xdata()[0]) for line in above.lines if line.get_marker() == "o"]  # type: ignore[index, arg-type]
    assert points == pytest.approx([reading.residual for reading in fit().readings])
    assert len(below.get_yticklabels()) == len(fit().findings)
    # intervals before end at -1 and 1 by definition
    assert {(bar.get_x(), bar.get_width()) for bar in below.patches} == {(-1.0, 2.0)}  # type: ignore[attr-defined]


def test_readings_lie_on_the_curve_that_is_drawn_through_them(tmp_path: Path) -> None:
    curves = no_load_curves(fit(), bench(), KEPT)
    assert [curve.unit for curve in curves] == ["A", "W"]
    for curve in curves:
        assert [volts for volts, _ in curve.points] == [60.0, 150.0]
        for volts, one in curve.points:
            # what the fit tells at these volts, of other draws; straight lines between the curve's points
            ends = [np.interp(volts, curve.volts, end) for end in (curve.low, curve.high)]
            assert ends[0] < one.predicted < ends[1]
            assert np.interp(volts, curve.volts, curve.described) == pytest.approx(one.as_described, rel=0.02)
    figures = [save(no_load(fit(), curves), tmp_path, name) for name in ("one", "two")]
    assert [path.read_bytes() for path in figures[0]] == [path.read_bytes() for path in figures[1]]


JOB = """\
# a machine of the tests
title = "On the bench"
[mains]
voltage = "230 V"   # at the socket
frequency = "50 Hz"
[core]
type = "shell"
leg_width = "40 mm"
outer_leg_width = "21 mm"
yoke_height = "22 mm"
window_width = "20 mm"
window_height = "61 mm"
stack_depth = "50 mm"
joint = "butt"
steel = "M530-50A"
[windings]
arrangement = "side-by-side"
spacing = "3 mm"
{primary}
[windings.secondary]
turns = 14
conductor = {{ strip = "3 mm x 2 mm" }}
height = "24 mm"
build = "13.5 mm"
"""
PRIMARY_TABLE = """\
[windings.primary]
turns = 230        # of the winding's label
conductor = { round = "1.2 mm" }
height = "26 mm"
build = "15 mm"\
"""
INLINE = 'primary = { turns = 230, conductor = { round = "1.2 mm" }, height = "26 mm", build = "15 mm" }'


@pytest.mark.parametrize("primary", [PRIMARY_TABLE, INLINE])
def test_the_job_goes_on_from_what_is_known(tmp_path: Path, primary: str) -> None:
    text = JOB.format(primary=primary)
    new = corrected(text, tomllib.loads(text), fit())
    path = tmp_path / "fitted.toml"
    path.write_text(new)
    design = read_job(path)
    assert design.windings.primary.turns == fit().counts[0].best
    assert "core.joint_gap" in changes(fit())
    gap = next(finding for finding in fit().findings if finding.key == "core.joint_gap")
    assert design.core.joint_gap == pytest.approx(gap.value, rel=1e-3)
    # limits that are as likely throughout have their half width at sqrt(3) standard deviations
    assert design.core.joint_gap.within == pytest.approx(3**0.5 * gap.spread, rel=0.05)  # type: ignore[attr-defined]
    assert ("# at the socket" in new) == (primary is PRIMARY_TABLE)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no readings"),
        ("[[no_load]]\nprimary_voltage = '80 V'\n", "no_load.0"),
        ("[[no_lode]]\ncurrent = '1 A'\n", "no_lode"),
        ("[[no_load]\n", "not TOML"),
    ],
)
def test_a_bad_file_of_readings_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, said: str
) -> None:
    job_file, readings = tmp_path / "job.toml", tmp_path / "bench.toml"
    job_file.write_text(JOB.format(primary=PRIMARY_TABLE))
    readings.write_text(text)
    assert run(["fit", str(job_file), str(readings)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert said in told.err


@pytest.mark.slow
def test_shunts_in_place_are_fitted_too() -> None:
    design = design_of("shunts").vary("windings.primary.turns", 170)
    known = Case(design=design, wanted=frozenset(), source=KEPT)
    joined = {"primary_voltage": "60 V", "primary_current": "3 A", "power": "50 W"}
    taken = readings_of(Readings.model_validate({**BENCH, "joined": [joined]}, context=TOLD))
    doubts = unknowns_of(design, primary=True, secondary=False)
    scores = np.zeros((3, len(doubts)))
    scores[1, 0] = log(162 / 170) / log(2) * Z90
    members = known.with_draws(scored(doubts, scores))
    shows = predict(members, taken)
    # a member of a block, its leakage curve among it, is what it is alone
    assert shows[:, 1] == pytest.approx(predict(members.member(1), taken)[:, 0], rel=1e-9)
    told = [replace(one, value=float(value)) for one, value in zip(taken, shows[:, 1], strict=True)]
    found = fit_of(design, told, source=KEPT)
    assert 162 in found.counts[0].numbers[:3]
    assert not any(reading.suspect for reading in found.readings)


def test_interleaved_windings_have_turns_that_part() -> None:
    design = design_of("interleaved")
    (doubt,) = unknowns_of(design, primary=True, secondary=False)[:1]
    parts = design.windings.sections
    numbers = counted(design, 0, doubt, 0.0, 0.001).numbers
    assert set(numbers % parts) == {0}
    assert min(numbers) < design.windings.primary.turns < max(numbers)


@pytest.mark.slow
def test_a_rectified_load_changes_nothing() -> None:
    load = {"resistance": 1e-2, "rectifier": "full-wave"}
    found = fit_of(job().model_copy(update={"load": Load.model_validate(load)}), bench()[:2], source=KEPT)
    assert found.counts[0].best in fit_of(job(), bench()[:2], source=KEPT).counts[0].numbers


def test_the_job_of_standard_input_cannot_be_changed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fit", "-", str(tmp_path / "bench.toml"), "-o", str(tmp_path / "out.toml")]) == 2
    assert "--out changes a job file" in capsys.readouterr().err


@cache
def ahead() -> Next:
    return advice(fit(), Readings.model_validate(BENCH, context=TOLD), KEPT, most=1)


def test_what_was_measured_is_not_asked_for_again() -> None:
    tells = {one.name: one.tells for one in ahead().measurements}
    # nobody measured the mains, which is 10 % in doubt and moves flux and amperes in proportion
    assert ahead().measurements[0].name == "the socket"
    # ohms, and amperes and watts at 150 V, were read: what is new in their meters' errors is next to nothing
    for name in ("resistance of the primary, two wires", "no load at 155 V"):
        assert tells[name] < 0.1
    worth = [one.worth for one in ahead().measurements]
    assert worth == sorted(worth, reverse=True)
    full = next(one for one in ahead().measurements if "on the mains" in one.name)
    assert full.worth < full.tells - 1  # lead ends joined on the mains must halve all that is in doubt
    socket = ahead().measurements[0]
    for narrowed in socket.narrows:
        assert narrowed.left < narrowed.before * (1 + 1e-9)
    volts = socket.readings[0]
    assert [each.words for each in volts.under] == ["as described", "as fitted"]
    assert volts.under[0].value == pytest.approx(job().mains.voltage)
    assert all(each.low < each.value < each.high for each in volts.under)


def test_of_two_causes_what_tells_them_apart_is_said() -> None:
    members = case().with_draws(fit().draws.first(64))
    assert members.given is not None
    circuit = members.given.circuit
    loose = replace(circuit, lead_resistance=circuit.lead_resistance + 20e-3)
    bad_joint = replace(members, given=replace(members.given, circuit=loose))
    _, matters = matters_of(members)
    each = [
        replace(as_fitted(of_one, matters), words=words, probability=0.5)
        for words, of_one in (("nothing is wrong", members), ("a bad joint", bad_joint))
    ]
    found = advice(fit(), Readings.model_validate(BENCH, context=TOLD), KEPT, causes=each, most=1)
    tells = {one.name.split(" at ")[0]: one.of_causes for one in found.measurements}
    # with nothing connected a joint carries nothing; lead ends joined it tells of itself: one halving, of two alike
    assert tells["no load"] < 1e-6
    assert tells["search coil"] < 1e-6
    assert tells["lead ends joined"] == pytest.approx(1.0, abs=0.01)
    joined = next(one for one in found.measurements if one.name.startswith("lead ends joined at"))
    assert [under.words for under in joined.readings[0].under] == ["as described", "nothing is wrong", "a bad joint"]
    assert joined.readings[0].under[2].value < 0.8 * joined.readings[0].under[1].value


@pytest.mark.slow
def test_a_measurement_leaves_what_was_foretold() -> None:
    described = Readings.model_validate(BENCH, context=TOLD)
    told = {one.name: one for one in advice(fit(), described, KEPT).measurements}
    lone = replace(case().with_draws(fit().draws.first(1)).member(0), drawn_of=None, design=job())
    for made in measurements(lone, Instruments(multimeter=True, variable_transformer=True, clamp=600.0, heater=True)):
        if made.name not in ("the socket", "search coil", "volts of the secondary, open"):
            continue
        whole, _ = as_readings(described, [made])
        taken = {one.key: one for one in bench()}
        new = filled(whole, predict(lone, readings_of(whole))[:, 0])
        both = [taken.get(one.key, one) for one in new]
        after = fit_of(job(), both, source=KEPT)
        _, matters = matters_of(case().with_draws(after.draws.first(512)))
        for narrowed, then in zip(told[made.name].narrows, Z90 * matters.std(axis=0), strict=True):
            # spreads of 128 draws and of some hundred effective ones: each within some 6 %
            assert narrowed.left == pytest.approx(then, rel=0.2)


def test_advice_keeps_to_what_there_is_and_to_the_screen() -> None:
    # no lamp, no variable transformer, no clamp, no watts; idle on 230 V it takes more than a multimeter's 10 A
    assert case().at_idle.current_rms > 10
    few = list(measurements(case(), Instruments(multimeter=True)))
    names = ["resistance of the primary, two wires", "the socket"]
    assert [one.name for one in few] == names
    assert not any("power" in test.shown for one in few for _, test in one.tests)
    screen = StringIO()
    Console(file=screen, width=80).print(fit_report(fit(), ahead(), whole=True))
    lines = screen.getvalue().splitlines()
    assert max(map(len, lines)) <= 80
    (line,) = (line for line in lines if line.startswith("Next: "))
    assert "the socket" in line
    assert any("[instruments]" in line for line in lines)
    assert json.loads(fit_json(fit(), ahead()))["next"]["measurements"][0]["name"] == "the socket"
