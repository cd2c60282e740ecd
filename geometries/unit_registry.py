"""Conversion of any unit by pint, which is imported when a unit outside the commonest is first met."""

from __future__ import annotations

import os
import pickle
import re
import shutil
import sys
import tempfile
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

_NAME = r"[A-Za-zµΩΔ°_]{1,30}(?:\*\*-?[1-3])?"
_UNIT = re.compile(rf"{_NAME}(?:[ ]?[ */][ ]?{_NAME}){{0,5}}|%")
"""Names with small powers, multiplied or divided: all that is needed, and nothing pint would evaluate at length."""


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


def cache_folder(version: str) -> Path | None:
    """Return where pint's parsed definitions are kept in the user's cache; None where it cannot be written.

    Parameters
    ----------
    version
        Version of pint; each has its own folder.
    """
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA", "")
    else:
        mac = sys.platform == "darwin"
        home = os.environ.get("HOME", "")
        base = os.environ.get("XDG_CACHE_HOME") or (home and f"{home}/{'Library/Caches' if mac else '.cache'}")
    if not base or not Path(base).is_absolute():
        return None
    parent = Path(base) / "rewound"
    try:
        parent.mkdir(parents=True, exist_ok=True)
    except OSError:
        return None
    return parent / f"units-{version}" if os.access(parent, os.W_OK | os.X_OK) else None


@lru_cache(maxsize=1)
def _registry() -> tuple[Any, Any]:
    """Return pint's registry and pint."""
    import pint

    folder = cache_folder(pint.__version__)
    if folder is None:
        return pint.UnitRegistry(), pint
    try:
        if folder.is_dir():
            return pint.UnitRegistry(cache_folder=folder), pint
        # Filled aside and renamed: several processes may start at once, and none may read what another is writing.
        aside = Path(tempfile.mkdtemp(dir=folder.parent))
        try:
            registry: Any = pint.UnitRegistry(cache_folder=aside)
            if not folder.exists():
                aside.rename(folder)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    except (OSError, EOFError, pickle.UnpicklingError):
        # A full disk, a damaged file or a race lost: only the time saved is lost.
        return pint.UnitRegistry(), pint
    return registry, pint
