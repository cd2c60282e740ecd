"""What could be wound: every number of turns, conductor, wires in hand, lay and place that the window allows.

The primary is there already and stays: it keeps its size and its place, and only the room that is left decides. That
leaves open, as the job has it,

- beside it along the leg, above or below;
- over it, outside of its outermost layer;
- on the other leg of a two-leg core;
- half on either side of it, where it slides on its leg (`shop.primary_slides`) or lies so already;
- under it, where it was wound on the old secondary that came out from below it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from fem.assumptions import assumed
from fem.design.shop import Stocked
from fem.design.transformer import Design
from geometries.shapes.blocks import MOST_SINGLE, Block, blocks_of
from geometries.windings.arrangement import Arrangement, Legs, Windings, place
from geometries.windings.fit import Fit, fit
from geometries.windings.lays import ACROSS, ALONG, MOST_PLACED, lay
from geometries.windings.turns import Winding

COMMON_CABLES = ("16 mm2", "25 mm2", "35 mm2", "50 mm2", "70 mm2", "95 mm2")
"""Sections of welding cable taken where no list is given: sizes of IEC 60228, class 5."""
MOST_VOLTS = assumed("touch voltage").typical
"""No-load voltage beyond which nothing is offered [V]: bare ends may be touched up to it, where dry."""
MOST_IN_HAND = 6
"""Wires in hand that are offered [-]: more cannot be laid side by side and lugged together; common practice."""
NEARLY = 5e-3
"""What a winding may lack of room to be told as one that nearly fits [m]; a thinner jacket or a file may do."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Candidate:
    """A secondary that could be wound.

    Parameters
    ----------
    way
        Where it lies: "beside", "below", "over", "other leg", "split", "under", or "as it is".
    stock
        What it is wound with.
    windings
        Both windings, the primary where it is.
    blocks
        Where they lie.
    fitted
        How they sit in the window.
    """

    way: str
    stock: Stocked
    windings: Windings
    blocks: tuple[Block, ...]
    fitted: Fit

    @property
    def winding(self) -> Winding:
        """The secondary."""
        return self.windings.secondary

    @property
    def lacks(self) -> float:
        """Least room that is missing somewhere [m]; 0 where it fits."""
        room = self.fitted.secondary
        apart = self.fitted.apart if self.fitted.apart < 0 else 0.0
        return -min(room.side_room, room.room_below, room.room_above, apart, 0.0)


def stock_of(design: Design) -> tuple[tuple[Stocked, ...], bool]:
    """Return what there is to wind with, and whether that is assumed."""
    listed = None if design.shop is None else design.shop.conductors
    return listed or tuple(Stocked(cable=size) for size in COMMON_CABLES), not listed


def most_turns(design: Design) -> int:
    """Return how many turns stay within `MOST_VOLTS` if they link all of the primary's flux; at least 1."""
    primary = design.windings.primary.net_turns / design.core.parallel_primaries
    return max(floor(MOST_VOLTS * primary / design.mains.voltage), 1)


