"""What the user has to wind with."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import model_validator

from fem.design.leads import Metal
from geometries.described.faults import Description, refused
from geometries.described.quantities import Between, Length
from geometries.windings.conductors import KINDS, Conductor

MOST_KINDS = 20
"""Conductors in a list; each is a few dozen windings to compare."""


class Stocked(Conductor):
    """A conductor in stock: `round`, `strip` or `cable` as in a winding, and how much there is.

    Parameters
    ----------
    material
        Metal, by its name in the materials tables.
    length
        In stock [m]; enough where not given.
    """

    material: Metal = "copper"
    length: Annotated[Length, Between(0.05, 10_000.0, "m")] | None = None

    @property
    def conductor(self) -> Conductor:
        """It as a winding takes it."""
        return Conductor(**{name: getattr(self, name) for name in (*KINDS, "insulated")})


class Shop(Description):
    """What the shop has to wind a secondary with.

    Parameters
    ----------
    conductors
        Each with its outside size; without a list common welding cables are assumed.
    primary_slides
        Whether the primary's coil can be moved along its leg, so that half of the secondary lies on either side of it.
    """

    conductors: tuple[Stocked, ...] | None = None
    primary_slides: bool = False

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.conductors is not None and not 1 <= len(self.conductors) <= MOST_KINDS:
            text = f"conductors: {len(self.conductors)} are listed, which is outside 1 to {MOST_KINDS}"
            raise refused(text)
        return self
