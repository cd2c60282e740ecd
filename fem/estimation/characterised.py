"""A design with what its fields say of it, each solved once and only when something asks for it; its drawn members."""

from __future__ import annotations

from collections.abc import Callable, Set
from dataclasses import dataclass, replace
from typing import Any, Self, TypeVar

import numpy as np

from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics, Fields, Progress, fields_of
from fem.characteristics.resistance.slice import ac_slice
from fem.circuit.equivalent import Circuit
from fem.design.ring import ring_faults
from fem.design.sheet import Sheet, sheet_of
from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.fields.source import Solved, Source
from fem.estimation.inputs.circuit import circuit_of
from fem.estimation.inputs.drawn import Drawn, drawn
from fem.estimation.inputs.windings import Windings, winding_states
from fem.estimation.once import attempt, once
from fem.estimation.parts import EVERYTHING, Part
from fem.quantity import NOT_ASKED, Unknown
from fem.trust.draws import Draws
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import place
from geometries.windings.fit import Fit, fit

Value = TypeVar("Value")

_SOLVED = Solved()


def _unheard(_: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Characterised:
    """A design with what its fields say, and its members that are drawn.

    Parameters
    ----------
    design
        What is built and what it is plugged into.
    wanted
        Which of the costly parts are asked for.
    source
        Where the fields' curves and numbers come from.
    tell
        Told in words what is under way.
    members
        How many designs it is: of several, a block, numbers of the design that vary are arrays with an entry for each,
        and so is all that follows from them.
    known
        Draws of what is in doubt, where more is known of it than the design says.
    drawn_of, given
        Of members that are one design, drawn: that design, and what they have in place of what is solved.

    Raises
    ------
    NotConverged, OutOfRange
        By whatever is asked for and cannot be solved, every time it is asked for.
    """

    design: Design
    wanted: Set[Part] = EVERYTHING
    source: Source = _SOLVED
    tell: Progress = _unheard
    members: int = 1
    known: Draws | None = None
    drawn_of: Self | None = None
    given: Drawn | None = None

    def part(self, which: Part, compute: Callable[[], Value]) -> Value | Unknown:
        """Return a costly part of a section; nothing where it is not asked for, a gap where it fails."""
        return self.attempt(compute) if which in self.wanted else NOT_ASKED

    def attempt(self, compute: Callable[[], Value]) -> Value | Unknown:
        """Return what is computed; where that fails a gap, but of a block the failure: whose it is, is not known."""
        return attempt(compute) if self.members == 1 else compute()

    @once
    def blocks(self) -> tuple[Block, ...]:
        """The windings' blocks in the window."""
        return place(self.design.core, self.design.windings)

    @once
    def fitted(self) -> Fit:
        """How the windings sit in the window.

        Raises
        ------
        DoesNotFit
            If they do not go in.
        """
        fitted = fit(self.design.core, self.design.windings, self.blocks, shunt=self.design.shunt)
        if faults := ring_faults(self.design.core, self.design.work_piece, self.blocks, fitted.faults):
            raise DoesNotFit(faults)
        return fitted

    @once
    def sheet(self) -> Sheet:
        """The sheet of the core and of any shunts."""
        return sheet_of(self.design.core, self.design.fitted_shunt)

    @once
    def _characterised(self) -> tuple[Characteristics, Fields | None]:
        assert self.fitted.fits
        return self.source(self.design, self.blocks, self.sheet, self.tell)

    @property
    def found(self) -> Characteristics:
        """What the field says, without turns and volts."""
        return self._characterised[0] if self.given is None else self.given.found

    @once
    def slopes(self) -> Slopes:
        """Derivatives of `found` by the lengths of the job; asked for before `found`, both are solved together."""
        assert self.fitted.fits
        return self.source.slopes(self.design, self.blocks, self.sheet, self.tell)

    @once
    def fields(self) -> Fields:
        """The fields themselves, solved where only what they say was kept."""
        return self._characterised[1] or fields_of(
            self.design.core,
            self.blocks,
            self.sheet.curve,
            level=self.found.mesh_level,
            shunt=self.design.fitted_shunt,
            shunt_curve=self.sheet.shunt,
        )

    @property
    def temperature(self) -> Any:
        """Of windings and leads, () or (members,) [K]."""
        return self.design.temperature if self.given is None else self.given.temperature

    @once
    def windings(self) -> Windings:
        """Lengths, resistances and masses; for pictures slices are solved, as only their ratios are kept."""
        if self.given is not None:
            return self.given.windings
        found = self.found
        self.tell("resistances")
        slices = ac_slice if Part.PICTURES in self.wanted else self.source.slices
        return winding_states(self.design, found, with_slice=Part.CONDUCTOR_SLICE in self.wanted, slices=slices)

    @once
    def alone(self) -> Circuit:
        """The circuit of the design, its secondary linking all of the primary's flux; see `coupled`."""
        return circuit_of(self.design, self.found, self.windings) if self.given is None else self.given.circuit

    def with_draws(self, some: Draws) -> Self:
        """Return the design as so many members as there are draws, without costly parts."""
        found = drawn(self.design, self.found, self.slopes, self.windings, self.sheet.curve, some)
        return self._of(found, len(some), frozenset())

    def first(self, count: int, wanted: Set[Part]) -> Self:
        """Return the first of these members, with some costly parts."""
        assert self.given is not None
        return self._of(self.given.taken(np.arange(count)), count, wanted)

    def member(self, place: int) -> Self:
        """Return one of these members alone."""
        assert self.given is not None
        return self._of(self.given.taken(place), 1, frozenset())

    def _of(self, given: Drawn, members: int, wanted: Set[Part]) -> Self:
        whole = self.drawn_of or self
        return replace(whole, design=given.design, wanted=wanted, members=members, drawn_of=whole, given=given)
