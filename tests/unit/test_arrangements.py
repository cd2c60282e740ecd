"""Interleaved coils, extra turns, a leg for each winding, shunts and gaps: where they sit and whether they fit."""

from itertools import pairwise
from math import pi

import pytest
from pydantic import TypeAdapter, ValidationError

from geometries.assembly.section_of import section_of
from geometries.cores.kinds import Core
from geometries.cores.shell import ShellCore
from geometries.cores.shunt import Shunt
from geometries.cores.two_leg import TwoLegCore
from geometries.described.faults import faults
from geometries.shapes.blocks import blocks_of
from geometries.shapes.section import Role
from geometries.windings.arrangement import Windings, place
from geometries.windings.coils import coils_of
from geometries.windings.fit import fit

MEASURED = {
    "leg_width": "40 mm",
    "yoke_height": "40 mm",
    "window_width": "40 mm",
    "window_height": "90 mm",
    "stack_depth": "50 mm",
    "joint": "butt",
    "steel": "some grade",
}
SHELL = ShellCore.model_validate({**MEASURED, "outer_leg_width": "20 mm"})
TWO_LEG = TwoLegCore.model_validate(MEASURED)
CLEAR = {"spacing": "4 mm", "leg_clearance": "1.5 mm", "yoke_clearance": "3 mm"}
PRIMARY = {"turns": 240, "conductor": {"round": "1 mm", "insulated": "1.1 mm"}}
SECONDARY = {"turns": 4, "conductor": {"strip": "20 mm x 2 mm", "insulated": "21 mm x 3 mm"}}


def windings(primary=None, secondary=None, **changes):
    given = {"arrangement": "side-by-side", **CLEAR, **changes}
    return Windings.model_validate(
        {**given, "primary": {**PRIMARY, **(primary or {})}, "secondary": {**SECONDARY, **(secondary or {})}}
    )


def refusal(model, **given):
    with pytest.raises(ValidationError) as caught:
        model(**given)
    (fault,) = faults(caught.value)
    return fault.message


@pytest.mark.parametrize("n", [1, 2])
@pytest.mark.parametrize("ends", ["primary", "secondary"])
def test_interleaved_coils_alternate_with_halves_at_the_ends(n, ends):
    """n coils of one winding between n + 1 of the other, whose first and last hold half as many turns."""
    strip = {"strip": "10 mm x 2 mm", "insulated": "11 mm x 2.5 mm"}
    both = windings(arrangement="interleaved", sections=n, ends=ends, secondary={"conductor": strip})
    blocks = sorted(place(SHELL, both), key=lambda block: block.bottom)
    other = "primary" if ends == "secondary" else "secondary"
    assert [block.winding for block in blocks] == [ends, other] * n + [ends]
    shares = [block.share for block in blocks if block.winding == ends]
    assert shares == [0.5 / n, *[1 / n] * (n - 1), 0.5 / n]
    assert all(block.share == 1 / n for block in blocks if block.winding == other)
    assert all(high.bottom == pytest.approx(low.top + 4e-3) for low, high in pairwise(blocks))
    assert blocks[0].bottom == pytest.approx(3e-3)
    # Whole turns in every coil, all of them together, and names that tell the regions apart.
    coils = coils_of(both, blocks)
    assert sum(coil.turns for coil in coils if coil.key == "primary") == 240
    assert sum(coil.turns for coil in coils if coil.key == "secondary") == 4
    section = section_of(SHELL, blocks)
    assert len({region.name for region in section.regions}) == len(section.regions)
    assert section.mirror_symmetric
    assert fit(SHELL, both, blocks).fits


