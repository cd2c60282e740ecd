"""Cores, laminations and their section."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from geometries.assembly.section_of import section_of
from geometries.cores.laminations import lamination, standard_laminations
from geometries.cores.shell import ShellCore
from geometries.cores.stacked import Joint
from geometries.described.faults import faults
from geometries.shapes.blocks import Block
from geometries.shapes.section import Role

MEASURED = {
    "leg_width": "40 mm",
    "outer_leg_width": "20 mm",
    "yoke_height": "20 mm",
    "window_width": "20 mm",
    "window_height": "60 mm",
    "stack_depth": "50 mm",
    "joint": "butt",
    "steel": "some grade",
}
BLOCKS = (
    Block(winding="primary", leg_clearance=1.5e-3, end_clearance=1.5e-3, build=0.015, bottom=2e-3, height=0.025),
    Block(winding="secondary", leg_clearance=1.5e-3, end_clearance=1.5e-3, build=0.016, bottom=0.030, height=0.028),
)


def core(**changes):
    return ShellCore.model_validate({**MEASURED, **changes}, context={"job_file": True})


def refusals(**changes):
    given = {key: value for key, value in {**MEASURED, **changes}.items() if value is not None}
    with pytest.raises(ValidationError) as caught:
        ShellCore.model_validate(given, context={"job_file": True})
    return faults(caught.value)


def test_scrapless_proportions():
    # Scrapless E-I: window C/2 by 3C/2 (DE 3005567 A1), legs C/2 (Midcom technical note 85).
    for size in standard_laminations():
        given = {"lamination": size.name, "stack_depth": size.leg_width, "joint": "interleaved", "steel": "some grade"}
        built = ShellCore.model_validate(given)
        c = size.leg_width
        assert (built.overall_width, built.overall_height) == pytest.approx((3 * c, 2.5 * c), rel=1e-12)
        assert built.narrowest_iron_area == pytest.approx(built.leg_iron_area, rel=1e-12)
        assert built.narrowest_iron_area == pytest.approx(2 * built.yoke_iron_area, rel=1e-12)
        # A scrapless sheet: the I pieces are what two Es leave of their windows, so E + I has 6 C^2 of face.
        assert built.iron_volume == pytest.approx(6 * c**3 * 0.95, rel=1e-12)


def test_lamination_names():
    assert lamination("EI 120") == lamination("ei-120") == lamination("EI120")
    assert lamination("EI 120").leg_width == 0.04
    with pytest.raises(ValueError, match='unknown lamination "EI 121"; the nearest are EI120 and EI'):
        lamination("EI 121")
    with pytest.raises(ValueError, match="40 mm and with a 50 mm leg"):
        lamination("EI 150")
    with pytest.raises(ValueError, match='unknown lamination "UI 60"'):
        lamination("UI 60")


def test_lamination_stands_for_its_dimensions():
    named = ShellCore(lamination="EI 120", stack_depth="50 mm", joint="butt", steel="some grade")
    for key in ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "joint_gap"):
        assert getattr(named, key) == getattr(core(), key)
    other = ShellCore.model_validate({**named.model_dump(exclude_unset=True), "lamination": "EI 96"})
    assert other.leg_width == 0.032
    assert ShellCore.model_validate(named.model_dump(exclude_unset=True)) == named


def test_typical_gap_belongs_to_the_joint():
    # Common practice, no source: butt joints are 0.05 to 0.15 mm, interleaved ones act like 0.02 to 0.05 mm.
    assert core().joint_gap_band == (0.05e-3, 0.15e-3)
    assert core(joint="interleaved").joint_gap_band == (0.02e-3, 0.05e-3)
    for joint in Joint:
        built = core(joint=joint)
        low, high = built.joint_gap_band
        assert low < built.joint_gap < high
    measured = core(joint_gap="0.2 mm")
    assert measured.joint_gap_band == (0.2e-3, 0.2e-3)
    again = ShellCore.model_validate({**core().model_dump(exclude_unset=True), "joint": "interleaved"})
    assert again.joint_gap == core(joint="interleaved").joint_gap


@pytest.mark.parametrize(
    ("changes", "key", "text"),
    [
        ({"leg_width": 38}, "leg_width", 'expected a length with its unit, such as "38 mm"; got 38'),
        ({"leg_width": "2 mm"}, "leg_width", "2 mm is outside 3 mm to 500 mm"),
        ({"leg_width": "nan mm"}, "leg_width", "expected a length"),
        ({"outer_leg_width": ["20 mm", "2 mm"]}, "outer_leg_width.1", "2 mm is outside 3 mm to 500 mm"),
        ({"joint": "butted"}, "joint", 'expected "butt", "interleaved" or "welded"; got "butted"'),
        ({"joint_gap": "6 mm"}, "joint_gap", "6 mm is outside 1 um to 5 mm"),
        ({"joint_gap": "3 mm"}, "", "joint_gap 3 mm is more than a tenth of the narrowest leg, 20 mm"),
        ({"stacking_factor": 1.1}, "stacking_factor", "1.1 is outside 0.8 to 1"),
        ({"specific_loss": "5 W"}, "specific_loss", "expected a specific loss"),
        ({"window_height": None}, "window_height", "missing"),
        ({"windos_width": "1 mm"}, "windos_width", 'unknown key "windos_width"; did you mean "window_width"?'),
        ({"lamination": "EI 120"}, "", 'lamination "EI 120" already fixes leg_width, outer_leg_width'),
        ({"type": "toroid"}, "type", 'expected "shell"; got "toroid"'),
    ],
)
def test_refused(changes, key, text):
    (fault,) = refusals(**changes)
    assert fault.key == key
    assert fault.message.startswith(text)


def test_unknown_lamination_is_the_only_fault():
    keys = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height")
    (fault,) = refusals(**dict.fromkeys(keys), lamination="EI 121")
    assert fault.key == "lamination"


def test_all_faults_at_once():
    found = refusals(leg_width=38, window_width="38 V", colour="red")
    assert [fault.key for fault in found] == ["leg_width", "window_width", "colour"]


NOT_A_DIMENSION = [
    {},
    {"a": 1},
    [1, [2]],
    [[1], 2],
    b"38 mm",
    1j,
    math.inf,
    math.nan,
    10**400,
    10**5000,
    "1 mm" * 99,
    True,
]


@pytest.mark.parametrize("value", NOT_A_DIMENSION, ids=range(len(NOT_A_DIMENSION)))
@pytest.mark.parametrize("key", ["leg_width", "outer_leg_width", "lamination", "joint", "joint_gap", "steel", "type"])
def test_odd_values_end_in_faults_of_one_short_line(key, value):
    if key == "steel" and isinstance(value, str):
        return
    for fault in refusals(**{key: value}):
        assert fault.key.partition(".")[0] in {key, ""}
        assert "\n" not in fault.message
        assert len(fault.message) < 200


def inside(region, x, y):
    return region.x0 < x < region.x1 and region.y0 < y < region.y1


@pytest.mark.parametrize("joint", list(Joint))
@pytest.mark.parametrize("joint_regions", [True, False])
def test_section_areas(joint, joint_regions):
    built = core(joint=joint, outer_leg_width=["21 mm", "17 mm"])
    section = section_of(built, BLOCKS, joint_regions=joint_regions)
    area = {role: sum(r.area for r in section.regions if r.role is role) for role in Role}
    face = built.iron_volume / built.stack_depth / built.stacking_factor
    assert area[Role.IRON] + area[Role.JOINT] == pytest.approx(face, rel=1e-12)
    ends = (2 if joint is Joint.INTERLEAVED else 1) if joint_regions else 0
    legs = built.leg_width + sum(built.outer_leg_width)
    assert area[Role.JOINT] == pytest.approx(ends * legs * built.joint_gap, rel=1e-9)
    assert area[Role.CONDUCTOR] == pytest.approx(2 * sum(b.area for b in BLOCKS), rel=1e-12)
    for i, a in enumerate(section.regions):
        assert a.area > 0
        for b in section.regions[i + 1 :]:
            assert min(a.x1, b.x1) - max(a.x0, b.x0) < 1e-12 or min(a.y1, b.y1) - max(a.y0, b.y0) < 1e-12


def test_symmetry_is_that_of_the_outer_legs():
    assert section_of(core(), BLOCKS).mirror_symmetric
    assert not section_of(core(outer_leg_width=["20 mm", "19 mm"]), BLOCKS).mirror_symmetric


def test_cuts_cross_what_they_are_named_after():
    built = core(outer_leg_width=["21 mm", "17 mm"])
    section = section_of(built, BLOCKS)
    cuts = {cut.name: cut for cut in section.cuts}
    assert len(cuts) == len(section.cuts) == 8
    for name, cut in cuts.items():
        region_name = name.removesuffix(" at secondary")
        if "yoke" in name:
            region_name = name.rsplit(" ", 1)[0]
        (region,) = (r for r in section.regions if r.name == region_name)
        assert inside(region, (cut.x0 + cut.x1) / 2, (cut.y0 + cut.y1) / 2)
        across = region.y1 - region.y0 if "yoke" in name else region.x1 - region.x0
        assert cut.width == pytest.approx(across, rel=1e-12)
    assert cuts["centre leg"].y0 == pytest.approx((BLOCKS[0].bottom + BLOCKS[0].top) / 2)
    assert cuts["centre leg at secondary"].y0 == pytest.approx((BLOCKS[1].bottom + BLOCKS[1].top) / 2)


def test_cuts_count_the_flux_of_positive_ampere_turns_as_positive():
    # Potential of ampere-turns out of the page at x > 0, in a core that keeps all flux: one value in the right window,
    # another in the left one, zero outside (with currents reversed in the left window its value is negative).
    built = core()
    section = section_of(built, BLOCKS)
    eps = 1e-6

    def a(x, y):
        window = built.leg_width / 2 - eps <= abs(x) <= built.leg_width / 2 + built.window_width + eps
        return (1.0 if x > 0 else -1.0) if window and -eps <= y <= built.window_height + eps else 0.0

    flux = {cut.name: a(cut.x0, cut.y0) - a(cut.x1, cut.y1) for cut in section.cuts}
    assert flux.pop("centre leg") == flux.pop("centre leg at secondary") == 2.0
    assert set(flux.values()) == {1.0}


def test_blocks_that_do_not_fit_have_no_section():
    tall = Block(winding="secondary", leg_clearance=1.5e-3, end_clearance=0.0, build=0.016, bottom=0.030, height=0.031)
    with pytest.raises(ValueError, match="secondary sticks out of the window by 1 mm"):
        section_of(core(), (BLOCKS[0], tall))
    low = Block(winding="secondary", leg_clearance=1.5e-3, end_clearance=0.0, build=0.016, bottom=0.025, height=0.03)
    with pytest.raises(ValueError, match="primary and secondary overlap by 2 mm"):
        section_of(core(), (BLOCKS[0], low))
    with pytest.raises(ValueError, match="margin"):
        section_of(core(), BLOCKS, margin=0.0)


@given(st.floats(5e-3, 0.4), st.floats(3e-3, 0.1), st.floats(0.8, 1.0))
def test_areas_and_volume_agree(leg, outer, stacking):
    built = ShellCore(**{**MEASURED, "leg_width": leg, "outer_leg_width": outer, "stacking_factor": stacking})
    by_parts = (
        built.leg_iron_area + sum(built.outer_leg_iron_areas)
    ) * built.window_height + 2 * built.yoke_iron_area * built.overall_width
    assert built.iron_volume == pytest.approx(by_parts, rel=1e-12)
    assert built.iron_mass(7650.0) == pytest.approx(7650.0 * by_parts, rel=1e-12)
