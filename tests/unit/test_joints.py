"""Which joints between winding and work are taken: those that are told, else those that the build needs."""

import pytest

import fem
from fem import Design, Unknown
from fem.estimation.inputs.joints import joints_of
from tests.support.kept import KEPT

UOHM = 1e-6


@pytest.fixture(scope="module")
def example() -> Design:
    return fem.example_design()


def untold(design: Design, **leads: object) -> Design:
    """Return the example with nothing told of its joints."""
    told = design.model_dump(exclude_unset=True)
    del told["leads"]["joint_resistance"]
    return Design.model_validate(told | {"leads": told["leads"] | leads})


def counted(design: Design) -> dict[str, int]:
    return {group.name: group.count for group in joints_of(design).groups}


def test_what_is_told_stands(example: Design) -> None:
    taken = joints_of(example)
    assert taken.told
    assert taken.resistance.low == taken.resistance.high == pytest.approx(80 * UOHM)
    # common practice: bolted 5, 10, 30 uohm, clamped 20, 60, 200 uohm; as they stood in the table before
    more = joints_of(example.vary("leads.joints", {"bolted": 3, "clamped": 1}))
    ends = (more.resistance.low, more.resistance.typical, more.resistance.high)
    assert ends == pytest.approx((115 * UOHM, 170 * UOHM, 370 * UOHM))
    assert [group.count for group in more.groups] == [2, 1, 1, 0]


@pytest.mark.parametrize(
    "told", [{"joint_resistance": "0 mohm"}, {"joints": "none"}, {"joints": {}}, {"joints": {"dirty": 0}}]
)
def test_none_told_is_none(example: Design, told: dict[str, object]) -> None:
    taken = joints_of(untold(example, **told))
    assert taken.told
    assert taken.groups == ()
    assert taken.resistance.high == 0


def test_what_the_build_needs(example: Design) -> None:
    """Lugs on the winding, and at the far end what is connected there: jaws, a load, or each other."""
    bare = untold(example)
    at_winding = {"bolted joints at the winding": 2}
    assert counted(bare) == at_winding | {"bolted joints at the work": 2}
    loaded = bare.vary("work_piece", None)
    assert counted(loaded) == at_winding | {"clamped joints at the work": 2}
    joined = loaded.vary("load", None)
    assert counted(joined) == at_winding | {"bolted joints at the work": 1}
    assert counted(joined.vary("leads", None)) == {}
    assert counted(loaded.vary("leads", None)) == {"clamped joints at the work": 2}
    assert counted(loaded.vary("leads.length", "0 m")) == {"clamped joints at the work": 2}
    assert not joints_of(bare).told


def test_one_cable_goes_on_without_a_joint(example: Design) -> None:
    bare = untold(example)
    single = bare.vary("windings.secondary.wires_in_hand", 1).vary("windings.secondary.conductor", {"cable": "70 mm2"})
    assert counted(single) == {"bolted joints at the work": 2}
    other = single.vary("leads.area", "95 mm2"), single.vary("leads.material", "aluminium")
    assert all("bolted joints at the winding" in counted(design) for design in other)


def test_assumed_joints_are_said_with_their_spread(example: Design) -> None:
    found = fem.estimate(untold(example), wanted={fem.Part.BANDS}, characteristics=KEPT)
    band = found.bands["joints.resistance_ohm"]
    assert not isinstance(band, Unknown)
    # 5 % and 95 % of a bolted one, 4096 draws: theirs are the ends by definition
    assert (band.low, found.joints.resistance, band.high) == pytest.approx((20 * UOHM, 40 * UOHM, 120 * UOHM), rel=0.02)
    said = [caution.text for caution in found.cautions if caution.about == "joints"]
    assert "40 uohm" in said[0]
    for key, value in (
        ("short_circuit.secondary_current_rms_A", found.short_circuit.secondary_current_rms),
        ("load.current_rms_A", found.load.current_rms),
    ):
        current = found.bands[key]
        assert not isinstance(current, Unknown)
        assert current.low < value < current.high
        assert "joints" in dict(current.terms)


def test_told_joints_are_not_cautioned_of(example: Design) -> None:
    found = fem.estimate(example, wanted=frozenset(), characteristics=KEPT)
    assert not [caution for caution in found.cautions if caution.about == "joints"]


def test_joints_that_drop_too_much_are_said(example: Design) -> None:
    """Shorted 2.2 kA through a clamp of 60 uohm: 0.13 V, above the 0.12 V at which copper's contacts soften (Holm)."""
    told = untold(example, joints={"bolted": 2, "clamped": 2})
    found = fem.estimate(told, wanted=frozenset(), characteristics=KEPT)
    said = [caution.text for caution in found.cautions if caution.about == "joints"]
    assert len(said) == 1
    drop = found.short_circuit.secondary_current_rms * 60 * UOHM
    assert said[0].startswith(f"Clamped joints at the work drop {drop * 1e3:.0f} mV each")
    assert drop > 0.12


def test_no_joints_are_no_resistance_and_no_heat(example: Design) -> None:
    bare = untold(example, joints="none").vary("work_piece", None)
    found = fem.estimate(bare, wanted={fem.Part.HEATING}, characteristics=KEPT)
    assert found.joints.resistance == 0
    assert not isinstance(found.heating, Unknown)
    assert found.heating.joints == {}
    assert set(found.heating.shorted.parts) == {"primary", "secondary", "lead 1"}


def test_any_other_text_is_refused(example: Design) -> None:
    with pytest.raises(Exception, match='expected "none" or how many are bolted, clamped and dirty; got "two"'):
        example.vary("leads.joints", "two")