def test_height_of_an_interleaved_winding_is_that_of_its_coils_together():
    strip = {"strip": "10 mm x 2 mm", "insulated": "11 mm x 2.5 mm"}
    both = windings({"height": "30 mm"}, {"conductor": strip}, arrangement="interleaved", sections=2)
    coils = [block for block in place(SHELL, both) if block.winding == "primary"]
    assert [coil.height for coil in coils] == pytest.approx([15e-3, 15e-3])


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"arrangement": "interleaved", "secondary": {"turns": 3}}, "secondary.turns 3 do not part into 2 equal half"),
        ({"arrangement": "interleaved", "sections": 7}, "primary.turns 240 do not part into 7 equal coils of whole"),
        ({"arrangement": "interleaved", "primary": {"bottom": "5 mm"}}, "primary.bottom: interleaved coils follow"),
        ({"sections": 2}, "sections and ends are for arrangement"),
        (
            {"legs": "each", "arrangement": "concentric"},
            'legs = "each" is for arrangement = "side-by-side"; concentric',
        ),
        ({"secondary": {"extra": {"turns": 2, "conductor": {"round": "1 mm"}}}}, "extra turns are for the primary"),
        (
            {"primary": {"extra": {"turns": 240, "conductor": {"round": "1 mm"}, "sense": "opposing"}}},
            "240 turns and 240 opposing ones leave 0; at least 1 is needed",
        ),
    ],
)
def test_refused_arrangements(changes, text):
    assert refusal(windings, **changes).startswith(text)


@pytest.mark.parametrize(("sense", "net"), [("aiding", 260), ("opposing", 220)])
def test_extra_turns_by_hand(sense, net):
    extra = {"turns": 20, "conductor": {"round": "1 mm", "insulated": "1.1 mm"}, "sense": sense}
    both = windings({"extra": extra})
    main, more, secondary = place(SHELL, both)
    assert both.primary.net_turns == net
    assert (main.share, abs(more.share)) == pytest.approx((240 / net, 20 / net))
    assert blocks_of((main, more, secondary), "primary") == (main, more)  # shares sum to 1
    # Twenty turns go beside each other in 40 - 2 x 1.5 mm: one row, above the secondary.
    assert (more.build, more.height) == pytest.approx((20 * 1.1e-3, 1.1e-3))
    assert more.bottom == pytest.approx(secondary.top + 4e-3)
    coils = coils_of(both, (main, more, secondary))
    assert [coil.turns for coil in coils] == [240, 20, 4]
    # Length of all turns: the winding's mean turn counts each coil by its turns, whatever their sense.
    length = sum(coil.length(SHELL) for coil in coils[:2])
    assert SHELL.frame.mean_turn((main, more)) == pytest.approx(length / 260)
    found = fit(SHELL, both, (main, more, secondary))
    assert found.fits
    assert len(found.blocks) == 3
    assert found.fill_factor == pytest.approx((260 * pi / 4 * 1e-6 + 4 * 40e-6) / (0.04 * 0.09))
    low = windings({"extra": {**extra, "bottom": "10 mm"}})
    text = fit(SHELL, low, place(SHELL, low)).faults
    assert any("primary and primary extra overlap" in fault.message for fault in text)


def test_alike_coils_that_do_not_fit_are_one_fault():
    """Both half coils of the secondary are less than the strip's height: the winding is too low, once."""
    low = fit(SHELL, both := windings(arrangement="interleaved", secondary={"height": "20 mm"}), place(SHELL, both))
    (fault,) = low.faults
    assert fault.key == "windings.secondary"
    assert "height 10.0 mm is less than one conductor: 11.0 mm too little" in fault.message


def test_extra_turns_lie_outside_concentric_windings():
    both = windings({"extra": {"turns": 20, "conductor": {"round": "1 mm"}}}, arrangement="concentric")
    _, more, secondary = place(SHELL, both)
    assert more.leg_clearance == pytest.approx(secondary.leg_clearance + secondary.build + 4e-3)
    assert more.height == pytest.approx(84e-3)


