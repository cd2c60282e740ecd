"""The section of a core with its windings, as a function."""

from __future__ import annotations

from collections.abc import Sequence

from geometries.blocks import Block
from geometries.frame_section import MARGIN
from geometries.section import Section
from geometries.shunt import Shunt
from geometries.stack import StackedCore

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
