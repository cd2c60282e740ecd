"""Characteristics kept in memory, so that a core and arrangement is solved once for all its turns, cables and loads."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from dataclasses import dataclass, field

from fem.characteristics.characterise import Characteristics, Progress
from fem.study.design import Design
from fem.study.estimate import solve_characteristics
from fem.study.sheet import Sheet
from geometries.blocks import Block

CAPACITY = 64


def characteristics_key(design: Design, blocks: tuple[Block, ...], sheet: Sheet) -> str:
    """Return what the field's curves and numbers depend on, as a digest.

    The section with joints and shunts, the same in depth and at the end faces, the laws of the sheets, the core loss.
    Turns, wires, leads, loads and mains are not in it.
    """
    core = design.core
    section = core.section(blocks, shunt=design.fitted_shunt)
    parts: list[object] = [section.digest, core.stack_depth, core.stacking_factor, core.joint.value, core.joint_gap]
    parts += [(round(block.end_clearance * 1e9), round(block.leg_axis * 1e9), block.share) for block in blocks]
    parts += [sheet.density, sheet.loss]
    for curve in (sheet.curve, sheet.shunt):
        if curve is not None:
            parts += [curve.H.tobytes(), curve.B.tobytes(), curve.saturation_polarisation]
    return hashlib.sha256(repr(parts).encode()).hexdigest()


@dataclass(slots=True)
class Kept:
    """A bounded store of characteristics: the least recently used go first. Give it to `estimate`."""

    capacity: int = CAPACITY
    solved: int = 0
    _store: OrderedDict[str, Characteristics] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress
    ) -> tuple[Characteristics, None]:
        """Return the characteristics of a design, solved where they are not kept yet."""
        key = characteristics_key(design, blocks, sheet)
        with self._lock:
            found = self._store.get(key)
            if found is not None:
                self._store.move_to_end(key)
                return found, None
        found, _ = solve_characteristics(design, blocks, sheet, progress)
        with self._lock:
            self.solved += 1
            self._store[key] = found
            while len(self._store) > self.capacity:
                self._store.popitem(last=False)
        return found, None
