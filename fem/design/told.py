"""The tolerances that a user told with numbers, and which keys take one."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

from fem.assumptions import assumptions
from geometries.assembly.by_key import CORE, OF_A_WINDING, WINDINGS
from geometries.described.faults import Description
from geometries.described.tolerances import Told, ToldText

_MORE = ("mains.dip_voltage", "load.resistance")


@cache
def takes_tolerance() -> frozenset[str]:
    """Return the dotted keys that take a tolerance: all whose doubt enters an estimate."""
    lengths = [f"core.{name}" for name in (*CORE, "leg_gap", "second.spacing")]
    lengths += [f"core.outer_leg_width.{side}" for side in ("left", "right")]
    lengths += [f"windings.{name}" for name in (*WINDINGS, "end_clearance")]
    for coil in ("primary", "secondary"):
        lengths += [f"windings.{coil}.{name}" for name in (*OF_A_WINDING, "resistance", "conductor.round")]
    lengths += [f"windings.primary.extra.{name}" for name in OF_A_WINDING]
    lengths += [f"shunt.{name}" for name in ("height", "total_gap", "bottom")]
    rows = [row.key for row in assumptions().values() if row.key and "*" not in row.key]
    return frozenset([*lengths, *rows, *_MORE])


def tolerances(design: Description) -> dict[str, float]:
    """Return half widths [SI] of what was told with a tolerance, by dotted key.

    An outer leg's width that is the same on both sides is one, as in `ByKey.keys`; else ".left" or ".right" ends it.
    """
    return dict(_told(design, ""))


def _told(value: Any, key: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, Told | ToldText):
        yield key, value.within
    elif isinstance(value, Description):
        for name in type(value).model_fields:
            yield from _told(getattr(value, name), f"{key}.{name}" if key else name)
    elif isinstance(value, tuple):
        found = [part for part in value if isinstance(part, Told)]
        if found and key.endswith("outer_leg_width"):
            same = value[0] == value[1]
            for side, part in zip(("left", "right"), value, strict=True):
                if isinstance(part, Told):
                    yield key if same else f"{key}.{side}", part.within
        else:
            yield from (item for part in value for item in _told(part, key))
