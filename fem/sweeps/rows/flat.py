"""An estimate's results, or those of a block, by dotted JSON key."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import is_dataclass
from typing import Any

import numpy as np

from fem.quantity import Band, Unknown, members

LEFT_OUT = ("title", "bands", "reasons", "gaps", "cautions", "provenance")


def flat(found: Mapping[str, Any]) -> dict[str, Any]:
    """Return single numbers and texts by dotted key, lists left out; what is not known or not finite is None.

    Parameters
    ----------
    found
        Sections of an estimate, or their plain dictionaries, by key. Of a block arrays (n,) stay, an entry for each
        design.
    """
    told: dict[str, Any] = {}

    def walk(prefix: str, inner: Iterable[tuple[str, Any]]) -> None:
        for name, value in inner:
            key = f"{prefix}{name}"
            if isinstance(value, Mapping):
                walk(f"{key}.", value.items())
            elif is_dataclass(value) and not isinstance(value, Unknown):
                walk(f"{key}.", members(value))
            elif isinstance(value, np.ndarray):
                told[key] = _column(value)
            elif value is None or isinstance(value, Unknown):
                told[key] = None
            elif isinstance(value, float):
                told[key] = float(value) if math.isfinite(value) else None
            elif isinstance(value, int | str):
                told[key] = value

    walk("", ((name, value) for name, value in found.items() if name not in LEFT_OUT))
    return told


def ends(bands: Mapping[str, Band | Unknown]) -> dict[str, float | None]:
    """Return both ends of each band by its result's key, ".low" and ".high"; None where one is open or not known."""
    told: dict[str, float | None] = {}
    for key, band in bands.items():
        for end in ("low", "high"):
            value = None if isinstance(band, Unknown) else getattr(band, end)
            told[f"{key}.{end}"] = value if value is not None and math.isfinite(value) else None
    return told


def _column(values: Any) -> Any:
    """Return a column with None for what is not known or not finite; one entry where all are the same."""
    if values.dtype != object and not np.isfinite(values).all():
        values = np.where(np.isfinite(values), values.astype(object), None)
    if values.dtype == object:
        values = np.array([None if isinstance(value, Unknown) else value for value in values.tolist()], dtype=object)
    return values[0] if values.dtype == object and (values == values[0]).all() else values
