"""The windings of a core, and where they sit in its windows."""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geometries.described.faults import Description
from geometries.described.quantities import Between, Length, WholeNumber
from geometries.shapes.blocks import Block, Place
from geometries.shapes.frame import Frame, Framed
from geometries.shapes.legs import Part
from geometries.windings.conductors import Conductor
from geometries.windings.lays import Against, Layers, Wound, lay, layers_told, places_of
from geometries.windings.nested import TOLERANCE
from geometries.windings.turns import ExtraTurns, Winding

WindingName = Literal["primary", "secondary"]

SPACING, LEG_CLEARANCE, YOKE_CLEARANCE = 3e-3, 1.5e-3, 2e-3
"""Distances [m] where they are not given: between the windings, bobbin's wall, bobbin's cheek."""

Clearance = Annotated[Length, Between(0.0, 0.1, "m")]


class Arrangement(Enum):
    """How the two windings share the window."""

    SIDE_BY_SIDE = "side-by-side"
    CONCENTRIC = "concentric"
    INTERLEAVED = "interleaved"


class Legs(Enum):
    """Whether both windings sit on one leg, or each has a leg of its own."""

    ONE = "one"
    EACH = "each"


class Windings(Description):
    """Primary, secondary, and the distances around them.

    Parameters
    ----------
    arrangement
        Side by side along the leg, concentric, or interleaved along the leg.
    legs
        One leg for both windings, or each on a leg of its own (two-leg core).
    inner
        Which winding lies next to the leg when concentric.
    sections
        Of an interleaved arrangement [-]: one winding in that many equal coils, the other in one coil less between
        them and a half coil at each end, so that there are twice as many faces between the two.
    ends
        Which winding has the half coils at the ends when interleaved.
    spacing
        Between the two windings [m]: along the leg when side by side or interleaved, radially when concentric.
    leg_clearance
        From the leg's face to the innermost turn, in the window [m].
    yoke_clearance
        From either yoke to the nearest turn [m].
    end_clearance
        From the leg's end face to the innermost turn, outside the window [m]; as `leg_clearance` where not given.
    primary, secondary
        The windings. Only what has another secondary, a ring round the leg, does without one that is given.
    """

    arrangement: Arrangement
    legs: Legs = Legs.ONE
    inner: WindingName = "primary"
    sections: Annotated[int, WholeNumber(1, 20)] = 1
    ends: WindingName = "secondary"
    spacing: Clearance = SPACING
    leg_clearance: Clearance = LEG_CLEARANCE
    yoke_clearance: Clearance = YOKE_CLEARANCE
    end_clearance: Clearance | None = None
    primary: Winding
    secondary: Winding = Field(default_factory=lambda: Winding(turns=1, conductor=Conductor(round=1e-3)))

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.arrangement is not Arrangement.CONCENTRIC and self.inner != "primary":
            msg = 'inner is for arrangement = "concentric"; side by side, move a winding with its bottom'
            raise ValueError(msg)
        if self.legs is Legs.EACH and self.arrangement is not Arrangement.SIDE_BY_SIDE:
            msg = f'legs = "each" is for arrangement = "side-by-side"; {self.arrangement.value} windings share a leg'
            raise ValueError(msg)
        if self.secondary.extra is not None:
            msg = "extra turns are for the primary"
            raise ValueError(msg)
        if self.arrangement is Arrangement.INTERLEAVED:
            self._check_interleaved()
        elif self.sections != 1 or self.ends != "secondary":
            msg = 'sections and ends are for arrangement = "interleaved"'
            raise ValueError(msg)
        return self

    def _check_interleaved(self) -> None:
        for name, parts in self._parts().items():
            winding: Winding = getattr(self, name)
            if winding.bottom is not None:
                msg = f"{name}.bottom: interleaved coils follow each other from the lower yoke's clearance"
                raise ValueError(msg)
            if said := "places" if winding.places else winding.lay if layers_told(winding.lay) else "":
                msg = (
                    f"{name}: {said} is of one coil, and interleaved windings have several; "
                    'lay = "along" and "across" hold for each of them'
                )
                raise ValueError(msg)
            if winding.turns % parts:
                kind = "half coils" if name == self.ends else "coils"
                msg = (
                    f"{name}.turns {winding.turns} do not part into {parts} equal {kind} of whole turns "
                    f"(sections {self.sections}); take a multiple of {parts}"
                )
                raise ValueError(msg)

    def _parts(self) -> dict[str, int]:
        """Return in how many equal parts each winding is divided when interleaved; two of them are a full end coil."""
        return {name: self.sections * (2 if name == self.ends else 1) for name in ("primary", "secondary")}

    @property
    def inner_end_clearance(self) -> float:
        """From the leg's end face to the innermost turn of all [m]."""
        return self.leg_clearance if self.end_clearance is None else self.end_clearance


