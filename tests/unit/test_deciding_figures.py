"""The figures one decides by: what is drawn is what was found, points lie on their curves, all can be read."""

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

from fem.design.work_piece import WorkPieceDescription
from fem.digits import digits
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.bursts import BurstState, PartBurst
from fem.estimation.stations.bench.supply import BURST, BurstSupply, DeviceForecast
from fem.estimation.stations.states.load_line import LoadLineState
from fem.estimation.stations.states.milliohms import Milliohms, MilliohmsOfPart, MilliohmsOfState
from fem.mains.devices import Device, Type
from fem.quantity import Unknown
from fem.report.figures.breaker import breaker, draw_breaker
from fem.report.figures.bursts import burst_length, draw_burst_length, stands
from fem.report.figures.estimate import save
from fem.report.figures.idle import draw_loop, magnetisation_loop
from fem.report.figures.milliohms import draw_milliohms, milliohms
from fem.report.figures.volts_amperes import draw_volts_amperes, volts_amperes
from fem.report.figures.work import draw_work, work_over_time
from tests.support.drawn import assert_readable

TURNS, LOSS = 230, 0.25
"""Of the primary, and the peak of the current that core loss takes [A]."""
VOLTS, OHMS, HEAT = 3.0, 1.2e-3, 2.0e7
"""An e.m.f. behind a resistance, and what a part stands: so many A2s."""


def _burst_of(current: float) -> tuple[float, BurstState]:
    """Return how long a secondary of `HEAT` and leads of twice that stand a current."""
    density = current / 70e-6
    parts = {
        name: PartBurst(
            working=heat / current**2, once=9.0, adiabatic_working=1.0, adiabatic_once=9.0, current_density=density
        )
        for name, heat in (("secondary", HEAT), ("leads", 2 * HEAT))
    }
    state = BurstState(load_resistance=1e-3, longest=HEAT / current**2, limiting_part="secondary", parts=parts)
    return current, state


@pytest.fixture
def found(hand_made: Estimate) -> Any:
    """Return an estimate with a work piece, a breaker, a load line and milliohms of round numbers."""
    time = np.linspace(0.0, 6.0, 61)
    kelvin = 293.15 + np.where(time <= 2.0, 400.0 * time, 800.0 - 60.0 * (time - 2.0))
    run = SimpleNamespace(
        time=time, hottest_temperature=kelvin, beside=None, current_rms=np.where(time <= 2.0, 1000.0, 0.0)
    )
    fed = SimpleNamespace(
        time=time[:21], drawn=SimpleNamespace(secondary_current=np.full(21, 1000.0)), rms=lambda v: float(v[0])
    )
    work = WorkPieceDescription.model_validate(
        {"metal": "carbon steel", "section": {"round": "8 mm"}, "length": "40 mm", "duration": "6 s",
         "target_temperature": "700 degC", "jaws": {"material": "copper"}}
    )  # fmt: skip
    state = SimpleNamespace(
        hottest_temperature=1093.15, time_to_visible_red=1.26, time_to_dull_red=1.7, time_to_target=1.7,
        time_to_melting=Unknown("not in the burst"), time_to_melting_through=Unknown("not in the burst"),
        cold_current_rms=VOLTS / (OHMS + 0.3e-3), cold_resistance=0.3e-3,
        hot_current_rms=VOLTS / (OHMS + 1.2e-3), hot_resistance=1.2e-3, hot_voltage_rms=VOLTS / 2,
    )  # fmt: skip
    device = DeviceForecast(
        behaviour="may open", multiple=1.4, earliest=3.0, latest=5.0, typical=4.0, points="IEC 60898-1"
    )
    draws = BurstSupply(
        first_current_rms=25.0, last_current_rms=20.0, current_rms=22.0, largest_dip=0.05, energy=8000.0
    )
    current = np.linspace(0, VOLTS / OHMS, 11)
    line = LoadLineState(
        current_rms=tuple(current), voltage_rms=tuple(VOLTS - OHMS * current), input_current_rms=(0.0,) * 11,
        efficiency=(0.0,) * 11, most_power=VOLTS**2 / 4 / OHMS, resistance_of_most_power=OHMS,
        current_of_most_power=VOLTS / 2 / OHMS,
    )  # fmt: skip
    part = MilliohmsOfPart(
        resistance=0.4e-3, reactance=0.2e-3, voltage=0.9, in_phase_voltage=0.8, power=800.0, share=0.4
    )
    ohms = MilliohmsOfState(
        current_rms=2000.0, voltage=VOLTS, in_phase_voltage=2.0, resistance=1e-3, reactance=1e-3, impedance=1.5e-3,
        power=2000.0, parts={"leads": part, "secondary": replace(part, resistance=0.6e-3, reactance=0.0, share=0.6)},
    )  # fmt: skip
    curve, angle = hand_made.drawn, 2 * np.pi * np.arange(200) / 200
    flux = curve.operating_flux_per_turn * np.sin(angle)
    magnetising = np.sign(flux) * np.interp(abs(flux), curve.flux_per_turn, curve.ampere_turns) / TURNS
    tip = float(np.interp(curve.operating_flux_per_turn, curve.flux_per_turn, curve.ampere_turns))
    pictures = replace(
        curve, flux=flux, current=magnetising + LOSS * np.cos(angle), operating_ampere_turns=tip, work_piece=run,
        fed=fed, work=work, devices={"B16 breaker": Device(type=Type.B, rating=16.0)},
        lengths=tuple(_burst_of(amperes) for amperes in (2500.0, 1250.0, 625.0)),
    )  # fmt: skip
    anything: Any = state
    return replace(
        hand_made, work_piece=anything, load_line=line, pictures=pictures,
        supply=replace(hand_made.supply, burst=draws, devices={"B16 breaker": {BURST: device}}),
        milliohms=Milliohms(shorted=ohms, loaded=Unknown("none"), burst=Unknown("none")),
    )  # fmt: skip


