"""Windings: how they are laid and placed, and whether they fit."""

from math import ceil, floor, pi

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError

from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.described.faults import faults
from geometries.windings.arrangement import Arrangement, Windings, place
from geometries.windings.fit import fit
from geometries.windings.turns import Winding

CORE = ShellCore(
    leg_width="40 mm",
    outer_leg_width="20 mm",
    yoke_height="20 mm",
    window_width="25 mm",
    window_height="75 mm",
    stack_depth="50 mm",
    joint="butt",
    steel="some grade",
)
CLEAR = {"spacing": "4 mm", "leg_clearance": "1.5 mm", "yoke_clearance": "3 mm"}
PRIMARY = {"turns": 300, "conductor": {"round": "1 mm", "insulated": "1.1 mm"}}
SECONDARY = {"turns": 3, "conductor": {"cable": "50 mm2", "insulated": "12 mm"}}


def windings(arrangement="side-by-side", primary=None, secondary=None, **changes):
    return Windings.model_validate(
        {
            "arrangement": arrangement,
            **CLEAR,
            **changes,
            "primary": {**PRIMARY, **(primary or {})},
            "secondary": {**SECONDARY, **(secondary or {})},
        }
    )


# Dimensions and mean turn of racetrack coils from an independent 3-D computation of leakage, in mm: leg, stack, then
# per coil clearance to the leg, build and the mean turn it reports (rounded to 1e-4 mm).
TURNS = [
    (30, 45, 1.5, 15, 206.5487),
    (38, 60, 1.5, 18, 261.9734),
    (40, 50, 1.5, 14, 233.4071),
    (40, 50, 1.5, 22, 258.5398),
    (40, 60, 1.5, 20, 272.2566),
]


@pytest.mark.parametrize(("leg", "stack", "clearance", "build", "mean_turn"), TURNS)
def test_mean_turn(leg, stack, clearance, build, mean_turn):
    given = {
        "height": "20 mm",
        "build": f"{build} mm",
    }
    both = windings(primary=given, leg_clearance=f"{clearance} mm")
    block, _ = place(CORE, both)
    assert block.mean_turn(leg * 1e-3, stack * 1e-3) == pytest.approx(mean_turn * 1e-3, abs=0.5e-7)


def test_mean_turns_of_concentric_coils():
    # As above: leg 30, stack 60, builds 8 and 7, 1.5 between: 214.5575 and 271.1062 mm.
    both = windings("concentric", {"build": "8 mm"}, {"build": "7 mm"}, spacing="1.5 mm", leg_clearance="1.5 mm")
    inner, outer = place(CORE, both)
    assert outer.leg_clearance == outer.end_clearance == pytest.approx(11e-3)
    assert inner.mean_turn(0.03, 0.06) == pytest.approx(214.5575e-3, abs=0.5e-7)
    assert outer.mean_turn(0.03, 0.06) == pytest.approx(271.1062e-3, abs=0.5e-7)


def test_side_by_side_by_hand():
    primary, secondary = place(CORE, windings())
    # Room across: 25 - 2 x 1.5 = 22 mm: exactly 20 layers of 1.1 mm, so 15 per layer.
    assert (primary.build, primary.height, primary.bottom) == pytest.approx((22e-3, 16.5e-3, 3e-3))
    # One layer of 12 mm cable, three above one another.
    assert (secondary.build, secondary.height) == pytest.approx((12e-3, 36e-3))
    assert secondary.bottom == pytest.approx(3e-3 + 16.5e-3 + 4e-3)


def test_one_given_extent_gives_the_other():
    tall, _ = place(CORE, windings(primary={"height": "33 mm"}))
    assert (tall.height, tall.build) == pytest.approx((33e-3, 10 * 1.1e-3))
    thick, _ = place(CORE, windings(primary={"build": "10 mm"}))
    # Nine layers go into 10 mm, so 34 per layer; the build stays as given.
    assert (thick.build, thick.height) == pytest.approx((10e-3, 34 * 1.1e-3))
    both, above = place(CORE, windings(primary={"height": "30 mm", "build": "14 mm", "bottom": "5 mm"}))
    assert (both.height, both.build, both.bottom) == pytest.approx((30e-3, 14e-3, 5e-3))
    assert above.bottom == pytest.approx(39e-3)


