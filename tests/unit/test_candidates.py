"""What could be wound on a core whose primary stays: all that fits and nothing else, by an enumeration of our own."""

from itertools import product
from math import ceil, floor, hypot

import pytest

from fem.design.transformer import Design
from fem.options.candidates import MOST_IN_HAND, MOST_PLACED, NEARLY, Candidate, candidates, most_turns
from geometries.shapes.blocks import blocks_of
from geometries.windings.arrangement import place
from tests.support.every_kind import SHELL, TWO_LEG, design_of

STOCK = [{"cable": "16 mm2", "insulated": "8 mm"}, {"strip": "6 mm x 3 mm", "insulated": "6.2 mm x 3.2 mm"}]


def shop(kind: str = "shell", **more: object) -> Design:
    given = design_of(kind).model_dump(exclude_unset=True)
    return Design.model_validate(given | {"shop": {"conductors": STOCK, **more}})


@pytest.fixture(scope="module")
def beside() -> tuple[Design, list[Candidate], list[Candidate]]:
    design = shop()
    return design, *candidates(design)


def test_nothing_that_fits_is_left_out(beside: tuple[Design, list[Candidate], list[Candidate]]) -> None:
    """A window of 20 by 61 mm, 1.5 mm to the leg, 2 mm to the yokes, a primary 26 mm high at its foot, 3 mm to it.

    Above it 28 mm by 18.5 mm are left, beside its 15 mm 0.5 mm: rows and columns of either conductor are counted by
    hand, each number of layers with as few in each as hold all.
    """
    _, found, _ = beside
    told = {
        (c.stock.label, c.winding.turns, c.winding.wires_in_hand, c.winding.lay) for c in found if c.way == "beside"
    }
    for label, across, along in (("16 mm2 cable", 8.0, 8.0), ("6 mm x 3 mm strip", 3.2, 6.2)):
        most_layers, most_rows = floor(18.5 / across), floor(28.0 / along)
        expected = set()
        for turns, in_hand in product(range(1, 26), range(1, MOST_IN_HAND + 1)):
            count = turns * in_hand
            for layers in range(1, most_layers + 1):
                each = ceil(count / layers)
                if count <= MOST_PLACED and each <= most_rows and ceil(count / each) == layers:
                    counts = [each] * (layers - 1) + [count - each * (layers - 1)]
                    expected.add((label, turns, in_hand, " + ".join(map(str, counts))))
        assert expected == {one for one in told if one[0] == label and one[3] != "across"}
    assert {c.way for c in found} == {"beside"}


def test_what_fits_lies_in_the_window_clear_of_the_primary(
    beside: tuple[Design, list[Candidate], list[Candidate]],
) -> None:
    """Each conductor's outline by itself, from its centre: inside the clearances, apart from the primary and others."""
    design, found, _ = beside
    was = place(design.core, design.windings)[0]
    for one in found:
        primary, block = one.blocks
        assert (primary.bottom, primary.height, primary.build) == (was.bottom, was.height, was.build)
        wide, high = one.stock.insulated_width, one.stock.insulated_height
        centres = [(block.leg_clearance + p.x, block.bottom + p.y) for p in block.places]
        assert len(centres) == one.winding.turns * one.winding.wires_in_hand
        for x, y in centres:
            assert x - wide / 2 >= 0.0015 - 1e-9
            assert x + wide / 2 <= 0.020 + 1e-9
            assert y - high / 2 >= primary.top + 0.003 - 1e-9
            assert y + high / 2 <= 0.061 - 0.002 + 1e-9
        for at, (x, y) in enumerate(centres):
            for u, v in centres[:at]:
                if one.stock.circular:
                    assert hypot(x - u, y - v) >= wide - 1e-9
                else:
                    assert max(abs(x - u) - wide, abs(y - v) - high) >= -1e-9


def test_what_nearly_fits_lacks_that_much(beside: tuple[Design, list[Candidate], list[Candidate]]) -> None:
    """A window larger by what is lacking, and a hundredth of a millimetre, holds it; one smaller by that does not."""
    design, found, nearly = beside
    assert nearly
    fitting = {(c.stock, c.winding.turns, c.winding.wires_in_hand) for c in found}
    for one in nearly[:2]:
        assert 0 < one.lacks <= NEARLY
        assert (one.stock, one.winding.turns, one.winding.wires_in_hand) not in fitting
        for more, fits in ((1e-5, True), (-1e-5, False)):
            core = {"window_width": 0.020 + one.lacks + more, "window_height": 0.061 + one.lacks + more}
            given = design.model_dump(exclude_unset=True)
            larger = Design.model_validate(given | {"core": given["core"] | core})
            again = [
                (c.winding.turns, c.winding.wires_in_hand, c.winding.lay, c.stock)
                for c in candidates(larger)[0]
                if c.way == one.way
            ]
            mine = (one.winding.turns, one.winding.wires_in_hand, one.winding.lay, one.stock)
            assert (mine in again) is fits or (not fits and one.winding.lay == "across")


@pytest.mark.parametrize(
    ("kind", "more", "ways"),
    [
        ("shell", {"primary_slides": True}, {"beside", "split"}),
        ("concentric", {}, {"over"}),
        ("two-leg", {}, {"beside", "other leg", "over"}),
        ("two-leg, each", {}, {"other leg", "over"}),
        ("interleaved", {}, {"split"}),
        ("extra turns", {}, {"as it is"}),
        ("shunts", {}, set()),
    ],
)
def test_the_primary_stays_and_decides_what_is_open(kind: str, more: dict[str, object], ways: set[str]) -> None:
    """Beside it where the leg is longer, over it where the window is wider, on a free leg, through its halves."""
    design = shop(kind, conductors=STOCK[:1], **more)
    found, _ = candidates(design)
    assert {one.way for one in found} == ways
    was = blocks_of(place(design.core, design.windings), "primary")
    for one in found:
        now = blocks_of(one.blocks, "primary")
        if one.way in ("split", "as it is"):  # these follow the secondary's coils, of their own size
            assert [(b.height, b.build) for b in now] == [(b.height, b.build) for b in was]
            assert one.way == "as it is" or one.winding.turns % (2 * one.windings.sections) == 0
        else:
            sizes = [(b.bottom, b.height, b.build, b.leg_clearance) for b in (*now, *was)]
            assert sizes[0] == pytest.approx(sizes[1], rel=1e-12)


def test_turns_end_where_bare_ends_are_no_longer_safe_to_touch() -> None:
    """25 V a.c. (IEC 60364-4-41): of 230 turns at 230 V 25 turns; of two cores in parallel, with one turn round both,
    twice as many volts a turn, so half of that."""
    assert most_turns(shop()) == 25
    assert {SHELL["type"], TWO_LEG["type"]} == {"shell", "two-leg"}
    core = shop("two cores").model_dump(exclude_unset=True)
    assert most_turns(Design.model_validate(core)) == 25  # in series
    core["core"]["second"]["primaries"] = "parallel"
    assert most_turns(Design.model_validate(core)) == 12
