"""The numbers of heat networks side by side: of each member conductances, masses, losses and cooling of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Self

import numpy as np

from fem.arrays import Floats, Integers, Number
from fem.cubics import Cubics

CELL = 2.0
RISES = CELL * np.arange(-50.0, 336.0)
"""Where cooling is tabulated, over ambient [K]: 0 is a point, so that nothing flows there."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lumps:
    """Hold what changes temperatures, of one network or of a block: shapes (..., nodes), where ... is nothing or (m,).

    Parameters
    ----------
    parts
        (nodes,) what each is told as.
    limits, once
        (nodes,) mean temperatures of repeated work, and of a single fault [K]; infinite where nothing limits.
    ambient
        (..., 1) [K].
    capacity
        (..., nodes) [J/K].
    laplacian
        (..., nodes, nodes) of the links [W/K].
    root, joined
        Roots of the capacities (..., nodes), and -laplacian over those of both nodes (..., nodes, nodes) [1/s].
    copper
        (6, ..., nodes) the primary's and the secondary's resistances, coefficient, reference, a.c. share, share of the
        core loss: `Network`.
    table, place
        (rows, 4) cubics of the heat that leaves a node, and (..., nodes) each one's first row.
    """

    parts: tuple[str, ...]
    limits: Floats
    once: Floats
    ambient: Floats
    capacity: Floats
    laplacian: Floats
    root: Floats
    joined: Floats
    copper: Floats
    table: Floats
    place: Integers

    @property
    def members(self) -> int:
        """How many there are side by side; of one network 1."""
        return len(self.capacity) if self.capacity.ndim > 1 else 1

    @property
    def block(self) -> Self:
        """The same with a leading axis, one network as a block of one."""
        if self.capacity.ndim > 1:
            return self
        rows: dict[str, Any] = {name: getattr(self, name)[None] for name in _OF_MEMBERS}
        return replace(self, copper=self.copper[:, None], **rows)

    def take(self, members: Any) -> Self:
        """Return some members of a block by their places, or by a mask."""
        rows: dict[str, Any] = {name: getattr(self, name)[members] for name in _OF_MEMBERS}
        return replace(self, copper=self.copper[:, members], **rows)

    @property
    def closed(self) -> Self:
        """The same with no heat escaping."""
        return replace(self, table=np.zeros((len(RISES), 4)), place=np.zeros_like(self.place))

    def at_ambient(self) -> Floats:
        """Return all nodes at ambient temperature, (..., nodes) [K]."""
        return np.broadcast_to(self.ambient, self.capacity.shape).copy()

    def losses(self, flow: Floats, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat made in each node and its slope, (..., nodes) each [W], [W/K].

        Parameters
        ----------
        flow
            (3, ..., 1) squares of both currents [A^2], core loss [W].
        temperatures
            (..., nodes) [K].
        """
        primary, secondary, *_, share = self.copper
        cold = primary * flow[0] + secondary * flow[1]
        factor, slope = self.factors(temperatures)
        return cold * factor + share * flow[2], cold * slope

    def factors(self, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the a.c. resistance over the d.c. one at T0, and its slope: (..., nodes) each [-], [1/K]."""
        _, _, alpha, reference, extra, _ = self.copper
        factor = np.maximum(1 + alpha * (temperatures - reference), 0.1)
        eddies = extra / factor
        return factor + eddies, alpha * (1 - eddies / factor)

    def cooling(self, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat that leaves each node for the surroundings and its slope, (..., nodes) each [W], [W/K]."""
        rise = temperatures - self.ambient
        inside = np.minimum(np.maximum(rise, RISES[0]), RISES[-1])
        along = (inside - RISES[0]) / CELL
        cell = np.minimum(along.astype(np.intp), len(RISES) - 2)
        cubic = self.table.take(self.place + cell, axis=0)
        a, b, c, d = cubic[..., 0], cubic[..., 1], cubic[..., 2], cubic[..., 3]
        x = CELL * (along - cell)
        slope = (3 * a * x + 2 * b) * x + c
        return ((a * x + b) * x + c) * x + d + slope * (rise - inside), slope

    def through(self, temperatures: Floats) -> Floats:
        """Return the heat that leaves each node by its links, (..., nodes) [W]."""
        return times(self.laplacian, temperatures)


_OF_MEMBERS = ("ambient", "capacity", "laplacian", "root", "joined", "place")


def times(matrix: Floats, vector: Floats) -> Floats:
    """Return matrices (..., n, k) times vectors (..., k)."""
    return np.asarray(np.matmul(matrix, vector[..., None])[..., 0])


def side_by_side(blocks: Sequence[Lumps]) -> Lumps:
    """Return blocks of like networks as one, the members of each after those of the one before."""
    ends = np.cumsum([0, *(len(block.table) for block in blocks)])
    rows: dict[str, Any] = {name: np.concatenate([getattr(b, name) for b in blocks]) for name in _OF_MEMBERS}
    rows["place"] = np.concatenate([b.place + end for b, end in zip(blocks, ends, strict=False)])
    copper, table = np.concatenate([b.copper for b in blocks], axis=1), np.concatenate([b.table for b in blocks])
    return replace(blocks[0], copper=copper, table=table, **rows)


def rows(values: Sequence[Number], members: tuple[int, ...]) -> Floats:
    """Return numbers of nodes, each one or (m,), as (..., nodes)."""
    return np.stack([np.broadcast_to(np.asarray(v, dtype=np.float64), members) for v in values], axis=-1)


def table(curves: Sequence[Floats], members: tuple[int, ...]) -> tuple[Floats, Integers]:
    """Return cubics through curves (rises, 1) or (rises, m), and where those of each node begin (..., nodes)."""
    found: list[Floats] = []
    place = np.zeros((*members, len(curves)), dtype=np.intp)
    length = len(RISES) - 1
    for node, curve in enumerate(curves):
        cubics = np.moveaxis(Cubics.monotone(RISES, curve).c, 0, -1).swapaxes(0, 1)
        begins = length * (len(found) + np.arange(len(cubics)))
        place[..., node] = begins if len(begins) > 1 else begins[0]
        found.extend(cubics)
    # rows together in memory: they are picked by the thousand
    return np.ascontiguousarray(np.concatenate(found)), place
