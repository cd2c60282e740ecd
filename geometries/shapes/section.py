"""Cross-sections: named rectangles and discs with roles, and the lines across which flux is read.

A `Section` is all the field solver needs to know of what is built: it has no turns, no steel grade and no depth.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from enum import Enum
from math import pi

GRID = 1e-9
"""Coordinates closer than this [m] are the same: what the digest and the symmetry test round to."""
SHARE_GRID = 1e-12
"""Shares closer than this [-] are the same."""


class Shape(Enum):
    """How a region fills the rectangle given for it."""

    RECTANGLE = "rectangle"
    DISC = "disc"


class Role(Enum):
    """What fills a region."""

    IRON = "iron"
    JOINT = "joint"
    SHUNT = "shunt"
    CONDUCTOR = "conductor"
    AIR = "air"


@dataclass(frozen=True, kw_only=True, slots=True)
class Region:
    """One rectangle of a section, or the disc inscribed in a square.

    Parameters
    ----------
    name
        Unique in its section.
    role
        What fills it.
    x0, y0, x1, y1
        Lower left and upper right corner [m]; of the square round it, for a disc.
    winding
        Name of the winding of a conductor region; None otherwise.
    coil
        Name of its coil; None otherwise.
    sense
        +1 where positive ampere-turns come out of the page, -1 where they go in; 0 for anything but a conductor.
    share
        Signed share of the winding's turns in a conductor region [-]; the shares of a winding on one side sum to 1.
    shape
        Rectangle or disc.

    Raises
    ------
    ValueError
        If a disc is not given by a square.
    """

    name: str
    role: Role
    x0: float
    y0: float
    x1: float
    y1: float
    winding: str | None = None
    coil: str | None = None
    sense: int = 0
    share: float = 1.0
    shape: Shape = Shape.RECTANGLE

    def __post_init__(self) -> None:
        """Refuse a disc that is not round."""
        if self.shape is Shape.DISC and abs((self.x1 - self.x0) - (self.y1 - self.y0)) > GRID:
            msg = f"disc {self.name!r} is {self.x1 - self.x0:g} m wide and {self.y1 - self.y0:g} m high"
            raise ValueError(msg)

    @property
    def area(self) -> float:
        """Area [m2]."""
        share = pi / 4 if self.shape is Shape.DISC else 1.0
        return share * (self.x1 - self.x0) * (self.y1 - self.y0)

    def _key(self, sign: int) -> tuple[object, ...]:
        """Return what must agree between this region and its mirror image (`sign` = -1)."""
        xs = sorted((round(sign * self.x0 / GRID), round(sign * self.x1 / GRID)))
        return (
            *xs,
            round(self.y0 / GRID),
            round(self.y1 / GRID),
            self.role.value,
            self.winding or "",
            sign * self.sense,
            round(self.share / SHARE_GRID),
            *((self.shape.value,) if self.shape is Shape.DISC else ()),
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Cut:
    """A straight line through which flux is read, from (x0, y0) to (x1, y1) [m].

    The flux per metre through it is A(start) - A(end) in the planar case; divided by `width` it is a flux density.
    """

    name: str
    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Length of the line [m]."""
        return float(((self.x1 - self.x0) ** 2 + (self.y1 - self.y0) ** 2) ** 0.5)


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """Rectangles and discs inside an outline filled with air, with the cuts to read flux through.

    Regions must not overlap; what no region covers is air. On the outline A = 0.

    Parameters
    ----------
    regions
        The rectangles and discs.
    outline
        x0, y0, x1, y1 of the air box [m].
    cuts
        Where flux is read.
    halved
        True where this is the right half of a mirror-symmetric section.
    """

    regions: tuple[Region, ...]
    outline: tuple[float, float, float, float]
    cuts: tuple[Cut, ...] = ()
    halved: bool = False

    @property
    def mirror_symmetric(self) -> bool:
        """Whether the section is its own mirror image about x = 0, with currents reversed (so A is odd and 0 there)."""
        x0, _, x1, _ = self.outline
        if self.halved or round((x0 + x1) / GRID) != 0:
            return False
        return sorted(r._key(1) for r in self.regions) == sorted(r._key(-1) for r in self.regions)

    def half(self) -> Section:
        """Return the right half; cuts are clipped to it.

        Raises
        ------
        ValueError
            If the section is not mirror symmetric, or a disc lies across the mirror line.
        """
        if not self.mirror_symmetric:
            msg = "only a mirror-symmetric section can be halved"
            raise ValueError(msg)
        for r in self.regions:
            if r.shape is Shape.DISC and r.x0 < -GRID and r.x1 > GRID:
                msg = f"disc {r.name!r} lies across the mirror line"
                raise ValueError(msg)
        regions = tuple(replace(r, x0=max(r.x0, 0.0)) for r in self.regions if r.x1 > GRID)
        _, y0, x1, y1 = self.outline
        return replace(self, regions=regions, outline=(0.0, y0, x1, y1), halved=True)

    @property
    def digest(self) -> str:
        """sha256 of the canonical coordinates, rounded to 1 nm: equal sections have equal digests in every process."""
        rows = [f"{self.halved} " + " ".join(str(round(v / GRID)) for v in self.outline)]
        rows += sorted(" ".join(map(str, (r.name, *r._key(1)))) for r in self.regions)
        rows += [f"{c.name} " + " ".join(str(round(v / GRID)) for v in (c.x0, c.y0, c.x1, c.y1)) for c in self.cuts]
        return hashlib.sha256("\n".join(rows).encode()).hexdigest()
