"""How few turns are laid: layers, order, places, what is refused, and one placement for all that asks."""

from dataclasses import replace

import numpy as np
import pytest
from pydantic import ValidationError

import fem
from fem.assumptions import assumed
from fem.characteristics.leakage.whole import solve_end_region
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.parts import parts_of
from fem.estimation.inputs.lays import lay_text, other_lays, own_fields, places_text, strands_doubt
from geometries.assembly.section_of import section_of
from geometries.shapes.blocks import MOST_SINGLE, Place, coil_parts, rectangles, single_blocks
from geometries.shapes.section import Role
from geometries.windings.arrangement import place
from geometries.windings.fit import fit

DESIGN = fem.example_design()
SECONDARY = "windings.secondary"


def told(**keys: object) -> fem.Design:
    design = DESIGN
    for key, value in keys.items():
        design = design.vary(f"{SECONDARY}.{key}", value)
    return design


def centres(design: fem.Design) -> np.ndarray:
    """Return the secondary's centres from the leg's face, above the lower yoke [mm]."""
    block = place(design.core, design.windings)[-1]
    return 1e3 * np.array([(block.leg_clearance + p.x, block.bottom + p.y) for p in block.places])


@pytest.mark.parametrize(
    ("keys", "layers"),
    [
        ({}, [3, 3]),
        ({"wires_in_hand": 1}, [2, 1]),
        ({"wires_in_hand": 1, "lay": "along"}, [3]),
        ({"wires_in_hand": 1, "lay": "across"}, [2, 1]),
        ({"lay": "across"}, [3, 3]),
        ({"lay": "2 + 4"}, [2, 4]),
        ({"turns": 1, "lay": "1+1"}, [1, 1]),
    ],
)
def test_layers_are_those_told(keys: dict[str, object], layers: list[int]) -> None:
    x, count = np.unique(np.round(centres(told(**keys))[:, 0], 6), return_counts=True)
    assert count.tolist() == layers
    assert np.allclose(np.diff(x), 11.3)  # they touch
    assert x[0] == pytest.approx(1.5 + 11.3 / 2)


def test_wires_in_hand_lie_beside_each_other() -> None:
    along, across = centres(told()), centres(told(lay="across"))
    assert np.allclose(np.linalg.norm(along[0::2] - along[1::2], axis=1), 11.3)
    # across, the second of a turn is always the outer one
    assert np.allclose(across[1::2] - across[0::2], (11.3, 0.0))


def test_loose_takes_the_room_and_leg_does_not() -> None:
    one = {"wires_in_hand": 1, "turns": 2, "lay": "along"}
    loose, tight = centres(told(**one, against="loose")), centres(told(**one, against="leg"))
    assert np.allclose(loose[:, 0], 1.5 + 26 / 2)  # in the middle of what the window has: 29 mm less the clearances
    primary = place(DESIGN.core, DESIGN.windings)[0]
    room = 82 - 2 - 1e3 * primary.top - 3  # to the upper yoke's clearance, less the spacing
    assert np.diff(tight[:, 1]) == pytest.approx(11.3)
    assert np.diff(loose[:, 1]) == pytest.approx(room / 2)
    built = centres(told(turns=2, wires_in_hand=1, height="30 mm", build="22 mm", against="leg"))
    assert built[0, 0] == pytest.approx(1.5 + 11.3 / 2)


def test_places_are_kept_and_held_against_the_window() -> None:
    given = [["8 mm", "45 mm"], ["19.5 mm", "50 mm"]]
    design = told(turns=2, wires_in_hand=1, places=given)
    assert np.allclose(centres(design), [[8, 45], [19.5, 50]])
    blocks = place(design.core, design.windings)
    assert fit(design.core, design.windings, blocks).fits
    for wrong, text in (
        ([["8 mm", "45 mm"], ["15 mm", "45 mm"]], "places 1 and 2 are 4.3 mm too near to each other"),
        ([["5 mm", "45 mm"], ["18 mm", "45 mm"]], "innermost place is 0.6"),
        ([["8 mm", "45 mm"], ["25 mm", "45 mm"]], "1.6 mm too much"),
    ):
        changed = told(turns=2, wires_in_hand=1, places=wrong)
        faults = fit(changed.core, changed.windings, place(changed.core, changed.windings)).faults
        assert any(text in fault.message for fault in faults), faults


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        ({"lay": "sideways"}, '"across" the window'),
        ({"lay": "2 + 0"}, '"across" the window'),
        ({"lay": "2 + 1"}, "is of 3 conductors; there are 6"),
        ({"places": [["8 mm", "45 mm"]]}, "places of 1 conductors; there are 6"),
        ({"lay": "along", "places": [["8 mm", "45 mm"]]}, "leave out lay"),
        ({"turns": 7, "places": [["8 mm", "45 mm"]]}, "at most 12"),
        ({"against": "wall"}, "against"),
    ],
)
def test_what_cannot_be_meant_is_refused(keys: dict[str, object], text: str) -> None:
    with pytest.raises(ValidationError, match=text.replace("+", r"\+")):
        told(**keys)


