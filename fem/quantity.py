"""How results are declared: the unit in a field's metadata becomes its JSON key's suffix and what tables print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

SUFFIX = {
    "-": "",
    "V": "_V",
    "A": "_A",
    "W": "_W",
    "VA": "_VA",
    "T": "_T",
    "H": "_H",
    "ohm": "_ohm",
    "m": "_m",
    "m2": "_m2",
    "kg": "_kg",
    "K": "_K",
    "J": "_J",
    "s": "_s",
    "A/m2": "_A_per_m2",
    "A2s": "_A2s",
    "Hz": "_Hz",
    "N": "_N",
    "N/m": "_N_per_m",
    "": "",
}
"""Unit to JSON suffix; "-" is a pure number, "" is text or a nested section."""


def of(unit: str, meaning: str) -> Any:
    """Declare a result: its SI unit and what it means, in words for a person at the bench."""
    return field(metadata={"unit": unit, "meaning": meaning})


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """Between which values a result may well lie, and why."""

    low: float
    high: float
    why: str


def plain(value: Any) -> Any:
    """Return results as plain nested dictionaries and lists, with units in the keys."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name + SUFFIX[f.metadata.get("unit", "")]: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [plain(v) for v in value]
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    return value