DRAWN = (magnetisation_loop, work_over_time, volts_amperes, breaker, burst_length, milliohms)


@pytest.mark.parametrize("draw", DRAWN)
def test_a_figure_can_be_read(found: Any, draw: Callable[[Estimate], Figure]) -> None:
    assert_readable(draw(replace(found, title="A $5 supply for bandsaw blades " * 4)))


def test_a_figure_is_the_same_on_every_run(found: Any, tmp_path: Any) -> None:
    first, second = ([path.read_bytes() for path in save(breaker(found), tmp_path / name, "f")] for name in "ab")
    assert first == second


def _drawn(draw: Callable[[Any, Any], str], found: Any) -> tuple[dict[str, tuple[Any, Any]], str, Any]:
    """Return what is drawn as lines and points by its label, the caption and the axes."""
    axes = Figure().add_subplot()
    caption = draw(found, axes)
    return {str(line.get_label()): (line.get_xdata(), line.get_ydata()) for line in axes.lines}, caption, axes


def test_the_loop_is_as_wide_as_the_loss_and_has_the_curve_in_its_middle(found: Any) -> None:
    lines, _, _ = _drawn(draw_loop, found)
    amperes, density = (np.asarray(values) for values in lines["one period"])
    assert (amperes[0], amperes[100]) == (pytest.approx(LOSS), pytest.approx(-LOSS))
    assert density[0] == pytest.approx(density[100], abs=1e-9) == pytest.approx(0.0, abs=1e-9)
    curve, along = lines["without core loss"]
    # where the flux rises and where it falls, the current lies as far right of the curve as left of it
    middle = np.interp(density[:51], along, curve)
    np.testing.assert_allclose((amperes[:51] + amperes[100:49:-1]) / 2, middle, rtol=1e-9, atol=1e-9)
    assert max(abs(np.asarray(lines["no-load peak:\n1.53 T, " + _tip(found)][0]))) == pytest.approx(
        max(amperes), rel=0.05
    )


