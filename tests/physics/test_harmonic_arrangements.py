"""A.c. resistance of windings of several coils, on two legs and with shunts: closed forms, invariants, two models."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from math import cos, cosh, sin, sinh

import pytest

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.leakage.planar import mean_squares
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import AcSlice, ac_slice
from fem.characteristics.resistance.windings import EXCESS_BAND, AcResistance, Route, ac_resistance
from fem.field.harmonic.problem import skin_depth
from fem.field.static.model import build_model, solve_model
from fem.field.static.quantities import both
from fem.materials.metals import metal
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.kinds import AnyCore
from geometries.cores.shell import ShellCore
from geometries.cores.shunt import Shunt
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from geometries.windings.conductors import Conductor
from geometries.windings.turns import ExtraTurns, Winding

MM = 1e-3
ROOM = 293.15
SHELL = ShellCore(lamination="EI 120", stack_depth=0.05, joint="welded", steel="some grade")
TWO_LEG = TwoLegCore(
    leg_width=30 * MM,
    yoke_height=30 * MM,
    window_width=30 * MM,
    window_height=70 * MM,
    stack_depth=45 * MM,
    joint="butt",
    steel="some grade",
)
OTHER_LEG = TWO_LEG.frame.legs[1].axis
STRIP = Conductor(strip="4 mm x 9 mm", insulated="4.2 mm x 9.2 mm")
"""4 mm along the leg."""
WIRE = Conductor(round="1 mm")


def block(
    winding: str, bottom: float, height: float, build: float, *, clearance: float = 1.5, **given: object
) -> Block:
    return Block(
        winding=winding,
        leg_clearance=clearance * MM,
        end_clearance=2 * MM,
        build=build * MM,
        bottom=bottom * MM,
        height=height * MM,
        **given,
    )


def static(core: AnyCore, blocks: Sequence[Block], shunt: Shunt | None = None) -> Leakage:
    """Return the planar leakage; the end turns are not at stake here: as if they had the window's per metre."""
    section = section_of(core, blocks, joint_regions=False, shunt=shunt)
    half = section.half() if section.mirror_symmetric else section
    field = solve_model(build_model(mesh_section(half), linear_iron()), {"primary": 1.0, "secondary": -1.0})
    window = core.stack_depth * (both(field, "primary")[1] - both(field, "secondary")[1])
    return Leakage(
        permeance=2 * window,
        window_permeance=window,
        end_turn_permeance=window,
        recipe_permeance=None,
        primary_end_permeance=0.0,
        mean_squares={name: mean_squares(field, name) for name in ("primary", "secondary")},
        forces=(),
        ampere_turns=None,
        flux_per_turn=None,
        discretisation_error=0.0,
        end_region_unknowns=0,
    )


def dowell(layers: int, thickness: float, depth: float) -> float:
    """Return the ratio of foils from face without field to face with all of it: P. L. Dowell, Proc. IEE 113 (1966)."""
    x = thickness / depth
    own = x * (sinh(2 * x) + sin(2 * x)) / (cosh(2 * x) - cos(2 * x))
    return own + x * 2 * (layers**2 - 1) / 3 * (sinh(x) - sin(x)) / (cosh(x) + cos(x))


FOIL, CELL, FREQUENCY = 4.0, 4.4, 400.0


def foils(order: Sequence[tuple[str, int]]) -> tuple[tuple[Winding, Winding], tuple[Block, ...]]:
    """Return foils as wide as the window in coils above each other, each a turn."""
    turns = {name: sum(n for other, n in order if other == name) for name in ("primary", "secondary")}
    width = SHELL.window_width / MM
    conductor = Conductor(strip=f"{FOIL} mm x {width} mm", insulated=f"{CELL - 0.1} mm x {width} mm")
    blocks, bottom = [], 1.0
    for k, (name, n) in enumerate(order):
        given = {"share": n / turns[name], "coil": str(k)}
        blocks.append(block(name, bottom, n * CELL, width, clearance=0.0, **given))
        bottom += n * CELL + 1.0
    pair = (
        Winding(turns=turns["primary"], conductor=conductor),
        Winding(turns=turns["secondary"], conductor=conductor),
    )
    return pair, tuple(sorted(blocks, key=lambda b: b.winding))