def test_interleaved_coils_take_a_lay_each_and_refuse_layers_of_one() -> None:
    design = DESIGN.vary(f"{SECONDARY}.turns", 4).vary("windings.arrangement", "interleaved")
    across = design.vary(f"{SECONDARY}.lay", "across")
    assert all(len(block.places) == 4 for block in place(across.core, across.windings) if block.winding == "secondary")
    with pytest.raises(ValidationError, match="interleaved windings have several"):
        design.vary(f"{SECONDARY}.lay", "4 + 4")


def test_few_are_single_and_many_stay_a_block() -> None:
    few = place(DESIGN.core, DESIGN.windings)
    parts = single_blocks(few)
    assert [len(found) for _, found in coil_parts(few)] == [1, 6]
    assert sum(b.share for b in parts if b.winding == "secondary") == pytest.approx(1.0)
    many = told(conductor={"round": "2 mm"}, turns=MOST_SINGLE + 1, wires_in_hand=1)
    blocks = place(many.core, many.windings)
    assert single_blocks(blocks) == blocks


def test_all_that_asks_has_the_same_places() -> None:
    design = told(wires_in_hand=1, lay="2 + 1")
    blocks = place(design.core, design.windings)
    wanted = {(round(26 + x, 6), round(y, 6)) for x, y in centres(design)}
    section = section_of(design.core, blocks)
    planar = {
        (round(500 * (r.x0 + r.x1), 6), round(500 * (r.y0 + r.y1), 6))
        for r in section.regions
        if r.role is Role.CONDUCTOR and r.coil == "secondary" and r.x0 > 0
    }
    solid = {
        (round(26 + 1e3 * (b.leg_clearance + b.build / 2), 6), round(1e3 * (b.bottom + b.height / 2), 6))
        for b in single_blocks(blocks)
        if b.winding == "secondary"
    }
    pair = (design.windings.primary, design.windings.secondary.model_copy(update={"wires_in_hand": 1}))
    state = AcState(design.core, pair, blocks, frequency=50.0, temperature=300.0)
    strip = told(wires_in_hand=3, turns=1, lay="2 + 1")
    shared = AcState(
        strip.core, (strip.windings.primary, strip.windings.secondary), place(strip.core, strip.windings),
        frequency=50.0, temperature=300.0,
    )  # fmt: skip
    slice_ = {(round(1e3 * c.x, 6), round(1e3 * c.y, 6)) for p in parts_of(shared) for c in p.placed}
    assert planar == solid == wanted == slice_
    assert not any(p.placed for p in parts_of(state))  # one cable in series needs no slice
    assert places_text(blocks, "secondary").count("|") == 3


def test_squares_of_nested_discs_do_not_overlap() -> None:
    places = [Place(x=k * 7.2, y=k * 7.2, width=10.0, height=10.0, circular=True) for k in range(2)]
    (w, h), _ = rectangles(places)
    assert min(w, h) <= 7.2
    assert w + h == pytest.approx(2 * 8.7104, rel=1e-4)
    assert rectangles([Place(x=0, y=0, width=3.0, height=8.0, circular=False)]) == ((3.0, 8.0),)


def test_other_lays_bound_the_one_taken() -> None:
    core, open_lay = DESIGN.core, told(wires_in_hand=1)
    low, high = other_lays(core, open_lay.windings, None)
    assert low < 0.95  # two rows, of two and of one at the leg
    assert high > 1.1  # three along the leg
    assert other_lays(core, told(wires_in_hand=1, lay="2 + 1").windings, None) == (1.0, 1.0)
    assert "nobody told" in lay_text(open_lay.windings, place(core, open_lay.windings), "secondary")


def test_own_field_is_told_for_blocks_alone_and_falls_with_their_conductors() -> None:
    blocks = place(DESIGN.core, DESIGN.windings)
    primary = sum(own_fields(DESIGN, blocks))
    assert 0 < primary < 0.005 * 284e-9
    fewer = DESIGN.vary("windings.primary.turns", 115)
    assert sum(own_fields(fewer, place(fewer.core, fewer.windings))) == pytest.approx(2 * primary, rel=0.15)


