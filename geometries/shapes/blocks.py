"""One winding's cross-section beside the leg, and the racetrack its turns run round the leg."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import exp, pi

MOST_SINGLE = 12
"""Conductors of a winding that fields know one by one; more are an even block with a correction."""

EQUAL_SQUARE = exp(-0.25) / 2 / 0.44705
"""Side of the square that stands for a disc, over its diameter: both have the same geometric mean distance of their
points from each other, exp(-1/4) / 2 of the diameter and 0.44705 of the side (E. B. Rosa and F. W. Grover, Bull. Bureau
of Standards 8 (1911)), and so the same inductance with evenly spread current."""

_ASPECTS = (1.0, 0.8, 1.25, 0.65, 1 / 0.65, 0.5, 2.0)
"""Width over height of what stands for nested discs, whose squares would overlap; tried in this order."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """Where one conductor lies in its block.

    Parameters
    ----------
    x, y
        Its centre above the block's lower left corner [m], on the right of the leg.
    width, height
        Bare size across the build and along the leg [m].
    circular
        Whether it is round.
    """

    x: float
    y: float
    width: float
    height: float
    circular: bool


@dataclass(frozen=True, kw_only=True, slots=True)
class Block:
    """A winding, or one coil of it, as a rectangle of turns in the window, racetrack-shaped round its leg.

    The racetrack keeps `leg_clearance` from the leg's faces towards the windows (x) and `end_clearance` from its
    end faces (z, the faces one sees in the stack direction). Its inner corners are rounded by the smaller of the two.
    Seen along the leg, with w by d the leg's section, a quarter of it is::

        z
        |_____________________
        |                      `.       - build
        |___________             |
        |             `.         |      - end_clearance; inner corners of radius
        |________       |        |        r = min(leg_clearance, end_clearance)
        |        |      |        |
        |  leg   |<---->|<------>|
        |________|______|________|____ x
        0       w/2     |  build
                 leg_clearance

    Parameters
    ----------
    winding
        Name of the winding it belongs to.
    leg_clearance
        From the leg's face to the innermost turn, in the window [m].
    end_clearance
        From the leg's end face to the innermost turn, outside the window [m].
    build
        Radial thickness, across the legs [m].
    bottom
        Lower edge above the lower yoke [m].
    height
        Length along the leg [m].
    share
        Share of the winding's turns in this block [-], negative where they are wound against the rest; the shares of a
        winding sum to 1.
    leg_axis
        Where the axis of the leg lies that it surrounds, x [m].
    coil
        Tells the blocks of a winding apart; empty where there is one.
    round_both
        Of two cores one behind the other: whether it surrounds the legs of both, or each has such a block.
    places
        Of its conductors, turn after turn, those in hand of a turn next to each other; empty where they are too many
        to be placed one by one.
    """

    winding: str
    leg_clearance: float
    end_clearance: float
    build: float
    bottom: float
    height: float
    share: float = 1.0
    leg_axis: float = 0.0
    coil: str = ""
    round_both: bool = False
    places: tuple[Place, ...] = ()

    @property
    def name(self) -> str:
        """The winding, and which of its coils."""
        return f"{self.winding} {self.coil}".rstrip()

    @property
    def top(self) -> float:
        """Upper edge above the lower yoke [m]."""
        return self.bottom + self.height

    @property
    def area(self) -> float:
        """Cross-section in one window [m2]."""
        return self.build * self.height

    @property
    def corner_radius(self) -> float:
        """Radius of the innermost turn's corners [m]."""
        return min(self.leg_clearance, self.end_clearance)

    def turn_length(self, leg_width: float, stack_depth: float, depth_in_build: float) -> float:
        """Return the length of one turn [m].

        Parameters
        ----------
        leg_width, stack_depth
            Section of what it runs round, w by d [m].
        depth_in_build
            How far outside of the innermost turn it lies, t [m].

        Notes
        -----
        With cx, cz the clearances and r the radius of the inner corners,

            l = 2 (w + 2 (cx - r) + d + 2 (cz - r)) + 2 pi (r + t).
        """
        radius = self.corner_radius
        straight = (leg_width + 2 * (self.leg_clearance - radius)) + (stack_depth + 2 * (self.end_clearance - radius))
        return 2 * straight + 2 * pi * (radius + depth_in_build)

    def mean_turn(self, leg_width: float, stack_depth: float) -> float:
        """Length of the mean turn round a leg of this section [m]."""
        middle = sum(place.x for place in self.places) / len(self.places) if self.places else self.build / 2
        return self.turn_length(leg_width, stack_depth, middle)