def test_concentric_by_hand():
    both = windings(
        "concentric", secondary={"turns": 5, "conductor": {"strip": "10 mm x 2 mm", "insulated": "11 mm x 3 mm"}}
    )
    primary, secondary = place(CORE, both)
    # Height 75 - 2 x 3 = 69 mm: 62 of 1.1 mm in a layer, 5 layers; the strip takes one layer of at most six.
    assert (primary.bottom, primary.height, primary.build) == pytest.approx((3e-3, 69e-3, 5.5e-3))
    assert (secondary.leg_clearance, secondary.build) == pytest.approx((1.5e-3 + 5.5e-3 + 4e-3, 3e-3))
    turned = windings("concentric", inner="secondary", end_clearance="6 mm")
    primary, secondary = place(CORE, turned)
    assert secondary.leg_clearance == 1.5e-3
    assert secondary.end_clearance == 6e-3
    assert primary.leg_clearance == pytest.approx(1.5e-3 + secondary.build + 4e-3)
    assert primary.end_clearance == pytest.approx(6e-3 + secondary.build + 4e-3)
    short, _ = place(CORE, windings("concentric", {"height": "33 mm"}))
    assert short.bottom == pytest.approx(21e-3)


def test_wires_in_hand_take_room_like_turns():
    one = place(CORE, windings(primary={"turns": 300}))[0]
    two = place(CORE, windings(primary={"turns": 150, "wires_in_hand": 2}))[0]
    assert one == two


LENGTHS = st.floats(0.0, 6e-3)


@given(
    arrangement=st.sampled_from([Arrangement.SIDE_BY_SIDE, Arrangement.CONCENTRIC]),
    inner=st.sampled_from(["primary", "secondary"]),
    turns=st.tuples(st.integers(1, 600), st.integers(1, 12)),
    wire=st.floats(0.3e-3, 3e-3),
    cable=st.floats(6e-3, 20e-3),
    clearances=st.tuples(LENGTHS, LENGTHS, LENGTHS),
    height=st.none() | st.floats(5e-3, 80e-3),
    bottom=st.none() | st.floats(0.0, 70e-3),
)
def test_what_fits_is_inside_and_apart(arrangement, inner, turns, wire, cable, clearances, height, bottom):
    assume(arrangement is Arrangement.CONCENTRIC or inner == "primary")
    spacing, leg, yoke = clearances
    both = windings(
        arrangement,
        {"turns": turns[0], "conductor": {"round": 0.9 * wire, "insulated": wire}},
        {"turns": turns[1], "conductor": {"cable": 16e-6, "insulated": cable}, "height": height, "bottom": bottom},
        inner=inner,
        spacing=spacing,
        leg_clearance=leg,
        yoke_clearance=yoke,
    )
    blocks = place(CORE, both)
    result = fit(CORE, both, blocks)
    # Fit and geometry must agree, whichever way: inside the window less the yokes' clearances, and apart.
    tolerance = 1e-9
    inside = all(
        b.leg_clearance + b.build <= CORE.window_width + tolerance
        and b.bottom >= yoke - tolerance
        and b.top <= CORE.window_height - yoke + tolerance
        for b in blocks
    )
    a, b = blocks
    apart = (
        a.leg_clearance + a.build <= b.leg_clearance + tolerance
        or b.leg_clearance + b.build <= a.leg_clearance + tolerance
        or a.top <= b.bottom + tolerance
        or b.top <= a.bottom + tolerance
    )
    too_small = {fault.key for fault in result.faults if "less than one conductor" in fault.message}
    assert result.fits == (inside and apart and not too_small)
    if result.fits:
        assert section_of(CORE, blocks).mirror_symmetric
        # Copper that fits fills less than all of the window.
        assert 0 < result.fill_factor < 1
        assert all(0 < part.fill_factor < 1 for part in (result.primary, result.secondary))
        for winding, block in zip((both.primary, both.secondary), blocks, strict=True):
            rows = floor((block.height + tolerance) / winding.conductor.insulated_height)
            columns = floor((block.build + tolerance) / winding.conductor.insulated_width)
            assert rows * columns >= winding.conductors


@given(st.integers(1, 400), st.floats(0.5e-3, 3e-3))
def test_side_by_side_takes_the_least_height(turns, size):
    both = windings(primary={"turns": turns, "conductor": {"round": 0.9 * size, "insulated": size}})
    block, _ = place(CORE, both)
    layers = floor((22e-3 + 1e-9) / size)
    assert block.height == pytest.approx(ceil(turns / layers) * size)


def test_too_much_is_said_in_millimetres():
    both = windings(
        secondary={"turns": 4, "conductor": {"cable": "70 mm2", "insulated": "16 mm"}, "height": "32 mm"},
        leg_clearance="2 mm",
    )
    result = fit(CORE, both, place(CORE, both))
    assert not result.fits
    (fault,) = result.faults
    assert fault.key == "windings.secondary"
    assert fault.message == (
        "4 turns of 16 mm cable need 34.0 mm across the window (from the leg), 25.0 mm is there: 9.0 mm too much"
    )
    assert result.secondary.side_room == pytest.approx(-9e-3)