@pytest.mark.parametrize(
    ("order", "layers"),
    [
        ((("primary", 4), ("secondary", 4)), (4, 4)),
        ((("secondary", 2), ("primary", 4), ("secondary", 2)), (2, 2)),
        ((("secondary", 1), ("primary", 2), ("secondary", 2), ("primary", 2), ("secondary", 1)), (1, 1)),
    ],
)
def test_interleaving_halves_the_layers_of_foils(order: Sequence[tuple[str, int]], layers: tuple[int, int]) -> None:
    """Dowell with the layers between a face without field and the next with all of it, for foils from leg to leg.

    Exact under ideal iron; 1e6 takes 1e-5 of the ampere-turns. Two quadratic elements in a skin depth leave some 1e-4
    of the resistance, as in round wires, and as much where field and its slope are largest.
    """
    windings, blocks = foils(order)
    found = ac_slice(AcState(SHELL, windings, blocks, frequency=FREQUENCY, temperature=ROOM), mu_r=1e6)
    depth = skin_depth(1 / float(metal("copper").resistivity(ROOM)), FREQUENCY)
    for name, m in zip(("primary", "secondary"), layers, strict=True):
        assert found.resistance_ratios[name] == pytest.approx(dowell(m, FOIL * MM, depth), rel=1e-3)


ROUND = Winding(turns=200, conductor=WIRE)
PRIMARY = block("primary", 2, 24, 15)


@pytest.mark.parametrize("wires", [1, 2])
def test_a_block_cut_in_two_is_one_block(wires: int) -> None:
    """The same conductors in the same places, whatever coil they belong to: equal but for the mesher's order."""
    secondary = Winding(
        turns=4, conductor=Conductor(strip="2.5 mm x 9 mm", insulated="2.6 mm x 9.2 mm"), wires_in_hand=wires
    )
    height = 8 * 2.7
    whole = block("secondary", 30, height, 9.4)
    halves = tuple(
        replace(whole, bottom=(30 + k * height / 2) * MM, height=height / 2 * MM, share=0.5, coil=str(k))
        for k in (0, 1)
    )
    one, two = (
        ac_slice(AcState(SHELL, (ROUND, secondary), blocks, frequency=400.0, temperature=ROOM))
        for blocks in ((PRIMARY, whole), (PRIMARY, *halves))
    )
    for name in ("primary", "secondary"):
        assert two.resistance_ratios[name] == pytest.approx(one.resistance_ratios[name], rel=2e-4)
    assert two.permeance_per_m == pytest.approx(one.permeance_per_m, rel=2e-4)
    assert two.shares["secondary"] == pytest.approx(one.shares["secondary"], rel=2e-4)


def test_extra_turns_of_the_same_wire_are_turns_like_the_rest() -> None:
    """Three turns and an extra one above them, or four: the same conductors in the same places."""
    wound = Winding(turns=3, conductor=STRIP, extra=ExtraTurns(turns=1, conductor=STRIP))
    plain = Winding(turns=4, conductor=STRIP)
    whole = block("primary", 2, 4 * 4.4, 9.4)
    apart = (
        replace(whole, height=3 * 4.4 * MM, share=0.75),
        replace(whole, bottom=(2 + 3 * 4.4) * MM, height=4.4 * MM, share=0.25, coil="extra"),
    )
    other = block("secondary", 30, 24, 15)
    one = ac_slice(AcState(SHELL, (plain, ROUND), (whole, other), frequency=400.0, temperature=ROOM))
    two = ac_slice(AcState(SHELL, (wound, ROUND), (*apart, other), frequency=400.0, temperature=ROOM))
    for name in ("primary", "secondary"):
        assert two.resistance_ratios[name] == pytest.approx(one.resistance_ratios[name], rel=2e-4)
    assert two.own_ratios == pytest.approx(one.own_ratios)
    assert two.permeance_per_m == pytest.approx(one.permeance_per_m, rel=2e-4)


