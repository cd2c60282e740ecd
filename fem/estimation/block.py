"""Designs that differ in plain numbers alone, as one design whose numbers are columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from fem.design.load import RectifierKind
from fem.design.transformer import Design
from geometries.described.faults import Description

COLUMNS: Mapping[str, Sequence[str]] = {
    "mains": ("voltage", "source_resistance", "source_inductance", "run_length"),
    "leads": ("length", "spacing", "area", "joint_resistance"),
    "load": ("resistance",),
    "limits": ("flux_density",),
}
"""Numbers of a design, by table, that enter nothing but formulas for which a column is as good as a number.

The leads' area is a column of what is given for it, each cable looked up once.
"""


def likeness(name: str, table: Description) -> tuple[object, ...]:
    """Return what one table of two designs has in common where they may be of one block.

    All it says but its `COLUMNS`, and of these whether they are given and not 0: on that formulas do depend.
    """
    free = COLUMNS[name]
    return tuple(
        (value is not None, bool(value)) if field in free else value
        for field, value in ((field, getattr(table, field)) for field in type(table).model_fields)
    )


def block_of(like: Design, tables: Sequence[Mapping[str, Description]]) -> Design:
    """Return some designs as one.

    Parameters
    ----------
    like
        A design that says what they have in common.
    tables
        Of each the tables that may have columns, alike by `likeness`.

    Returns
    -------
    Design
        With an array (n,) for each number in which they differ. It goes into a `Case` of n members, and nowhere else.
    """
    changed: dict[str, Any] = {}
    for name, table in tables[0].items():
        columns = {}
        for field in COLUMNS[name]:
            values = [getattr(of_one[name], field) for of_one in tables]
            if any(value != values[0] for value in values):
                columns[field] = np.array(values, dtype=object if field == "area" else np.float64)
        changed[name] = table.model_copy(update=columns)
    return like.model_copy(update=changed)


def takes_block(design: Design) -> bool:
    """Return whether such designs are solved side by side: valves take one after the other."""
    return design.load is None or design.load.rectifier is RectifierKind.NONE