def test_extra_turns_take_lays_and_places_too() -> None:
    extra = {"turns": 3, "conductor": {"round": "2 mm", "insulated": "2.5 mm"}}
    taken = told(wires_in_hand=1, lay="2 + 1").vary("windings.primary.extra", extra)
    found = {}
    for lay in (None, "2 + 1", "along"):
        design = taken if lay is None else taken.vary("windings.primary.extra.lay", lay)
        block = next(b for b in place(design.core, design.windings) if b.coil == "extra")
        found[lay] = np.unique(np.round([1e3 * p.x for p in block.places], 6), return_counts=True)[1].tolist()
    assert found == {None: [1, 1, 1], "2 + 1": [2, 1], "along": [3]}
    assert "3 extra turns, 1 + 1 + 1 from the leg outwards, 3 conductors placed one by one; nobody told" in lay_text(
        taken.windings, place(taken.core, taken.windings), "primary"
    )
    low, high = other_lays(taken.core, taken.windings, None)
    assert (
        0.998 < low <= 1 < high < 1.002
    )  # only the extra turns were not told: 3-D fields of the lays differ by 0.02 %
    where = [["6 mm", "72 mm"], ["12 mm", "72 mm"], ["18 mm", "72 mm"]]
    placed = taken.vary("windings.primary.extra.places", where)
    blocks = place(placed.core, placed.windings)
    assert "6.0 | 72.0, 12.0 | 72.0, 18.0 | 72.0" in places_text(blocks, "primary")
    assert [b.coil for b in single_blocks(blocks) if b.winding == "primary"][1:] == [
        f"extra conductor {k}" for k in (1, 2, 3)
    ]
    near = taken.vary("windings.primary.extra.places", [["6 mm", "72 mm"], ["8 mm", "72 mm"], ["18 mm", "72 mm"]])
    faults = fit(near.core, near.windings, place(near.core, near.windings)).faults
    assert [f.key for f in faults if "too near" in f.message] == ["windings.primary.extra"]
    with pytest.raises(ValidationError, match="is of 4 conductors; there are 3"):
        taken.vary("windings.primary.extra.lay", "2 + 2")
    with pytest.raises(ValidationError, match="leave out height"):
        placed.vary("windings.primary.extra.height", "5 mm")


def test_looser_strands_leak_less_and_closer_ones_more() -> None:
    """Of one turn, against a field with the circle of the loosest and of the closest strands; four have a quarter."""
    one = told(turns=1, wires_in_hand=1)
    fill = assumed("strands in a cable")
    blocks = place(one.core, one.windings)
    found = []
    for share in (fill.low, fill.high):
        size = blocks[-1].places[0].width * (fill.typical / share) ** 0.5
        wound = replace(blocks[-1], places=tuple(replace(p, width=size, height=size) for p in blocks[-1].places))
        found.append(solve_end_region(one.core.frame.closed, single_blocks((*blocks[:-1], wound))).permeance)
    below, above = strands_doubt(one, blocks)
    assert below + above == pytest.approx(found[1] - found[0], rel=0.1)
    assert 0.005 < above / found[1] < 0.015
    four = told(turns=4, wires_in_hand=1)
    assert sum(strands_doubt(four, place(four.core, four.windings))) == pytest.approx(
        (below + above) / 4, rel=0.15
    )  # longer turns
    solid = told(turns=1, wires_in_hand=1, conductor={"round": "8 mm"})
    assert strands_doubt(solid, place(solid.core, solid.windings)) == (0.0, 0.0)


def test_alike_in_the_field_each_keeps_its_own_conductors() -> None:
    """Strips of 2 x 8 as 4 turns of 4, and one less as 3 turns of 5: one even block, one field, other places."""
    strip = {"conductor": {"strip": "12 mm x 3 mm"}}
    full = told(**strip, turns=4, wires_in_hand=4, lay=" + ".join(["2"] * 8))
    less = told(**strip, turns=3, wires_in_hand=5, lay=" + ".join([*["2"] * 7, "1"]))
    kept = fem.Kept()
    found = [fem.estimate(one, wanted=set(), characteristics=kept) for one in (full, less)]
    assert kept.solved == 3  # one field, and a slice of each
    again = fem.estimate(less, wanted=set(), characteristics=fem.Kept())
    assert found[1].leakage.permeance == pytest.approx(again.leakage.permeance, rel=1e-12)
    assert found[1].short_circuit.secondary_current_rms == pytest.approx(
        again.short_circuit.secondary_current_rms, rel=1e-12
    )
