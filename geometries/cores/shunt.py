"""Magnetic shunts: bars of sheet in both windows, between the windings, that lead leakage flux from leg to leg."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from geometries.described.faults import Description, Fault
from geometries.described.quantities import Between, Length, format_quantity
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, Framed
from geometries.shapes.section import GRID, Region, Role

CLOSE = 1e-9
"""Lengths closer than this [m] are the same."""


class Shunt(Description):
    """The shunts of an arrangement along the leg, one in each window beside it, as deep as the stack.

    In one window::

                 |           secondary           |
          leg    |  _________________________    |   next leg
                 | |                         |   |
                 | |          bar            |   |   height
                 | |_________________________|   |   - lower edge at `bottom`
                 |                               |
                 |            primary            |
                 |<>|                        |<->|   together total_gap, half on either side

    Parameters
    ----------
    height
        Along the leg [m].
    total_gap
        Both gaps of one window together, to the centre leg and to the outer leg [m].
    bottom
        Lower edge above the lower yoke [m]; midway between the windings where not given.
    steel
        Grade, by its name in the materials tables; the core's where not given.
    fitted
        Whether the shunts are in place: false compares with them taken out.
    """

    height: Annotated[Length, Between(0.5e-3, 0.1, "m")]
    total_gap: Annotated[Length, Between(20e-6, 20e-3, "m")]
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    steel: str | None = None
    fitted: bool = True

    def lower_edge(self, blocks: Sequence[Block]) -> float:
        """Return its lower edge above the lower yoke [m]: midway in the widest space between blocks along the leg."""
        if self.bottom is not None:
            return self.bottom
        first, *others = sorted(blocks, key=lambda block: block.bottom)
        top, spaces = first.top, []
        for block in others:
            spaces.append((block.bottom - top, (block.bottom + top) / 2))
            top = max(top, block.top)
        _, middle = max(spaces, default=(0.0, (first.bottom + first.top) / 2))
        return middle - self.height / 2

    def faults(self, core: Framed, blocks: Sequence[Block]) -> list[Fault]:
        """Say why it does not go in, one line for each reason."""
        frame = core.frame
        bottom = self.lower_edge(blocks)
        found = []
        if self.total_gap >= frame.window_width:
            wide = format_quantity(frame.window_width, "m")
            found.append(Fault("shunt.total_gap", f"{format_quantity(self.total_gap, 'm')}: the window is {wide} wide"))
        if bottom < -CLOSE or bottom + self.height > frame.window_height + CLOSE:
            found.append(Fault("shunt", "sticks out of the window"))
        for block in blocks:
            over = min(bottom + self.height, block.top) - max(bottom, block.bottom)
            if over > CLOSE:
                text = f"overlaps the {block.name} by {format_quantity(over, 'm')}: give windings.spacing room for it"
                found.append(Fault("shunt", text))
        return found


def bar_regions(frame: Frame, blocks: Sequence[Block], shunt: Shunt) -> tuple[Region, ...]:
    """Return the bars of a shunt, one in each window beside the primary's leg.

    Parameters
    ----------
    frame
        The iron.
    blocks
        The windings.
    shunt
        What is put between them.

    Raises
    ------
    ValueError
        If it does not go in.
    """
    if faults := shunt.faults(frame, blocks):
        msg = "; ".join(f"{key}: {text}" for key, text in faults)
        raise ValueError(msg)
    leg, y0 = frame.wound_leg, shunt.lower_edge(blocks)
    beside = [w for w in frame.windows if min(abs(w[0] - leg.x1), abs(w[1] - leg.x0)) < GRID]
    return tuple(
        Region(
            name="shunt" if len(beside) == 1 else "left shunt" if x1 < 0 else "right shunt",
            role=Role.SHUNT,
            x0=x0 + shunt.total_gap / 2,
            y0=y0,
            x1=x1 - shunt.total_gap / 2,
            y1=y0 + shunt.height,
        )
        for x0, x1 in beside
    )
