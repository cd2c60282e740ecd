"""Designs with lengths changed, and what the derivatives of their grids are held against."""

from collections.abc import Mapping

import numpy as np

from fem.arrays import Floats
from fem.characteristics.leakage.permeance import shunt_bar
from fem.design.transformer import Design
from fem.field.bricks.bars import ShuntBar
from geometries.assembly.by_key import ByKey, by_key
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import place


def keyed(design: Design) -> ByKey:
    """Return a design's lengths with their derivatives."""
    return by_key(design.core, design.windings, design.fitted_shunt)


def told(design: Design, found: ByKey) -> list[int]:
    """Return which keys the design gives itself: those move together as each moves alone."""
    return [k for k, key in enumerate(found.keys) if _at(design, key) is not None]


def _at(design: Design, key: str) -> object:
    here: object = design
    for name in key.removesuffix(".left").removesuffix(".right").split("."):
        here = getattr(here, name)
    return here


def moved(design: Design, lengths: Mapping[str, float]) -> Design:
    """Return a design with some lengths changed [m]."""
    for key, value in lengths.items():
        if key.startswith("core.outer_leg_width."):
            left, right = design.core.outer_leg_width  # type: ignore[union-attr]
            pair = (value, right) if key.endswith("left") else (left, value)
            design = design.vary("core.outer_leg_width", pair)
        else:
            design = design.vary(key, value)
    return design


def built(design: Design) -> tuple[tuple[Block, ...], tuple[ShuntBar, ...]]:
    """Return a design's blocks and shunt bars."""
    blocks = place(design.core, design.windings)
    shunt = design.fitted_shunt
    return blocks, () if shunt is None else (shunt_bar(design.core, blocks, shunt),)


def rates(remainders: Floats) -> Floats:
    """Return the powers with which remainders fall while the step is halved."""
    sizes = np.abs(remainders)
    return np.log2(sizes[:-1] / sizes[1:])