def candidates(design: Design) -> tuple[list[Candidate], list[Candidate]]:
    """Return all that fit, and those that lack at most `NEARLY` of room and fit in no other lay, least first.

    Turns up to `MOST_VOLTS`, up to `MOST_IN_HAND` in hand, up to `MOST_PLACED` conductors. Of those whose conductors
    lie in the same places one is told.
    """
    fitting: dict[object, Candidate] = {}
    nearly: dict[object, Candidate] = {}
    most = most_turns(design)
    for stock in stock_of(design)[0]:
        single = Winding(turns=1, conductor=stock.conductor, material=stock.material)
        if "insulation_class" in design.windings.secondary.model_fields_set:
            single = single.model_copy(update={"insulation_class": design.windings.secondary.insulation_class})
        for way, windings in ways(design):
            parts = coils_in_series(windings)
            for in_hand in range(1, MOST_IN_HAND + 1):
                for turns in range(parts, min(most, MOST_PLACED // in_hand) + 1, parts):
                    winding = single.model_copy(update={"turns": turns, "wires_in_hand": in_hand})
                    found = [
                        _placed(design, way, windings, one, stock) for one in _lays(design, way, windings, winding)
                    ]
                    for one in found:
                        (fitting if one.fitted.fits else nearly).setdefault(_alike(one), one)
                    if not any(one.fitted.fits or 0 < one.lacks <= NEARLY for one in found):
                        break  # a turn more takes more room in every lay
    fit_so = {(one.stock, one.winding.turns, one.winding.wires_in_hand) for one in fitting.values()}
    near = [one for one in nearly.values() if 0 < one.lacks <= NEARLY]
    near = [one for one in near if (one.stock, one.winding.turns, one.winding.wires_in_hand) not in fit_so]
    return list(fitting.values()), sorted(near, key=lambda one: one.lacks)


def coils_in_series(windings: Windings) -> int:
    """Return into how many equal coils of whole turns a secondary is parted [-]."""
    if windings.arrangement is not Arrangement.INTERLEAVED:
        return 1
    return windings.sections * (2 if windings.ends == "secondary" else 1)


def ways(design: Design) -> Iterator[tuple[str, Windings]]:
    """Yield where a secondary may go with the primary where it is, each with windings to put one into.

    What the job has is left as it is told; elsewhere the primary is told the size and place that it has.
    """
    given = design.windings
    split = given.arrangement is Arrangement.INTERLEAVED
    under = given.arrangement is Arrangement.CONCENTRIC and given.inner == "secondary"
    if split or under or given.primary.extra is not None:
        yield "split" if split else "under" if under else "as it is", given
        return
    block = place(design.core, given)[0]
    sizes = {} if given.primary.places else {"height": block.height, "build": block.build, "bottom": block.bottom}
    pinned = given.model_copy(update={"primary": given.primary.model_copy(update=sizes)})
    two_leg = len(design.core.frame.legs) == 2
    beside = Arrangement.SIDE_BY_SIDE
    for way, arrangement, legs in (
        ("beside", beside, Legs.ONE),
        ("below", beside, Legs.ONE),
        ("over", Arrangement.CONCENTRIC, Legs.ONE),
        *([("other leg", beside, Legs.EACH)] if two_leg else []),
    ):
        as_told = (arrangement, legs) == (given.arrangement, given.legs)
        yield way, given if as_told else pinned.model_copy(update={"arrangement": arrangement, "legs": legs})
    if design.shop is not None and design.shop.primary_slides and not given.primary.places:
        loose = pinned.primary.model_copy(update={"bottom": None})
        update = {"arrangement": Arrangement.INTERLEAVED, "legs": Legs.ONE, "primary": loose}
        yield "split", pinned.model_copy(update=update)


def _lays(design: Design, way: str, windings: Windings, winding: Winding) -> Iterator[Winding]:
    """Yield a winding in all lays that the window might hold: full layers from the leg outwards, or row upon row."""
    conductor, count, frame = winding.conductor, winding.conductors, design.core.frame
    if way == "split":
        for lay in (None, ALONG, ACROSS):
            yield winding if lay is None else winding.model_copy(update={"lay": lay})
        return
    across = frame.room_beside(frame.wound_leg) + NEARLY
    along = frame.window_height - 2 * windings.yoke_clearance + NEARLY
    for layers in range(1, count + 1):
        per_layer = ceil(count / layers)
        if ceil(count / per_layer) < layers or per_layer * conductor.insulated_height > along:
            continue
        if layers * conductor.insulated_width > across:
            break
        full = ceil(count / per_layer) - 1
        counts = (*[per_layer] * full, count - full * per_layer)
        yield winding.model_copy(update={"lay": " + ".join(map(str, counts))})
    if count <= MOST_SINGLE:
        yield winding.model_copy(update={"lay": ACROSS})


def _placed(design: Design, way: str, windings: Windings, winding: Winding, stock: Stocked) -> Candidate:
    frame, update = design.core.frame, dict[str, object]()
    if way == "below":
        update = {"bottom": windings.yoke_clearance}
    elif way == "under":
        inner = blocks_of(place(design.core, design.windings), "secondary")[0]
        update = {"build": inner.build}
    elif way == "over":
        # spread over the primary's height, and as near to it as the window lets what is higher
        (beneath,) = (block for block in place(design.core, windings) if block.winding == "primary")
        touching = lay(winding, frame.window_width, frame.window_height)
        height = max(touching.height, beneath.height)
        highest = frame.window_height - windings.yoke_clearance - height
        middle = beneath.bottom + (beneath.height - height) / 2
        update = {"height": height, "bottom": max(min(middle, highest), windings.yoke_clearance)}
    both = windings.model_copy(update={"secondary": winding.model_copy(update=update)})
    blocks = place(design.core, both)
    fitted = fit(design.core, both, blocks, shunt=design.shunt)
    return Candidate(way=way, stock=stock, windings=both, blocks=blocks, fitted=fitted)


def _alike(one: Candidate) -> object:
    """Return the same for windings of one conductor whose turns and wires in hand lie in the same places."""
    winding, where = one.winding, []
    for b in blocks_of(one.blocks, "secondary"):
        places = sorted((round(place.x, 9), round(place.y, 9)) for place in b.places)
        where.append((b.leg_axis, b.leg_clearance, b.build, b.bottom, b.height, b.share, tuple(places)))
    return one.stock, winding.turns, winding.wires_in_hand, tuple(where)