def opposing(conductor: Conductor) -> tuple[tuple[Winding, Winding], tuple[Block, ...]]:
    against = ExtraTurns(turns=2, conductor=conductor, sense="opposing")
    blocks = (
        block("primary", 2, 24, 15, share=200 / 198),
        block("primary", 28, 8.8, 9.4, share=-2 / 198, coil="extra"),
        block("secondary", 40, 13.2, 9.4),
    )
    return (ROUND.model_copy(update={"extra": against}), Winding(turns=3, conductor=STRIP)), blocks


SHUNT = Shunt(height=6 * MM, total_gap=1 * MM, bottom=28 * MM)
SECONDARY = Winding(turns=4, conductor=STRIP)
INTERLEAVED = (
    block("secondary", 2, 8.8, 9.4, share=0.5, coil="1"),
    block("secondary", 42, 8.8, 9.4, share=0.5, coil="2"),
    block("primary", 13, 27, 15),
)
CASES: dict[str, tuple[AnyCore, tuple[Winding, Winding], tuple[Block, ...], Shunt | None]] = {
    "interleaved": (SHELL, (ROUND, SECONDARY), (INTERLEAVED[2], *INTERLEAVED[:2]), None),
    "opposing turns": (SHELL, *opposing(WIRE), None),
    "two-leg": (TWO_LEG, (ROUND, SECONDARY), (PRIMARY, block("secondary", 30, 17.6, 9.4)), None),
    "two-leg, concentric": (
        TWO_LEG,
        (ROUND, SECONDARY),
        (block("primary", 3, 64, 6), block("secondary", 20, 17.6, 9.4, clearance=9.5)),
        None,
    ),
    "each its leg": (
        TWO_LEG,
        (ROUND, SECONDARY),
        (block("primary", 3, 64, 6), block("secondary", 20, 17.6, 9.4, leg_axis=OTHER_LEG)),
        None,
    ),
    "shunts": (SHELL, (ROUND, SECONDARY), (PRIMARY, block("secondary", 36, 17.6, 9.4)), SHUNT),
}


@cache
def both_ways(name: str) -> tuple[AcResistance, AcResistance, Leakage]:
    core, windings, blocks, shunt = CASES[name]
    leak = static(core, blocks, shunt)
    quick, full = (
        ac_resistance(
            AcState(core, windings, blocks, frequency=50.0, temperature=ROOM, shunt=shunt), leak, with_slice=with_slice
        )
        for with_slice in (False, True)
    )
    return quick, full, leak


@pytest.mark.parametrize("name", CASES)
def test_formula_for_thin_conductors_agrees_with_the_slice(name: str) -> None:
    """Two models that share no step but the geometry: each must lie in the formula's own band of the other."""
    quick, full, leak = both_ways(name)
    for a, b in ((quick.primary, full.primary), (quick.secondary, full.secondary)):
        assert (a.route, b.route) == (Route.STATIC_FIELD, Route.SLICE)
        assert 1 < a.resistance_ratio < 1.4
        assert abs(a.resistance_ratio - b.resistance_ratio) < a.band
    assert full.slice is not None
    # Strips that all but fill their cells against blocks, as on the shell core with one coil each.
    assert full.slice.even_permeance_per_m * CASES[name][0].stack_depth == pytest.approx(
        leak.window_permeance, rel=0.02
    )
    assert 0.98 < full.permeance_ratio < 1


def test_windings_that_stay_blocks_have_the_static_fields_loss() -> None:
    """No eddy currents are left in the slice, so its field is the static one on a mesh once coarser.

    The mean of its square converges as the energy: 1e-3 in the energy of such a mesh, some times that near the corners.
    """
    many = Winding(turns=90, conductor=Conductor(round="1.5 mm"))
    blocks = (PRIMARY, block("secondary", 30, 20, 15))
    leak = static(SHELL, blocks)
    quick, full = (
        ac_resistance(
            AcState(SHELL, (ROUND, many), blocks, frequency=50.0, temperature=ROOM), leak, with_slice=with_slice
        )
        for with_slice in (False, True)
    )
    for a, b in ((quick.primary, full.primary), (quick.secondary, full.secondary)):
        assert b.route is Route.SLICE
        assert b.window_ratio - b.own_ratio == pytest.approx(a.window_ratio - a.own_ratio, rel=4e-3)
        assert b.own_ratio == pytest.approx(a.own_ratio, rel=1e-12)