def test_each_winding_on_its_own_leg():
    both = windings(legs="each")
    primary, secondary = place(TWO_LEG, both)
    assert (primary.leg_axis, secondary.leg_axis) == pytest.approx((0.0, 0.08))
    # Both take the whole height; 240 turns of 1.1 mm in 84 mm: 76 a layer, 4 layers.
    assert (primary.height, primary.build) == pytest.approx((84e-3, 4.4e-3))
    section = section_of(TWO_LEG, (primary, secondary))
    senses = {
        f"{region.coil} {region.name.split()[-1]}": region.sense
        for region in section.regions
        if region.role is Role.CONDUCTOR
    }
    # Flux down one leg comes up the other: in the window both windings' turns come out of the page.
    assert senses == {"primary right": 1, "primary left": -1, "secondary left": 1, "secondary right": -1}
    result = fit(TWO_LEG, both, (primary, secondary))
    assert result.fits
    between = 40e-3 - 2 * 1.5e-3 - primary.build - secondary.build
    assert result.apart == pytest.approx(between)
    thick = windings({"build": "30 mm"}, {"build": "10 mm"}, legs="each")
    (fault,) = fit(TWO_LEG, thick, place(TWO_LEG, thick)).faults
    assert fault.message == "primary and secondary overlap by 3.0 mm"
    with pytest.raises(ValueError, match="primary and secondary overlap by 3 mm"):
        section_of(TWO_LEG, place(TWO_LEG, thick))
    keys = [fault.key for fault in fit(SHELL, both, place(SHELL, both)).faults]
    assert keys == ["windings.legs"]


@pytest.mark.parametrize("legs", ["one", "each"])
def test_height_to_spare_beside_a_shorter_winding(legs):
    """90 mm less twice 3 mm: of them 50 and 20 mm taken and 4 mm kept apart, or 50 mm beside 20 mm on the other leg."""
    both = windings({"height": "50 mm"}, {"height": "20 mm", "conductor": {"strip": "10 mm x 2 mm"}}, legs=legs)
    found = fit(TWO_LEG, both, place(TWO_LEG, both))
    assert found.faults == ()
    assert found.spare_height == pytest.approx(34e-3 if legs == "each" else 10e-3)


def test_two_leg_core_by_hand():
    # Frame 120 x 170 mm round a window of 40 x 90 mm.
    face = 0.12 * 0.17 - 0.04 * 0.09
    assert (TWO_LEG.overall_width, TWO_LEG.overall_height) == pytest.approx((0.12, 0.17))
    assert TWO_LEG.iron_volume == pytest.approx(face * 0.05 * 0.95)
    assert TWO_LEG.narrowest_iron_area == pytest.approx(0.04 * 0.05 * 0.95)
    section = section_of(TWO_LEG, place(TWO_LEG, windings()))
    areas = dict.fromkeys(Role, 0.0)
    for region in section.regions:
        areas[region.role] += region.area
    assert areas[Role.IRON] + areas[Role.JOINT] == pytest.approx(face)
    assert areas[Role.JOINT] == pytest.approx(2 * 0.04 * 1e-4)
    assert not section.mirror_symmetric
    names = [cut.name for cut in section.cuts]
    assert names == ["wound leg", "wound leg at secondary", "other leg", "lower yoke", "upper yoke"]
    assert TWO_LEG.flux_place == names[0]


def test_type_tells_the_cores_apart():
    read = TypeAdapter(Core).validate_python
    assert isinstance(read({**MEASURED, "type": "two-leg"}), TwoLegCore)
    assert isinstance(read({**MEASURED, "type": "shell", "outer_leg_width": "20 mm"}), ShellCore)


@pytest.mark.parametrize("core", [SHELL, TWO_LEG])
def test_a_gap_in_the_leg_is_air(core):
    gapped = type(core).model_validate({**core.model_dump(exclude_unset=True), "leg_gap": "2 mm"})
    section = section_of(gapped, place(gapped, windings()))
    (gap,) = [region for region in section.regions if region.role is Role.AIR]
    assert (gap.y0, gap.y1) == pytest.approx((44e-3, 46e-3))
    solid = sum(region.area for region in section_of(core, ()).regions if region.role is Role.IRON)
    left = sum(region.area for region in section.regions if region.role is Role.IRON)
    assert solid - left == pytest.approx(2e-3 * 40e-3)
    low = type(core).model_validate({**gapped.model_dump(exclude_unset=True), "leg_gap_position": "10 mm"})
    assert low.frame.leg_gap.bottom == pytest.approx(9e-3)
    given = gapped.model_dump(exclude_unset=True)
    text = refusal(type(core), **{**given, "leg_gap_position": "0.5 mm"})
    assert text.startswith("a leg_gap of 2 mm at 500 um leaves the leg")
    assert refusal(type(core), **{**given, "leg_gap": None, "leg_gap_position": "9 mm"}).startswith("leg_gap_position")


