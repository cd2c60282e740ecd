"""The estimate as JSON: sections in their own order, units in the keys, nothing that is not a number."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any

from fem.estimation.result import Estimate
from fem.quantity import plain
from fem.report.text.printable import HIDDEN

if TYPE_CHECKING:
    from fem.estimation.by_length import LengthEffect


def to_json(estimate: Estimate, lengths: Sequence[LengthEffect] = ()) -> str:
    """Return the estimate, and what lengths do, as a JSON text that ends in a newline; the same gives the same text.

    What is no finite number is null, a gap with its reason: one such result does not cost all others.
    """
    reasons: dict[str, str] = {}
    told = {"lengths": [plain(effect) for effect in lengths]} if lengths else {}
    found = finite("", estimate.to_dict() | told, reasons)
    found["reasons"] |= reasons
    found["gaps"] += [key for key in reasons if key not in found["gaps"]]
    return json_text(found)


def json_text(values: Mapping[str, Any]) -> str:
    """Return plain values as JSON, for a person to read too: characters that are not shown are escapes."""
    text = json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False)
    return HIDDEN.sub(lambda found: found[0] if found[0] == "\n" else f"\\u{ord(found[0]):04x}", text) + "\n"


def finite(key: str, value: Any, reasons: dict[str, str]) -> Any:
    """Return a value with null for what is not finite, whose reason is added."""
    if isinstance(value, Mapping):
        return {name: finite(f"{key}.{name}" if key else str(name), inner, reasons) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [finite(f"{key}.{index}", inner, reasons) for index, inner in enumerate(value)]
    if isinstance(value, float) and not isfinite(value):
        reasons[key] = f"came out as {value}, which is no result"
        return None
    return value