def test_extra_turns_of_another_wire_are_not_taken_for_the_rest() -> None:
    """Thick strip in the field between the windings: two in two hundred turns, and most of the winding's excess."""
    windings, blocks = opposing(STRIP)
    found = ac_resistance(
        AcState(SHELL, windings, blocks, frequency=50.0, temperature=ROOM, transposed=True), static(SHELL, blocks)
    )
    assert found.primary.route is Route.SLICE
    like_the_rest = both_ways("opposing turns")[0].primary
    assert found.primary.window_ratio - 1 > 5 * (like_the_rest.window_ratio - 1)


def test_windings_alike_on_two_legs_have_like_resistances() -> None:
    """Seen from the middle of the window each is the other's mirror image."""
    alike = Winding(turns=4, conductor=STRIP)
    one = block("primary", 20, 17.6, 9.4)
    pair = (one, replace(one, winding="secondary", leg_axis=OTHER_LEG))
    found = ac_slice(AcState(TWO_LEG, (alike, alike), pair, frequency=400.0, temperature=ROOM))
    # two halves of one mesh that are not each other's image: as a round wire's 1e-4 and the iron's corners
    assert found.resistance_ratios["primary"] == pytest.approx(found.resistance_ratios["secondary"], rel=5e-4)


def sliced(shunt_mu_r: float) -> AcSlice:
    core, windings, blocks, shunt = CASES["shunts"]
    return ac_slice(
        AcState(core, windings, blocks, frequency=50.0, temperature=ROOM, shunt=shunt), shunt_mu_r=shunt_mu_r
    )


def test_saturation_of_shunts_hardly_matters_to_the_conductors() -> None:
    """From unsaturated bars through poor ones to none the excess keeps to its band; the leakage is another matter."""
    unsaturated, poor, none = sliced(4000.0), sliced(30.0), sliced(1.0)
    excess = unsaturated.resistance_ratios["secondary"] - 1
    for found in (poor, none):
        assert found.resistance_ratios["secondary"] - 1 == pytest.approx(excess, rel=EXCESS_BAND)
    assert none.permeance_per_m < 0.3 * unsaturated.permeance_per_m


def test_wires_in_hand_share_through_all_coils() -> None:
    """A wire runs through both coils: the wires' currents sum to the winding's, and evenly spread they lose less."""
    core, (primary, _), blocks, _ = CASES["interleaved"]
    in_hand = Winding(turns=4, conductor=Conductor(strip="4 mm x 4.5 mm", insulated="4.2 mm x 4.6 mm"), wires_in_hand=2)
    leak = static(core, blocks)
    joined, even = (
        ac_resistance(
            AcState(core, (primary, in_hand), blocks, frequency=50.0, temperature=ROOM, transposed=each),
            leak,
            with_slice=True,
        )
        for each in (False, True)
    )
    assert joined.slice is not None
    assert even.slice is not None
    assert sum(joined.slice.shares["secondary"]) == pytest.approx(1, rel=1e-9)
    assert joined.secondary.resistance_ratio > even.secondary.resistance_ratio > 1
    assert set(joined.slice.shares) == {"primary", "secondary"}


def test_end_turns_lose_no_more_per_metre_than_the_window() -> None:
    """Where most of the leakage's energy lies far from the windings."""
    core, windings, blocks, _ = CASES["each its leg"]
    leak = static(core, blocks)
    far = replace(leak, permeance=10 * leak.window_permeance)
    found = ac_resistance(AcState(core, windings, blocks, frequency=50.0, temperature=ROOM), far).secondary
    assert found.resistance_ratio == pytest.approx(found.window_ratio, rel=1e-12)
