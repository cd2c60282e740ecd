"""What to cut: turns as long as their path, layers that add up, tails and leads, lugs, volts between layers."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fem.assumptions import assumed
from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.inputs.cutting import length_bands, pieces_of
from fem.estimation.result import Estimate
from fem.estimation.stations.built.cut_list import cut_list
from fem.quantity import Band
from fem.report.text.cut_list import cut_list as told
from fem.report.text.cut_list import layers_text, metres
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import place
from geometries.windings.coils import coils_of
from geometries.windings.lengths import layer_turns, wire_lengths
from tests.support.every_kind import KINDS, SHELL, WINDINGS, design_of

CABLE: dict[str, Any] = {"turns": 2, "conductor": {"cable": "35 mm2", "insulated": "11 mm"}, "lay": "2"}
LEADS = {"length": "1.2 m", "area": "70 mm2", "spacing": "40 mm"}
TAILS = 2 * assumed("tail of a winding").typical
SLACK = assumed("slack of a winding").typical


def _design(secondary: dict[str, Any], **more: Any) -> Design:
    windings = {**WINDINGS, "secondary": secondary}
    mains = {"voltage": "230 V", "frequency": "50 Hz"}
    return in_use(Design.model_validate({"mains": mains, "core": SHELL, "windings": windings, **more}))


def _pieces(design: Design) -> dict[str, Any]:
    return {piece.name: piece for piece in pieces_of(design, place(design.core, design.windings))}


@pytest.mark.parametrize(("clearance", "end"), [(1.5e-3, 1.5e-3), (1e-3, 4e-3), (0.0, 2e-3), (3e-3, 0.5e-3)])
def test_a_turn_is_as_long_as_its_path(clearance: float, end: float) -> None:
    """The path is traced point by point: straight beside the leg, round its corners at one distance from them.

    Chords of an arc of angle a are short by a^2/24 of it: 1e-8 at 4000 a corner.
    """
    width, depth, outside = 40e-3, 50e-3, 7e-3
    block = Block(winding="w", leg_clearance=clearance, end_clearance=end, build=9e-3, bottom=0.0, height=20e-3)
    r = min(clearance, end)
    corner = width / 2 + clearance - r, depth / 2 + end - r
    angle = np.concatenate([np.linspace(q, q + np.pi / 2, 4000) for q in np.pi / 2 * np.arange(4)])
    quarter = np.repeat(np.arange(4), 4000)
    sign = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])[quarter]
    path = sign * corner + (r + outside) * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    traced = np.hypot(*np.diff(np.vstack((path, path[:1])), axis=0).T).sum()
    assert block.turn_length(width, depth, outside) == pytest.approx(traced, rel=1e-7)


@pytest.mark.parametrize("kind", KINDS)
def test_layers_hold_all_conductors_and_no_more_length_than_their_ends_allow(kind: str) -> None:
    design = design_of(kind)
    for coil in coils_of(design.windings, place(design.core, design.windings)):
        layers, around = layer_turns(design.core, coil), design.core.frame.surrounded(coil.block)
        assert sum(layer.conductors for layer in layers) == coil.conductors
        lengths = [layer.turn_length for layer in layers]
        assert lengths == sorted(lengths)
        assert coil.block.turn_length(*around, 0.0) < lengths[0]
        assert lengths[-1] < coil.block.turn_length(*around, coil.block.build)
        whole = sum(layer.conductors * layer.turn_length for layer in layers)
        assert sum(wire_lengths(design.core, coil)) == pytest.approx(whole, rel=1e-12)
        if len({layer.conductors for layer in layers}) == 1:  # full layers: the mean turn is that of the middle
            assert whole == pytest.approx(coil.length(design.core) * coil.wires_in_hand, rel=1e-12)


def test_wires_in_hand_are_cut_as_long_as_the_longest() -> None:
    """Two turns of two wires laid across: one wire of each turn lies inside, 2 pi pitches shorter a turn."""
    design = _design(
        {**CABLE, "conductor": {"cable": "16 mm2", "insulated": "8 mm"}, "wires_in_hand": 2, "lay": "2 + 2"}
    )
    (coil,) = [c for c in coils_of(design.windings, place(design.core, design.windings)) if c.key == "secondary"]
    inner, outer = (layer.turn_length for layer in layer_turns(design.core, coil))
    assert outer - inner == pytest.approx(2 * np.pi * 8e-3, rel=1e-12)
    piece = _pieces(design)["secondary"]
    assert piece.count == 2
    assert piece.round_leg == max(wire_lengths(design.core, coil))
    assert piece.length == pytest.approx(piece.round_leg * (1 + SLACK) + TAILS, rel=1e-12)
    assert piece.mass == pytest.approx(2 * piece.length * 16e-6 * 8.93e3, rel=5e-3)  # copper, 8.89 to 8.96 g/cm3


def test_a_cable_that_goes_on_as_leads_is_one_piece() -> None:
    same = _pieces(_design(CABLE, leads={**LEADS, "area": "35 mm2"}))
    assert "leads" not in same
    assert same["secondary"].length == pytest.approx(same["secondary"].round_leg * (1 + SLACK) + 1.2, rel=1e-12)
    other = _pieces(_design(CABLE, leads=LEADS))
    assert (other["leads"].count, other["leads"].length) == (2, pytest.approx(0.6))
    assert _pieces(_design(CABLE))["secondary"].beyond == 0.0


def test_a_ring_is_not_cut_and_two_cores_take_two_primaries() -> None:
    work = {"metal": "carbon steel", "section": {"round": "8 mm"}, "duration": "5 s", "ring": {"length": "2 m"}}
    assert set(_pieces(_design(CABLE, work_piece=work))) == {"primary"}
    one, two = _pieces(design_of("shell")), _pieces(design_of("two cores"))
    assert (one["primary"].count, two["primary"].count) == (1, 2)
    assert two["primary"].length == pytest.approx(one["primary"].length)
    assert two["primary"].salvaged
    # 14 turns go on round the second stack of 50 mm, 60 mm away
    longer = two["secondary"].round_leg - one["secondary"].round_leg
    assert longer == pytest.approx(14 * 2 * (50e-3 + 60e-3), rel=1e-9)


def test_a_mean_turn_that_was_measured_is_what_is_cut() -> None:
    piece = _pieces(_design({**CABLE, "mean_turn": "300 mm"}))["secondary"]
    assert piece.round_leg == pytest.approx(0.6)


def _band(design: Design) -> Band:
    found = length_bands(design, place(design.core, design.windings))["secondary"]
    assert isinstance(found, Band)
    return found


def test_lengths_follow_what_is_told_of_callipers_and_practice() -> None:
    """Measured turns leave tails and slack; a core told within 2 mm adds four times that a turn and nothing else."""
    measured = _band(_design({**CABLE, "mean_turn": "300 mm"}))
    assert {words for words, _ in measured.terms} <= {"tails", "slack", "together"}
    tail = assumed("tail of a winding")
    assert 0.6 + 2 * tail.low < measured.low < 0.6 * (1 + SLACK) + TAILS < measured.high < 0.6 * 1.06 + 2 * tail.high
    design = _design({**CABLE, "turns": 5, "conductor": {"round": "3 mm"}, "lay": "5"})
    rough = {**SHELL, "leg_width": "40 mm +-8 mm"}
    told_rough = Design.model_validate(
        {"mains": design.mains, "core": rough, "windings": {**WINDINGS, "secondary": design.windings.secondary}}
    )
    sure, unsure = _band(design), _band(told_rough)
    # a rectangle 160 mm wide over 5 turns and both sides has a variance of 0.16^2/12 more; from bands to spreads as of
    # a normal distribution, of which sums of a triangle or two and a rectangle are some per cent off
    tails_only = (sure.high - sure.low) / 2 / 1.64
    expected = np.hypot(tails_only, 5 * 2 * 16e-3 / np.sqrt(12))
    assert (unsure.high - unsure.low) / 2 / 1.64 == pytest.approx(expected, rel=0.1)
    assert "leg width" in dict(unsure.terms)


def _cut(design: Design, peak_flux: float) -> Any:
    blocks = place(design.core, design.windings)
    case = Case(design=design)
    fitted = case.fitted
    stand_in: Any = SimpleNamespace(
        design=design, blocks=blocks, fitted=fitted, at_idle=SimpleNamespace(peak_flux_per_turn=peak_flux)
    )
    return cut_list(stand_in)


def test_insulation_holds_the_volts_that_lie_across_it() -> None:
    """1 V a turn: two layers of two turns are 4 V apart where the second ends."""
    secondary = {"turns": 4, "conductor": {"round": "3 mm"}, "lay": "2 + 2"}
    found = _cut(_design(secondary), 1 / (np.sqrt(2) * np.pi * 50)).insulation
    layers = found["secondary, layer to layer"]
    assert layers.working_voltage == pytest.approx(4.0)
    assert layers.thickness == pytest.approx(_design(secondary).windings.secondary.conductor.insulated_width - 3e-3)
    assert found["secondary to core"].working_voltage == pytest.approx(4.0)
    assert (found["primary to core"].working_voltage, found["primary to core"].test_voltage) == (230.0, 2100.0)
    between = found["primary to secondary"]
    assert (between.thickness, between.test_voltage) == (pytest.approx(3e-3), 4200.0)
    primary = found["primary, layer to layer"]
    # 26 mm hold 20 turns of 1.26 mm over enamel, 40 turns in two layers
    assert primary.working_voltage == pytest.approx(40.0)


def test_lugs_are_those_of_the_cables_ends() -> None:
    """Two wires in hand have four ends at the winding; go and return two there and two at the work."""
    hand = {**CABLE, "wires_in_hand": 2, "turns": 1}
    load = {"load": {"resistance": "1 mohm"}}
    lugs = _cut(_design(hand, leads={**LEADS, "joint_resistance": "0.1 mohm"}), 4e-3).lugs
    assert {name: (lug.count, lug.bolt) for name, lug in lugs.items()} == {
        "secondary at the winding": (4, "M8"),
        "leads at the winding": (2, "M10"),
        "leads at the work": (2, "M10"),
    }
    # clamps on a load need none there; what is told to have no joint has no lug
    assert "leads at the work" not in _cut(_design(hand, leads=LEADS, **load), 4e-3).lugs
    assert _cut(_design(hand, leads={**LEADS, "joints": "none"}), 4e-3).lugs == {}
    assert _cut(_design({"turns": 2, "conductor": {"strip": "9 mm x 3 mm"}}), 4e-3).lugs == {}


def test_the_report_tells_it_in_lengths_one_cuts(hand_made: Estimate) -> None:
    found = _cut(_design(CABLE, leads=LEADS), 4e-3)
    lines = told(replace(hand_made, cut_list=found))
    values = {line.label: line.value for line in lines}
    assert values["leads: cut"] == "2 x 600 mm"
    assert values["crimped lugs, secondary at the winding"] == "2"
    assert values["primary, if it is wound anew: cut"].endswith(" m")
    assert all("common practice" in line.note for line in lines if "tails" in line.label or "slack" in line.label)
    assert (metres(1.2774), metres(71.889)) == ("1277 mm", "71.89 m")
    text = layers_text((18, 18, 14), (0.239, 0.25, 0.26))
    assert text == "layers 1 and 2: 18 each, a turn 239 mm and 250 mm; layer 3: 14, a turn 260 mm"
