"""The estimate as JSON: sections in their own order, units in the keys, nothing that is not a number."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from math import isfinite
from typing import Any

from fem.study.results import Estimate


def to_json(estimate: Estimate) -> str:
    """Return the estimate as a JSON text that ends in a newline; the same estimate gives the same text.

    Raises
    ------
    ValueError
        If a result is not finite: the message names its key.
    """
    found = estimate.to_dict()
    for key, value in _numbers("", found):
        if not isfinite(value):
            msg = f"{key} is {value}: not a result"
            raise ValueError(msg)
    return json.dumps(found, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _numbers(key: str, value: Any) -> Iterator[tuple[str, float]]:
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _numbers(f"{key}.{name}" if key else str(name), inner)
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from _numbers(f"{key}.{index}", inner)
    elif isinstance(value, float):
        yield key, value
