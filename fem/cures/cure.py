"""What a cure is: a design in, changes of its keys out, or why it is not open here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn

from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.fields.kept import Kept
from fem.estimation.once import once
from fem.estimation.parts import Part
from fem.options.outcome import Outcome, outcome
from geometries.described.faults import Fault
from geometries.windings.arrangement import place
from geometries.windings.fit import fit


class NotOpen(Exception):
    """Why a cure is not open to a design."""


def not_open(reason: str) -> NoReturn:
    """Raise NotOpen."""
    raise NotOpen(reason)


@dataclass(frozen=True, kw_only=True, eq=False)
class Bench:
    """A design that is to be improved.

    Parameters
    ----------
    design
        As it is.
    kept
        Where its fields come from.
    known
        What was drawn of it.
    """

    design: Design
    kept: Kept
    known: dict[object, Any] = field(default_factory=dict)

    @once
    def case(self) -> Case:
        """What is solved for it, without costly parts but the slices of conductors."""
        return Case(design=in_use(self.design), wanted={Part.CONDUCTOR_SLICE}, source=self.kept)

    @once
    def before(self) -> Outcome:
        """What it comes to."""
        return outcome(self.design, self.kept)

    @property
    def is_ring(self) -> bool:
        """Whether a ring round the leg is the secondary."""
        return self.case.ring is not None


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """What a cure does to a design.

    Parameters
    ----------
    keys
        Dotted keys of the job and their new values, None where a key goes.
    do
        What one has to do, a clause.
    danger
        Of doing it, in a word or two; empty where it is no more than the machine's own.
    """

    keys: Mapping[str, object]
    do: str
    danger: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Cure:
    """A way to improve a transformer.

    Parameters
    ----------
    name
        In a few words.
    find
        Returns the change; raises NotOpen with the reason where there is none.
    """

    name: str
    find: Callable[[Bench], Change]


def faults_of(design: Design) -> tuple[Fault, ...]:
    """Return why a design does not go into its window, one for each reason."""
    design = in_use(design)
    return fit(design.core, design.windings, place(design.core, design.windings), shunt=design.shunt).faults