def _tip(found: Any) -> str:
    return f"{digits(found.drawn.operating_ampere_turns / TURNS)} A"


def test_the_work_and_what_guards_the_circuit_share_one_time_axis(found: Any) -> None:
    lines, caption, axes = _drawn(draw_work, found)
    time, celsius = lines["hottest place\nof the work"]
    assert (time[20], celsius[20]) == (2.0, pytest.approx(820.0))
    # a bar of the breaker from 3 s to 5 s; the machine stands 2e7 A2s, 20 s of 1000 A: beyond the 6 s drawn
    (bar,) = [patch for patch in axes.patches if patch.get_label() == "B16 breaker\nmay open from 3 s"]
    assert (bar.get_x(), bar.get_width()) == (3.0, 2.0)
    assert "secondary too hot from\n20 s of 1000 A" in lines
    levels = {label.partition(",")[0]: values[1][0] for label, values in lines.items() if "degC" in label}
    assert levels == pytest.approx({"just visible red": 525, "dull red": 699, "wanted": 700, "melting begins": 1480,
                                    "parts: melted": 1520}, abs=1.0)  # fmt: skip
    assert "melting" in caption


def test_the_work_takes_what_lies_on_the_machines_line(found: Any) -> None:
    lines, _, _ = _drawn(draw_volts_amperes, found)
    points = {label.partition(",")[0]: (x[0], y[0]) for label, (x, y) in lines.items() if len(x) == 1}
    assert set(points) == {"work cold", "work hot", "the load", "most power"}
    for name in ("work cold", "work hot", "most power"):
        amperes, volts = points[name]
        assert volts == pytest.approx(VOLTS - OHMS * amperes, rel=1e-9)


def test_the_zone_of_a_breaker_is_that_of_its_standard(found: Any) -> None:
    """IEC 60898-1, table 7: carries 1.13 times its rating for an hour, opens within an hour at 1.45 times; B by 5."""
    lines, _, axes = _drawn(draw_breaker, found)
    (zone,) = axes.collections
    inside = zone.get_paths()[0].contains_points
    assert list(inside([(1.05 * 16, 3000.0), (1.5 * 16, 3500.0), (1.5 * 16, 3700.0)])) == [False, True, False]
    assert list(inside([(5.2 * 16, 0.05), (5.2 * 16, 0.2), (2.9 * 16, 0.05)])) == [True, False, False]
    assert lines[f"{BURST}\n22.0 A, 2 s"] == ([22.0], [2.0])
    assert lines["no-load\n1.17 A, for good"][0] == [1.17]
    assert lines["switching on, worst\n69.3 A, 0.01 s"][0] == [pytest.approx(98 / np.sqrt(2))]


def test_how_long_a_burst_may_last_follows_the_square_of_its_current(found: Any) -> None:
    """What a part stands with no heat escaping is a number of A2s: straight between the currents on both logarithms."""
    for amperes in (700.0, 1000.0, 2000.0):
        assert stands(found.drawn, amperes) == ("secondary", pytest.approx(HEAT / amperes**2, rel=1e-9))
    assert stands(found.drawn, 3000.0) is None
    lines, _, _ = _drawn(draw_burst_length, found)
    np.testing.assert_allclose(lines["secondary"][1], HEAT / np.asarray(lines["secondary"][0]) ** 2)
    np.testing.assert_allclose(lines["the machine"][1], lines["secondary"][1])
    assert lines["this burst: 1000 A\n2 s"] == ([1000.0], [2.0])


def test_milliohms_are_drawn_with_the_longest_at_the_top(found: Any) -> None:
    _, caption, axes = _drawn(draw_milliohms, found)
    assert [label.get_text() for label in axes.get_yticklabels()] == [
        "leads\n40 % of the watts", "secondary\n60 % of the watts"
    ]  # fmt: skip
    assert [bar.get_width() for bar in axes.patches] == pytest.approx([0.4, 0.6, 0.2, 0.0])
    assert caption.startswith("Lead ends joined: 3.00 V of the mains")
