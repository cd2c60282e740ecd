"""Two points of the temperature scale, and conversion of any unit by pint, imported when a rarer one is first met."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any, NamedTuple

_NAME = r"[A-Za-zµΩΔ°_]{1,30}(?:\*\*-?[1-3])?"
_UNIT = re.compile(rf"{_NAME}(?:[ ]?[ */][ ]?{_NAME}){{0,5}}|%")
"""Names with small powers, multiplied or divided: all that is needed, and nothing pint would evaluate at length."""


ZERO_CELSIUS = 273.15
"""0 degC [K], by definition of the degree Celsius."""
REFERENCE_TEMPERATURE = 293.15
"""20 degC [K], at which resistances are stated: IEC 60028."""


class Converted(NamedTuple):
    """A value [SI] and the full names of the units it was written in."""

    value: float
    names: str


def to_si(number: float, unit: str, si_unit: str) -> Converted | None:
    """Convert a number with a unit to the SI unit, or return None if the unit is unknown or of another dimension."""
    if _UNIT.fullmatch(unit) is None:
        return None
    registry, pint = _registry()
    try:
        parsed = registry.parse_units(unit)
        value = float(registry.Quantity(number, parsed).to(si_unit or "dimensionless").magnitude)
    except (pint.errors.PintError, AttributeError, ValueError, OverflowError):
        # AttributeError, ValueError: what pint raises for an unknown name and for a unit it refuses to combine.
        return None
    return Converted(value, str(parsed))


@lru_cache(maxsize=1)
def _registry() -> tuple[Any, Any]:
    """Return pint's registry and pint.

    Nothing of it is kept on disk: what pint would keep is pickled, and that runs when it is read.
    """
    import pint

    return pint.UnitRegistry(), pint
