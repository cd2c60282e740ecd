"""The section of a core with its windings, as a function."""

from __future__ import annotations

from collections.abc import Sequence

from geometries.assembly.section_of import MARGIN
from geometries.cores.shunt import Shunt
from geometries.cores.stacked import StackedCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Section

__all__ = ["MARGIN", "shell_section"]


def shell_section(
    core: StackedCore,
    blocks: Sequence[Block],
    *,
    joint_regions: bool = True,
    shunt: Shunt | None = None,
    margin: float | None = None,
) -> Section:
    """Return `core.section(...)`."""
    return core.section(blocks, joint_regions=joint_regions, shunt=shunt, margin=margin)
