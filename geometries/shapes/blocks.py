"""One winding's cross-section beside the leg, and the racetrack its turns run round the leg."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi


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
        return self.turn_length(leg_width, stack_depth, self.build / 2)


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