@pytest.mark.parametrize(("core", "names"), [(SHELL, ["left shunt", "right shunt"]), (TWO_LEG, ["shunt"])])
def test_shunts_stand_in_the_windows_beside_the_leg(core, names):
    blocks = place(core, windings(spacing="12 mm"))
    shunt = Shunt(height="6 mm", total_gap="1 mm")
    bars = [region for region in section_of(core, blocks, shunt=shunt).regions if region.role is Role.SHUNT]
    assert [bar.name for bar in bars] == names
    assert [bar.x1 - bar.x0 for bar in bars] == pytest.approx([39e-3] * len(bars))
    middle = (blocks[0].top + blocks[1].bottom) / 2
    assert [(bar.y0 + bar.y1) / 2 for bar in bars] == pytest.approx([middle] * len(bars))
    out = shunt.model_copy(update={"fitted": False})
    assert not [region for region in section_of(core, blocks, shunt=out).regions if region.role is Role.SHUNT]
    tall = Shunt(height="13 mm", total_gap="1 mm")
    with pytest.raises(ValueError, match="shunt: overlaps the primary by 500 um"):
        section_of(core, blocks, shunt=tall)


TWO_CORES = ShellCore.model_validate(
    {**MEASURED, "outer_leg_width": "20 mm", "second": {"spacing": "70 mm", "primaries": "series"}}
)


def test_two_cores_have_a_primary_each_and_one_secondary():
    both = windings()
    primary, secondary = place(TWO_CORES, both)
    assert (primary.round_both, secondary.round_both) == (False, True)
    frame = TWO_CORES.frame
    assert frame.surrounded(primary) == pytest.approx((0.04, 0.05))
    assert frame.surrounded(secondary) == pytest.approx((0.04, 0.05 + 0.07 + 0.05))
    assert (frame.iron_within(primary), frame.iron_within(secondary)) == pytest.approx((0.05, 0.1))
    # z = 0 lies midway between the stacks.
    assert frame.nearest_stack == pytest.approx((0.035, 0.085))
    assert frame.turn_centre(primary) == pytest.approx(0.06)
    assert TWO_CORES.iron_volume == pytest.approx(2 * SHELL.iron_volume)
    assert fit(TWO_CORES, both, (primary, secondary)).fits
    alone = place(SHELL, both)
    assert not any(block.round_both for block in alone)
    assert section_of(SHELL, alone).digest == section_of(TWO_CORES, (primary, secondary)).digest


def test_what_two_cores_cannot_have_is_named():
    tight = TWO_CORES.model_copy(update={"second": TWO_CORES.second.model_copy(update={"spacing": 0.02})})
    both = windings()
    primary = place(tight, both)[0]
    need = 2e3 * (primary.end_clearance + primary.build)
    (fault,) = fit(tight, both, place(tight, both)).faults
    assert fault.key == "core.second.spacing"
    assert fault.message == (
        f"the primaries' end turns need {need:.1f} mm between the cores, 20.0 mm is there: "
        f"{need - 20:.1f} mm too little"
    )
    wire = {"conductor": {"round": "0.6 mm"}, "turns": 120}
    inside = windings(wire, arrangement="concentric", inner="secondary")
    assert "windings.inner" in [f.key for f in fit(TWO_CORES, inside, place(TWO_CORES, inside)).faults]
    more = windings({**wire, "extra": {"turns": 10, "conductor": {"round": "0.6 mm"}}}, arrangement="concentric")
    assert "windings.primary.extra" in [f.key for f in fit(TWO_CORES, more, place(TWO_CORES, more)).faults]


def test_a_second_core_says_how_its_primary_is_wired():
    given = {**MEASURED, "outer_leg_width": "20 mm"}
    for second, key in (({"spacing": "60 mm"}, "primaries"), ({"spacing": "60 mm", "primaries": "star"}, "primaries")):
        with pytest.raises(ValidationError) as caught:
            ShellCore.model_validate({**given, "second": second})
        (fault,) = faults(caught.value)
        assert fault.key == f"second.{key}"
