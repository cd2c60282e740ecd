"""A core's iron as legs between two straight yokes: what sections, fits and the 3-D field know of any kind of core."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

from geometries.shapes.blocks import Block
from geometries.shapes.legs import Box, Leg, LegGap, Part
from geometries.shapes.section import GRID


@dataclass(frozen=True, kw_only=True, slots=True)
class Frame:
    """Legs from left to right between a lower and an upper yoke, its joints in the legs' ends.

    y = 0 is the lower edge of the windows and x = 0 the axis of the leg that carries the primary::

          y
          |   ________________________________
          |  |           upper yoke           |   yoke_height
          |  |________________________________|   y = window_height
          |  |=====|                  |=======|   joint_gap, of the leg
          |  | leg |      window      |  leg  |
          |  |_____|__________________|_______|   y = 0; a joint here too with joints_below
          |  |           lower yoke           |
          |  |________________________________|
          +-----:-------------------------------- x
                0

    Parameters
    ----------
    legs
        From left to right; at least two, one of them with its axis at x = 0.
    yoke_height
        Of either yoke [m].
    window_height
        Between the yokes [m].
    stack_depth
        [m].
    joint_gap
        Per crossing [m]; it takes that length from the legs. 0 closes the joints.
    joints_below
        Whether there are joints at the legs' lower ends as well as at the upper ones.
    leg_gap
        A gap in the leg that carries the primary.
    second_behind
        Distance to a second frame like this one, from stack to stack [m]; None where there is none.

    Raises
    ------
    ValueError
        If a length is out of range, legs overlap or none stands at x = 0.
    """

    legs: tuple[Leg, ...]
    yoke_height: float
    window_height: float
    stack_depth: float
    joint_gap: float = 0.0
    joints_below: bool = False
    leg_gap: LegGap | None = None
    second_behind: float | None = None

    def __post_init__(self) -> None:
        """Refuse what is no frame."""
        for name in ("yoke_height", "window_height", "stack_depth"):
            if not getattr(self, name) > 0:
                msg = f"{name} must be positive, got {getattr(self, name)} m"
                raise ValueError(msg)
        if not min(leg.width for leg in self.legs) > 0:
            msg = f"leg widths must be positive, got {[leg.width for leg in self.legs]} m"
            raise ValueError(msg)
        if not all(right.x0 > left.x1 for left, right in pairwise(self.legs)):
            msg = f"legs must stand apart from left to right, got axes {[leg.axis for leg in self.legs]} m"
            raise ValueError(msg)
        if not 0 <= self.joint_gap < self.window_height / 2:
            msg = f"joint_gap must lie between 0 and half the window's {self.window_height} m, got {self.joint_gap} m"
            raise ValueError(msg)
        if self.second_behind is not None and not self.second_behind >= 0:
            msg = f"a second frame must stand behind the first, got a distance of {self.second_behind} m"
            raise ValueError(msg)
        if sum(leg.part is Part.WOUND_LEG for leg in self.legs) != 1:
            msg = f"one leg must stand at x = 0, got axes {[leg.axis for leg in self.legs]} m"
            raise ValueError(msg)

    @property
    def frame(self) -> Frame:
        """Itself: what takes a core takes its frame alone as well."""
        return self

    @property
    def wound_leg(self) -> Leg:
        """The leg that carries the primary."""
        return self.leg_at(0.0)

    def leg_at(self, axis: float) -> Leg:
        """Return the leg whose axis lies at x = `axis` [m].

        Raises
        ------
        ValueError
            If there is none.
        """
        for leg in self.legs:
            if abs(leg.axis - axis) < GRID:
                return leg
        msg = f"no leg at x = {axis} m; there are {[leg.axis for leg in self.legs]}"
        raise ValueError(msg)

    @property
    def windows(self) -> tuple[tuple[float, float], ...]:
        """Left and right edge of each window [m]."""
        return tuple((left.x1, right.x0) for left, right in pairwise(self.legs))

    @property
    def window_width(self) -> float:
        """Width of the narrowest window [m]."""
        return min(x1 - x0 for x0, x1 in self.windows)

    def room_beside(self, leg: Leg) -> float:
        """Return the width of the narrowest window beside a leg [m]."""
        return min(x1 - x0 for x0, x1 in self.windows if min(abs(x0 - leg.x1), abs(x1 - leg.x0)) < GRID)

    @property
    def left_edge(self) -> float:
        """Left edge of the iron, x [m]."""
        return self.legs[0].x0

    @property
    def right_edge(self) -> float:
        """Right edge of the iron, x [m]."""
        return self.legs[-1].x1

    @property
    def stacks(self) -> int:
        """How many frames there are [-]: one, or two behind each other."""
        return 1 if self.second_behind is None else 2

    @property
    def iron_depth(self) -> float:
        """Depth of all stacks together [m]."""
        return self.stacks * self.stack_depth

    @property
    def nearest_stack(self) -> tuple[float, float]:
        """Where the stack at z > 0 begins and ends [m]; z = 0 is its own middle, or that between two stacks."""
        if self.second_behind is None:
            return 0.0, self.stack_depth / 2
        return self.second_behind / 2, self.second_behind / 2 + self.stack_depth

    def turn_centre(self, block: Block) -> float:
        """Return where the middle of a block's turns at z >= 0 lies [m]."""
        if self.second_behind is None or block.round_both:
            return 0.0
        return (self.second_behind + self.stack_depth) / 2

    def surrounded(self, block: Block) -> tuple[float, float]:
        """Return width and depth of what a block's turns run round [m]."""
        depth = self.stack_depth
        if self.second_behind is not None and block.round_both:
            depth = 2 * depth + self.second_behind
        return self.leg_at(block.leg_axis).width, depth

    def iron_within(self, block: Block) -> float:
        """Return the depth of iron that a block's turns run round [m]: of one stack or of both."""
        return self.iron_depth if block.round_both else self.stack_depth

    def mean_turn(self, blocks: Sequence[Block]) -> float:
        """Return the mean length of a winding's turns [m]: that of its blocks, each by its number of turns."""
        turns = sum(abs(block.share) for block in blocks)
        return sum(abs(b.share) * b.mean_turn(*self.surrounded(b)) for b in blocks) / turns

    @property
    def mirror_symmetric(self) -> bool:
        """Whether the iron is its own mirror image about x = 0."""
        faces = [round(x / GRID) for leg in self.legs for x in (leg.x0, leg.x1)]
        return faces == [-x for x in reversed(faces)]

    @property
    def closed(self) -> Frame:
        """The frame with its joints closed; a gap in the leg and a second frame stay."""
        return replace(self, joint_gap=0.0)

    def boxes(self, thinnest: float = 0.0) -> tuple[Box, ...]:
        """Return the pieces of iron, and the joints and gaps between them.

        Parameters
        ----------
        thinnest
            Joints and gaps lower than this become boxes of this height [m] that hold iron as well as the gap.
        """
        top, yoke = self.window_height, self.yoke_height
        found = [
            Box(name="lower yoke", part=Part.YOKE, x0=self.left_edge, y0=-yoke, x1=self.right_edge, y1=0.0),
            Box(name="upper yoke", part=Part.YOKE, x0=self.left_edge, y0=top, x1=self.right_edge, y1=top + yoke),
        ]
        layer = max(self.joint_gap, thinnest) if self.joint_gap else 0.0
        start, stop = (layer if self.joints_below else 0.0), top - layer
        for leg in self.legs:
            if self.leg_gap is None or leg.part is not Part.WOUND_LEG:
                found.append(_box(leg.name, leg.part, leg, start, stop))
            else:
                found += _parted(leg, self.leg_gap, start, stop, thinnest)
            if layer:
                found.append(_box(f"{leg.name} upper joint", Part.JOINT, leg, stop, top, self.joint_gap))
            if start:
                found.append(_box(f"{leg.name} lower joint", Part.JOINT, leg, 0.0, start, self.joint_gap))
        return tuple(found)


