"""Where an estimate's fields come from: solved each time, or kept (see `cache`)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from fem.characteristics.characterise import Characteristics, Fields, Progress, characterise
from fem.characteristics.resistance.slice import ac_slice
from fem.characteristics.resistance.windings import Slices
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from geometries.assembly.by_key import ByKey
from geometries.shapes.blocks import Block

Characterise = Callable[[Design, tuple[Block, ...], Sheet, Progress], tuple[Characteristics, Fields | None]]
"""How characteristics are come by: solved, or taken from where they are kept (then without their fields)."""

Places = Callable[[], dict[str, float]]
"""Solves for the flux density by place [T]."""


class Source(Protocol):
    """Where all of an estimate's fields come from: characteristics by a call, slices of single conductors besides."""

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, Fields | None]:
        """Return a design's characteristics, and their fields where they are not only kept."""
        ...

    @property
    def slices(self) -> Slices:
        """Return what gives slices."""
        ...

    def places(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, state: tuple[complex, complex], *, solve: Places
    ) -> dict[str, float]:
        """Return the flux density by place in a state of the circuit: its flux [Wb] and ampere-turns [A]."""
        ...


def solve_characteristics(
    design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, lengths: ByKey | None = None
) -> tuple[Characteristics, Fields]:
    """Solve the fields of a design's core and arrangement; see `characterise`."""
    return characterise(
        design.core,
        blocks,
        curve=sheet.curve,
        loss=sheet.loss,
        density=sheet.density,
        progress=progress,
        shunt=design.fitted_shunt,
        shunt_curve=sheet.shunt,
        lengths=lengths,
    )


class Solved:
    """Fields that are solved each time they are asked for."""

    slices = staticmethod(ac_slice)

    def places(self, *_: object, solve: Places) -> dict[str, float]:
        """Solve."""
        return solve()

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, Fields]:
        """Solve; see `solve_characteristics`."""
        return solve_characteristics(design, blocks, sheet, progress)