@pytest.mark.parametrize(
    ("changes", "key", "text"),
    [
        (
            {"secondary": {"turns": 5}},
            "windings.secondary",
            "5 turns of 12 mm cable reach 83.5 mm above the lower yoke",
        ),
        (
            {"secondary": {"bottom": "37 mm"}},
            "windings.secondary",
            "3 turns of 12 mm cable reach 73.0 mm above the lower yoke, 72.0 mm is there",
        ),
        ({"secondary": {"bottom": "10 mm"}}, "windings", "primary and secondary overlap by 9.5 mm"),
        ({"primary": {"bottom": 0.0}}, "windings.primary", "starts 0.0 mm above the lower yoke"),
        (
            {"secondary": {"height": "10 mm"}},
            "windings.secondary",
            "3 turns of 12 mm cable: height 10.0 mm is less than",
        ),
        (
            {"primary": {"height": "10 mm", "build": "20 mm"}},
            "windings.primary",
            "300 turns of 1.1 mm wire need a build of at least 31.4 mm in a height of 10.0 mm",
        ),
    ],
)
def test_each_way_not_to_fit(changes, key, text):
    both = windings(**changes)
    found = fit(CORE, both, place(CORE, both)).faults
    assert any(fault.key == key and fault.message.startswith(text) for fault in found), found


def test_round_wire_nests_up_to_the_densest_packing():
    # Thue: 0.9069 of the area at most. 300 wires of 1.1 mm need 314.4 mm2 of block, 10.48 mm at a height of 30 mm.
    need = 300 * pi / 4 * 1.1e-3**2 / 0.906_899_682 / 30e-3
    for build, fits in ((need * 1.001, True), (need * 0.999, False)):
        both = windings(primary={"height": "30 mm", "build": build}, secondary={"turns": 1})
        assert fit(CORE, both, place(CORE, both)).fits is fits


def test_tight_places_are_warned_of():
    both = windings(spacing=0.0, leg_clearance=0.0, yoke_clearance=0.0, primary={"build": "24.5 mm"})
    result = fit(CORE, both, place(CORE, both))
    assert result.fits
    for words in ("no clearance to the leg", "no clearance to the yokes", "no spacing", "0.5 mm to the outer leg"):
        assert any(words in text for text in result.warnings), words
    roomy = windings()
    assert fit(CORE, roomy, place(CORE, roomy)).warnings == ()
    crowded = windings(
        primary={"turns": 600}, secondary={"turns": 2, "conductor": {"cable": "150 mm2", "insulated": "19 mm"}}
    )
    assert any("copper fills" in text for text in fit(CORE, crowded, place(CORE, crowded)).warnings)


def refusal(**changes):
    with pytest.raises(ValidationError) as caught:
        windings(**changes)
    (fault,) = faults(caught.value)
    return fault


@pytest.mark.parametrize(
    ("changes", "key", "text"),
    [
        (
            {"secondary": {"turns": 3.5}},
            "secondary.turns",
            "turns 3.5: whole turns only (go and return through both windows)",
        ),
        ({"secondary": {"turns": 0}}, "secondary.turns", "0 is outside 1 to 20000"),
        ({"secondary": {"turns": -2}}, "secondary.turns", "-2 is outside 1 to 20000"),
        ({"secondary": {"turns": "3"}}, "secondary.turns", 'expected a whole number; got "3"'),
        ({"secondary": {"conductor": 5}}, "secondary.conductor", "expected a table; got 5"),
        ({"secondary": {"conductor": {}}}, "secondary.conductor", "give exactly one of round, strip and cable"),
        ({"secondary": {"tuns": 4}}, "secondary.tuns", 'unknown key "tuns"; did you mean "turns"?'),
        ({"secondary": {"insulation_class": "Z"}}, "secondary.insulation_class", 'expected "A", "E", "B", "F" or "H"'),
        ({"secondary": {"resistance_temperature": "60 C"}}, "secondary.resistance_temperature", "60 C is a charge"),
        ({"secondary": {"resistance_temperature": 20}}, "secondary.resistance_temperature", "-253.1 degC is outside"),
        ({"secondary": {"height": "0 mm"}}, "secondary.height", "0 mm is outside 100 um to 500 mm"),
        (
            {"arrangement": "sideways"},
            "arrangement",
            'expected "side-by-side", "concentric" or "interleaved"; got "sideways"',
        ),
        ({"spacing": "-1 mm"}, "spacing", "-1 mm is outside 0 mm to 100 mm"),
        ({"inner": "secondary"}, "", "inner is for arrangement"),
    ],
)
def test_refused(changes, key, text):
    fault = refusal(**changes)
    assert fault.key == key
    assert fault.message.startswith(text)


def test_whole_turns_as_float_are_whole():
    assert Winding(turns=3.0, conductor={"cable": "50 mm2"}).turns == 3


def test_round_trip():
    both = windings("concentric", primary={"resistance": "1.2 ohm", "resistance_temperature": "22 degC"})
    assert Windings.model_validate(both.model_dump()) == both
    assert Windings.model_validate_json(both.model_dump_json()) == both
