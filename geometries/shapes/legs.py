"""The pieces of a frame: its legs, a gap in one of them, and the boxes that legs, yokes, joints and gaps are."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from geometries.shapes.section import GRID


class Part(Enum):
    """What a piece of the frame is; saturation and air differ from part to part."""

    WOUND_LEG = "wound leg"
    OTHER_LEG = "other leg"
    YOKE = "yoke"
    JOINT = "joint"
    GAP = "gap"


@dataclass(frozen=True, kw_only=True, slots=True)
class Leg:
    """One leg.

    Parameters
    ----------
    name
        Unique in its frame.
    axis
        Where its axis lies, x [m]; 0 for the leg that carries the primary.
    width
        [m].
    direction
        +1 where positive ampere-turns drive flux down it, -1 where up: windings on legs of either direction then link
        each other's flux with the same sign.
    """

    name: str
    axis: float
    width: float
    direction: int = 1

    @property
    def x0(self) -> float:
        """Left face [m]."""
        return self.axis - self.width / 2

    @property
    def x1(self) -> float:
        """Right face [m]."""
        return self.axis + self.width / 2

    @property
    def part(self) -> Part:
        """Whether it carries the primary."""
        return Part.WOUND_LEG if abs(self.axis) < GRID else Part.OTHER_LEG


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """A piece of the frame as deep as the stack.

    Parameters
    ----------
    name
        Unique in its frame.
    part
        What it is.
    x0, y0, x1, y1
        Lower left and upper right corner [m].
    gap
        Of a joint or gap [m]: how much of the box's height it takes; the rest stands for iron of the leg.
    """

    name: str
    part: Part
    x0: float
    y0: float
    x1: float
    y1: float
    gap: float = 0.0

    @property
    def gap_share(self) -> float:
        """Share of its height that is gap [-]."""
        height = self.y1 - self.y0
        return 1.0 if abs(height - self.gap) < GRID else self.gap / height


@dataclass(frozen=True, kw_only=True, slots=True)
class LegGap:
    """A gap across the leg that carries the primary, from `bottom` over `height` [m]."""

    bottom: float
    height: float
