"""Magnetic shunts: bars of sheet in both windows, between the windings, that lead leakage flux from leg to leg."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from geometries.blocks import Block
from geometries.cores import ShellCore
from geometries.errors import Description, Fault
from geometries.quantities import Between, Length, format_quantity

CLOSE = 1e-9


class Shunt(Description):
    """The pair of shunts of a side-by-side arrangement, one in each window, as deep as the stack.

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
        """Return its lower edge above the lower yoke [m], given the windings."""
        if self.bottom is not None:
            return self.bottom
        lower, upper = sorted(blocks, key=lambda block: block.bottom)[:: len(blocks) - 1 or 1]
        return (lower.top + upper.bottom - self.height) / 2

    def faults(self, core: ShellCore, blocks: Sequence[Block]) -> list[Fault]:
        """Say why it does not go in, one line for each reason."""
        bottom = self.lower_edge(blocks)
        found = []
        if self.total_gap >= core.window_width:
            wide = format_quantity(core.window_width, "m")
            found.append(Fault("shunt.total_gap", f"{format_quantity(self.total_gap, 'm')}: the window is {wide} wide"))
        if bottom < -CLOSE or bottom + self.height > core.window_height + CLOSE:
            found.append(Fault("shunt", "sticks out of the window"))
        for block in blocks:
            over = min(bottom + self.height, block.top) - max(bottom, block.bottom)
            if over > CLOSE:
                text = (
                    f"overlaps the {block.winding} by {format_quantity(over, 'm')}: give windings.spacing room for it"
                )
                found.append(Fault("shunt", text))
        return found
