"""Inputs that are legal and almost surely wrong are said, each once, with key, value and what was expected."""

from math import pi

import pytest

import fem
from fem.design.transformer import Design
from fem.estimation.inputs.windings import computed_resistance
from fem.examples import example_names
from fem.trust.unlikely import unlikely
from geometries.windings.arrangement import place

SOUND = Design.model_validate(
    {
        "mains": {"voltage": "230 V", "frequency": "50 Hz"},
        "core": {"leg_width": "48 mm", "window_width": "26 mm", "window_height": "76 mm", "stack_depth": "64 mm"},
        "windings": {
            "arrangement": "side-by-side",
            "primary": {"turns": 230, "conductor": {"round": "1.6 mm"}},
            "secondary": {"turns": 2, "conductor": {"cable": "70 mm2"}},
        },
        "leads": {"length": "1.2 m", "joint_resistance": "0.1 mohm"},
        "load": {"resistance": "1.5 mohm"},
        "temperature": "40 degC",
    }
)


def said(design, computed=1.0, told=1.0):
    return [caution.text for caution in unlikely(design, computed, told)]


@pytest.mark.parametrize("name", example_names())
def test_sound_jobs_are_left_alone(name):
    design = fem.example_design(name)
    computed = computed_resistance(design, place(design.core, design.windings))
    assert said(design, computed, design.windings.primary.resistance or computed) == []


@pytest.mark.parametrize(
    ("changes", "begins", "expected"),
    [
        ({"leads.joint_resistance": "0.15 ohm"}, "leads.joint_resistance 150 mohm", "was mohm meant?"),
        ({"load.resistance": "1.5 ohm"}, "load.resistance 1.5 ohm", "was mohm meant?"),
        ({"leads.length": "0.2 m"}, "leads.length 200 mm", "measured one way?"),
        ({"leads.area": "7 cm2"}, "leads.area of 700 mm2", "was it cm2?"),
        ({"leads": None}, "There are no [leads]", "the winding's own ends"),
        ({"core.outer_leg_width": "48 mm"}, "core.outer_leg_width 48 mm", "E-I sheets have half, 24 mm"),
        ({"core.yoke_height": "48 mm"}, "core.yoke_height 48 mm", "E-I sheets have half, 24 mm"),
        ({"core.window_width": "60 mm"}, "core.window_width 60 mm", "nearest standard one, EI150N, 25 mm and 75 mm"),
        ({"core.stack_depth": "220 mm"}, "core.stack_depth 220 mm", "was it cm"),
        ({"mains.frequency": "55 Hz"}, "mains.frequency 55 Hz", "50 or 60 Hz"),
        ({"windings.primary.turns": 60}, "windings.primary.turns 60", "salvaged cores run at"),
    ],
)
def test_each_is_said_once_with_key_value_and_what_was_expected(changes, begins, expected):
    design = SOUND
    for key, value in changes.items():
        design = design.vary(key, value)
    found = said(design)
    if "stack" in begins:  # more than three times the iron is also less than a third of the flux
        found = found[:1]
    (text,) = found
    assert text.startswith(begins)
    assert expected in text
    assert len(text) < 260


def test_mains_that_do_not_go_together():
    american = SOUND.vary("mains.voltage", "120 V").vary("windings.primary.turns", 120)
    assert [text[:21] for text in said(american)] == ["mains.frequency 50 Hz"]
    assert said(american.vary("mains.frequency", "60 Hz")) == []
    assert said(SOUND.vary("mains.voltage", "23 V"))[0].startswith("mains.voltage 23 V")


def test_a_window_lying_down_was_measured_the_other_way():
    lying = SOUND.vary("core.window_width", "76 mm").vary("core.window_height", "75 mm")
    (text,) = said(lying)
    assert ": swapped?" in text


def test_a_length_in_cm_that_was_told_in_mm():
    small = SOUND.vary("core.stack_depth", "6.4 mm")
    assert [text.split()[0] for text in said(small)] == ["core.stack_depth", "windings.primary.turns"]


@pytest.mark.parametrize(("ratio", "odd"), [(0.7, True), (0.8, False), (1.25, False), (1.35, True)])
def test_a_resistance_at_odds_with_turns_and_wire(ratio, odd):
    # R = rho N l / A with copper of 1/58 ohm mm2/m (IEC 60028) at 20 degC; 0.393 % more for each of 20 K above it. The
    # mean turn lies between one round the bare leg and one round a window filled to its far side.
    core, primary = SOUND.core, SOUND.windings.primary
    computed = computed_resistance(SOUND, place(core, SOUND.windings))
    per_metre = primary.turns / 58e6 / (pi / 4 * primary.conductor.bare_width**2)
    per_metre *= 1 + 0.00393 * (SOUND.temperature - 293.15)
    around = 2 * (core.leg_width + core.stack_depth)
    assert around < computed / per_metre < around + 2 * pi * core.window_width
    design = SOUND.vary("windings.primary.resistance", ratio * computed)
    assert len(said(design, computed, ratio * computed)) == odd
    if odd:
        assert said(design, computed, ratio * computed)[0].startswith("windings.primary.resistance ")