def place(core: Framed, windings: Windings) -> tuple[Block, ...]:
    """Return where the windings sit.

    Side by side, the primary starts above the lower yoke's clearance and the secondary above it. A winding may come
    as near to the next leg as to its own. Concentric, both fill the window between the yokes' clearances
    unless they give a height, and a shorter one is centred; so does each on its own leg. Interleaved coils follow each
    other from the lower yoke's clearance upwards; the height of a winding is then that of its coils together. Extra
    turns of the primary come above all of them, or outside of what fills the window's height. An explicit `bottom`
    is kept, and so are places. Of two cores each has such a primary, and the secondary runs round the legs of both.
    Whether it all goes in is for `fit` to say. In the window to the right of the leg::

          side by side      concentric        interleaved       each on a leg
          |   ______        |   __   __       |   ______        |   __     __   |
          |  |   s  |       |  |  | |  |      |  |__s/2_|       |  |  |   |  |  |
          |  |______|       |  |  | |  |      |   ______        |  |  |   |  |  |
          |   ______        |  |p | |s |      |  |   p  |       |  |p |   |s |  |
          |  |   p  |       |  |  | |  |      |  |______|       |  |  |   |  |  |
          |  |______|       |  |__| |__|      |  |__s/2_|       |  |__|   |__|  |

    Parameters
    ----------
    core
        The core.
    windings
        The windings.

    Returns
    -------
    tuple of Block
        The primary's from the lower yoke upwards and its extra turns, then the secondary's.
    """
    frame = core.frame
    if windings.arrangement is Arrangement.INTERLEAVED:
        blocks = _interleaved(frame, windings)
    elif windings.arrangement is Arrangement.CONCENTRIC:
        blocks = _concentric(frame, windings)
    elif windings.legs is Legs.EACH and len(frame.legs) == 2:
        blocks = _on_each_leg(frame, windings)
    else:
        blocks = _side_by_side(frame, windings)
    placed = _with_extra(frame, windings, blocks)
    if frame.stacks == 1:
        return placed
    return tuple(replace(block, round_both=block.winding == "secondary") for block in placed)


def _room(frame: Frame, windings: Windings) -> float:
    """Return the width [m] a winding may take in the window."""
    return frame.room_beside(frame.wound_leg) - 2 * windings.leg_clearance


def _full_height(frame: Frame, windings: Windings) -> float:
    return max(frame.window_height - 2 * windings.yoke_clearance, 0.1e-3)


def _side_by_side(frame: Frame, windings: Windings) -> list[Block]:
    blocks: list[Block] = []
    bottom, width = windings.yoke_clearance, _room(frame, windings)
    above: list[Winding | ExtraTurns] = [windings.secondary]
    above += [windings.primary.extra] if windings.primary.extra else []
    for name, winding in (("primary", windings.primary), ("secondary", windings.secondary)):
        bottom = winding.bottom if winding.bottom is not None else bottom
        taken = sum(lay(other, width).height + windings.spacing for other in above if other.bottom is None)
        length = frame.window_height - windings.yoke_clearance - bottom - taken
        blocks.append(_innermost(windings, name, winding, lay(winding, width, length), bottom))
        bottom = blocks[-1].top + windings.spacing
        above = above[1:]
    return blocks


def _concentric(frame: Frame, windings: Windings) -> list[Block]:
    order = ("primary", "secondary") if windings.inner == "primary" else ("secondary", "primary")
    further, blocks = 0.0, {}
    for name in order:
        block = _filling(frame, windings, name, getattr(windings, name), _room(frame, windings))
        blocks[name] = _outwards(block, further) if getattr(windings, name).places is None else block
        further = blocks[name].leg_clearance + block.build + windings.spacing - windings.leg_clearance
    return [blocks["primary"], blocks["secondary"]]


def _on_each_leg(frame: Frame, windings: Windings) -> list[Block]:
    other = next(leg for leg in frame.legs if leg.part is Part.OTHER_LEG)
    room = (_room(frame, windings) - windings.spacing) / 2
    primary = _filling(frame, windings, "primary", windings.primary, room)
    secondary = _filling(frame, windings, "secondary", windings.secondary, room)
    return [primary, replace(secondary, leg_axis=other.axis)]