class Framed(Protocol):
    """Anything built on a frame: a core of whatever type."""

    @property
    def frame(self) -> Frame:
        """Its iron."""
        ...


def side_edges(frame: Frame, block: Block, side: int) -> tuple[float, float]:
    """Return the left and right edge of a block's right (side +1) or left (-1) half [m]."""
    leg = frame.leg_at(block.leg_axis)
    inner = leg.width / 2 + block.leg_clearance
    a, b = leg.axis + side * inner, leg.axis + side * (inner + block.build)
    return min(a, b), max(a, b)


def overlap(frame: Frame, a: Block, b: Block) -> float:
    """Return how far two blocks reach into each other: the smaller of the two overlaps [m]; negative when apart."""
    along = min(a.top, b.top) - max(a.bottom, b.bottom)
    if abs(a.leg_axis - b.leg_axis) < GRID:
        across = min(a.leg_clearance + a.build, b.leg_clearance + b.build) - max(a.leg_clearance, b.leg_clearance)
        return min(across, along)
    left, right = (a, b) if a.leg_axis < b.leg_axis else (b, a)
    return min(side_edges(frame, left, 1)[1] - side_edges(frame, right, -1)[0], along)


def _box(name: str, part: Part, leg: Leg, y0: float, y1: float, gap: float = 0.0) -> Box:
    return Box(name=name, part=part, x0=leg.x0, y0=y0, x1=leg.x1, y1=y1, gap=gap)


def _parted(leg: Leg, gap: LegGap, start: float, stop: float, thinnest: float) -> list[Box]:
    """Return a leg from `start` to `stop` in two, with its gap between; flush with an end where it would stick out."""
    height = max(gap.height, thinnest)
    bottom = min(max(gap.bottom - (height - gap.height) / 2, start), stop - height)
    found = [_box(f"{leg.name} gap", Part.GAP, leg, bottom, bottom + height, gap.height)]
    if bottom > start:
        found.append(_box(f"{leg.name} below gap", leg.part, leg, start, bottom))
    if stop > bottom + height:
        found.append(_box(f"{leg.name} above gap", leg.part, leg, bottom + height, stop))
    return found