def winding_names(blocks: Sequence[Block]) -> tuple[str, ...]:
    """Return the names of the windings of these blocks, in the order they first occur."""
    return tuple(dict.fromkeys(block.winding for block in blocks))


def blocks_of(blocks: Sequence[Block], winding: str) -> tuple[Block, ...]:
    """Return the blocks of one winding.

    Raises
    ------
    ValueError
        If there is none, or their shares do not sum to 1.
    """
    found = tuple(block for block in blocks if block.winding == winding)
    total = sum(block.share for block in found)
    if abs(total - 1) > 1e-9:
        msg = f"the blocks of {winding!r} hold {total:g} of its turns together, not 1"
        raise ValueError(msg)
    return found


def spread_coils(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Return one block for each winding in place of its coils along a leg; extra turns stay by themselves."""
    found = []
    for name in winding_names(blocks):
        mine = blocks_of(blocks, name)
        coils = [block for block in mine if block.coil != "extra"]
        share, bottom = sum(block.share for block in coils), min(block.bottom for block in coils)
        build = sum(block.share * block.build for block in coils) / share
        height = max(block.top for block in coils) - bottom
        found.append(replace(coils[0], share=share, build=build, bottom=bottom, height=height))
        found += [block for block in mine if block.coil == "extra"]
    return tuple(found)


def single_blocks(blocks: Sequence[Block]) -> tuple[Block, ...]:
    """Return the blocks that fields know: those of `coil_parts`, one after the other."""
    return tuple(part for _, parts in coil_parts(blocks) for part in parts)


def coil_parts(blocks: Sequence[Block]) -> tuple[tuple[Block, tuple[Block, ...]], ...]:
    """Return each block with what fields know in its place: one block for each conductor where its winding has few.

    Few are `MOST_SINGLE` in all coils of a winding together, or in its extra turns. Each carries an equal share of its
    block's turns and is named after it, "<coil> conductor 1", numbered through turns and wires in hand.
    """
    found = []
    for block in blocks:
        mine = [b for b in blocks if b.winding == block.winding and (b.coil == "extra") == (block.coil == "extra")]
        few = all(b.places for b in mine) and sum(len(b.places) for b in mine) <= MOST_SINGLE
        found.append((block, _parted(block) if few else (block,)))
    return tuple(found)


def _parted(block: Block) -> tuple[Block, ...]:
    return tuple(
        replace(
            block,
            coil=f"{block.coil} conductor {number}".lstrip(),
            share=block.share / len(block.places),
            leg_clearance=block.leg_clearance + place.x - width / 2,
            end_clearance=block.end_clearance + place.x - width / 2,
            build=width,
            bottom=block.bottom + place.y - height / 2,
            height=height,
            places=(),
        )
        for number, (place, (width, height)) in enumerate(
            zip(block.places, rectangles(block.places), strict=True), start=1
        )
    )


def rectangles(places: Sequence[Place]) -> tuple[tuple[float, float], ...]:
    """Return width and height [m] of the rectangle that stands for each conductor.

    For a disc a square, see `EQUAL_SQUARE`, or where nested discs' squares would overlap a rectangle of the same sum of
    sides: its geometric mean distance is 0.2235 of that sum, whichever side is the longer.
    """
    sizes: list[tuple[float, float]] = []
    for aspect in _ASPECTS:
        sizes = [_rectangle(place, aspect) for place in places]
        overlaps = [
            min((a[k] + b[k]) / 2 - apart for k, apart in enumerate((abs(p.x - q.x), abs(p.y - q.y))))
            for (p, a), (q, b) in combinations(zip(places, sizes, strict=True), 2)
        ]
        if max(overlaps, default=0.0) <= 0:
            return tuple(sizes)
    shrink = min(
        max(2 * abs(p.x - q.x) / (a[0] + b[0]), 2 * abs(p.y - q.y) / (a[1] + b[1]))
        for (p, a), (q, b) in combinations(zip(places, sizes, strict=True), 2)
    )
    return tuple((shrink * width, shrink * height) for width, height in sizes)


def _rectangle(place: Place, aspect: float) -> tuple[float, float]:
    if not place.circular:
        return place.width, place.height
    both = 2 * EQUAL_SQUARE * place.width
    return both * aspect / (1 + aspect), both / (1 + aspect)