def _interleaved(frame: Frame, windings: Windings) -> list[Block]:
    """Stack half an end coil, then full coils in turn, then the other half."""
    other: WindingName = "primary" if windings.ends == "secondary" else "secondary"
    n = windings.sections
    order: list[tuple[WindingName, float]] = [(windings.ends, 0.5 / n)]
    for k in range(n):
        order += [(other, 1.0 / n), (windings.ends, (0.5 if k == n - 1 else 1.0) / n)]
    bottom, blocks, width = windings.yoke_clearance, [], _room(frame, windings)
    room = _full_height(frame, windings) - 2 * n * windings.spacing
    coils: list[tuple[WindingName, float, Winding]] = []
    for name, share in order:
        winding: Winding = getattr(windings, name)
        height = None if winding.height is None else winding.height * share
        coils.append(
            (name, share, winding.model_copy(update={"turns": round(share * winding.turns), "height": height}))
        )
    for name, share, coil in coils:
        taken = sum(lay(beside, width).height for whose, _, beside in coils if whose != name)
        block = _innermost(windings, name, coil, lay(coil, width, share * (room - taken)), bottom)
        blocks.append(replace(block, share=share))
        bottom = block.top + windings.spacing
    return [*_numbered(blocks, "primary"), *_numbered(blocks, "secondary")]


def _numbered(blocks: list[Block], name: str) -> list[Block]:
    mine = [block for block in blocks if block.winding == name]
    if len(mine) == 1:
        return mine
    return [replace(block, coil=str(number)) for number, block in enumerate(mine, 1)]


def _with_extra(frame: Frame, windings: Windings, blocks: list[Block]) -> tuple[Block, ...]:
    """Add the primary's extra turns, and take all shares of its turns by the net ones."""
    extra, net = windings.primary.extra, windings.primary.net_turns
    if extra is None:
        return tuple(blocks)
    primary = [replace(b, share=b.share * windings.primary.turns / net) for b in blocks if b.winding == "primary"]
    secondary = [block for block in blocks if block.winding == "secondary"]
    alongside = [block for block in blocks if abs(block.leg_axis) < TOLERANCE]
    if extra.places is not None:
        block = _round_places(windings, "primary", extra.conductor, extra.places)
    elif windings.arrangement is Arrangement.CONCENTRIC or windings.legs is Legs.EACH:
        block = _filling(frame, windings, "primary", extra, _room(frame, windings))
        block = _outwards(block, max(b.leg_clearance + b.build for b in alongside) - windings.leg_clearance)
        block = _outwards(block, windings.spacing)
    else:
        bottom = max(b.top for b in alongside) + windings.spacing
        bottom = bottom if extra.bottom is None else extra.bottom
        laid = lay(extra, _room(frame, windings), frame.window_height - windings.yoke_clearance - bottom)
        block = _innermost(windings, "primary", extra, laid, bottom)
    return (*primary, replace(block, coil="extra", share=extra.signed_turns / net), *secondary)


def _filling(frame: Frame, windings: Windings, name: str, winding: Winding | ExtraTurns, room: float) -> Block:
    """Return a block next to the leg, centred, as high as the window unless a height is given or turns touch."""
    filled: Wound = winding
    if winding.height is None and winding.against is not Against.LEG:
        filled = winding.model_copy(update={"height": _full_height(frame, windings)})
    laid = lay(filled, room, _full_height(frame, windings))
    centred = (frame.window_height - laid.height) / 2
    return _innermost(windings, name, winding, laid, centred if winding.bottom is None else winding.bottom)


def _innermost(windings: Windings, name: str, winding: Winding | ExtraTurns, laid: Layers, bottom: float) -> Block:
    """Return the block of what is laid next to the leg, or where its conductors' places are given."""
    if winding.places is not None:
        return _round_places(windings, name, winding.conductor, winding.places)
    return Block(
        winding=name,
        leg_clearance=windings.leg_clearance,
        end_clearance=windings.inner_end_clearance,
        build=laid.build,
        bottom=bottom,
        height=laid.height,
        places=places_of(winding.conductor, laid),
    )


def _round_places(
    windings: Windings, name: str, conductor: Conductor, places: tuple[tuple[float, float], ...]
) -> Block:
    """Return the rectangle round conductors whose centres are given, from the leg's face and the lower yoke [m]."""
    width, height = conductor.insulated_width, conductor.insulated_height
    left, bottom = min(x for x, _ in places) - width / 2, min(y for _, y in places) - height / 2
    bare_width, bare_height = min(conductor.bare_width, width), min(conductor.bare_height, height)
    return Block(
        winding=name,
        leg_clearance=left,
        end_clearance=left + windings.inner_end_clearance - windings.leg_clearance,
        build=max(x for x, _ in places) + width / 2 - left,
        bottom=bottom,
        height=max(y for _, y in places) + height / 2 - bottom,
        places=tuple(
            Place(x=x - left, y=y - bottom, width=bare_width, height=bare_height, circular=conductor.circular)
            for x, y in places
        ),
    )


def _outwards(block: Block, distance: float) -> Block:
    """Return a block moved away from the leg by `distance` [m]."""
    return replace(block, leg_clearance=block.leg_clearance + distance, end_clearance=block.end_clearance + distance)
