"""Where an estimate's fields come from: solved each time, or kept (see `cache`)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics, Fields, Progress, characterise
from fem.characteristics.resistance.slice import ac_slice
from fem.characteristics.resistance.windings import Slices
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from geometries.assembly.by_key import ByKey, by_key
from geometries.shapes.blocks import Block

Places = Callable[[], dict[str, float]]
"""Solves for the flux density by place [T]."""


class Source(Protocol):
    """Where all of an estimate's fields come from: characteristics by a call, slices of single conductors besides."""

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, Fields | None]:
        """Return a design's characteristics, and their fields where they are not only kept."""
        ...

    def slopes(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /, only: str = ""
    ) -> Slopes:
        """Return their derivatives by the lengths of the job, or only one; asked for first, both are solved in one."""
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


def lengths_of(design: Design, only: str = "") -> ByKey:
    """Return the lengths of a design with their derivatives, by all of them or only one."""
    found = by_key(design.core, design.windings, design.fitted_shunt)
    return found.only(only) if only else found


def solve_with_slopes(
    design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, lengths: ByKey
) -> tuple[Characteristics, Fields, Slopes]:
    """Solve them with their derivatives by the lengths of the job, for 0.2 to 0.4 of their price, 0.1 by one alone."""
    found, fields = solve_characteristics(design, blocks, sheet, progress, lengths)
    assert fields.slopes is not None
    return found, fields, fields.slopes


class Solved:
    """Fields that are solved each time they are asked for; what derivatives took waits for who asks next for that."""

    slices = staticmethod(ac_slice)
    _waiting: tuple[tuple[Block, ...], Characteristics, Fields] | None = None

    def slopes(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /, only: str = ""
    ) -> Slopes:
        """Solve with derivatives."""
        found, fields, slopes = solve_with_slopes(design, blocks, sheet, progress, lengths_of(design, only))
        self._waiting = blocks, found, fields
        return slopes

    def places(self, *_: object, solve: Places) -> dict[str, float]:
        """Solve."""
        return solve()

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, Fields]:
        """Solve; see `solve_characteristics`."""
        waiting, self._waiting = self._waiting, None
        if waiting is not None and waiting[0] is blocks:  # of the same case: whose else?
            return waiting[1:]
        return solve_characteristics(design, blocks, sheet, progress)
