"""What is in doubt about a design and about the models: one list, each with its distribution.

The rows stand in `fem/assumptions.csv`. What the user told with a tolerance replaces the typical doubt of that key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import isnan
from statistics import NormalDist
from typing import Any, Literal

import numpy as np

from fem.assumptions import Assumption, assumed, assumptions
from fem.design.transformer import Design
from fem.materials.steel import steel
from geometries.assembly.by_key import given_lengths

MAINS, STEEL, STACKING = (assumed(f"doubt of the {what}").high - 1 for what in ("mains", "steel", "stacking"))
DIMENSIONS = assumed("doubt of the dimensions").typical
"""Relative doubts: mains voltage, B at given H, stacking factor, flux area of callipers on punched edges."""
RECIPE = assumed("leakage recipe").typical
"""Band of the 2-D recipe for the leakage: tests/physics/test_end_region.py."""
RECIPE_COILS = assumed("leakage recipe of many coils").typical
"""The same for more than two coils or a core of two legs: the recipe's corner was fitted to two coils on shell cores
(interleaved +2.4 and +4.4 %, two-leg -3 to +1 %)."""

Z90 = NormalDist().inv_cdf(0.95)
"""95 % quantile of the standard normal distribution."""
Kind = Literal["normal", "rectangular", "triangular", "lognormal", "log-uniform"]
Drawn = Literal["factor", "shift", "value", "place"]
_GAPS = ("joint_gap", "leg_gap", "total_gap")


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """One number that is in doubt.

    Parameters
    ----------
    name
        What `Draws` are asked by: a length's is its dotted key, "core.leg_width".
    kind
        "normal", "lognormal": `low` and `high` are the 5 % and 95 % quantiles of two halves, each with a spread of its
        own, that meet at `typical`, the median. "rectangular", "triangular" (with its peak at `typical`),
        "log-uniform": `low` and `high` are the ends.
    low, typical, high
        [SI]; `typical` is what the estimate is made with.
    drawn
        What a draw is: a "factor" on the typical value, a "shift" of it [SI], the "value" itself, or a "place": from -1
        at a low end over 0 where the estimate is to 1 at a high end, ends that others compute (`between`).
    key
        Dotted key of a job whose tolerance replaces this doubt; empty where there is none.
    words
        Short, for "driven by"; doubts of the same words are told as one.
    measure
        What narrows it most, a sentence; empty where nothing does.
    told
        Whether its limits are the user's own.
    """

    name: str
    kind: Kind
    low: float
    typical: float
    high: float
    drawn: Drawn
    key: str = ""
    words: str
    measure: str = ""
    told: bool = False

    def quantile(self, share: Any, scores: Any = None) -> Any:
        """Return draws at shares of the distribution.

        Parameters
        ----------
        share
            (...,) in (0, 1).
        scores
            The standard normal distribution's quantiles there, where they are known already.
        """
        return self.as_drawn(self.raw(np.asarray(share), scores))

    def raw(self, share: Any, scores: Any = None) -> Any:
        """Return the quantity itself [SI] at shares of the distribution; as `quantile`."""
        low, typical, high = self.low, self.typical, self.high
        if self.kind == "rectangular":
            return low + (high - low) * share
        if self.kind == "log-uniform":
            return low * (high / low) ** share
        if self.kind == "triangular":
            peak = (typical - low) / (high - low)
            rising = low + np.sqrt(share * (high - low) * (typical - low))
            falling = high - np.sqrt((1 - share) * (high - low) * (high - typical))
            return np.where(share < peak, rising, falling)
        z = normal_scores(share) if scores is None else scores
        if self.kind == "normal":
            return typical + z / Z90 * np.where(z < 0, typical - low, high - typical)
        return typical * np.where(z < 0, typical / low, high / typical) ** (z / Z90)

    def as_drawn(self, raw: Any) -> Any:
        """Return a quantity [SI] as factor, shift, value or place."""
        if self.drawn == "factor":
            return raw / self.typical
        if self.drawn == "shift":
            return raw - self.typical
        if self.drawn == "value":
            return raw
        off = raw - self.typical
        below, above = (max(width, 1e-300) for width in (self.typical - self.low, self.high - self.typical))
        return np.where(off < 0, off / below, off / above)


def normal_scores(share: Any) -> Any:
    """Return the standard normal distribution's quantiles at shares (...,)."""
    inverse = NormalDist().inv_cdf
    return np.array([inverse(float(s)) for s in np.ravel(share)]).reshape(np.shape(share))


def between(place: Any, low: Any, typical: Any, high: Any) -> Any:
    """Return the number at a place: `low` at -1, `typical` at 0, `high` at 1, even beyond.

    By powers where all are above 0, so that nothing falls below it, else straight.
    """
    if np.all(np.asarray(low) > 0) and np.all(np.asarray(typical) > 0):
        return typical * np.where(place < 0, np.divide(typical, low), np.divide(high, typical)) ** place
    return typical + place * np.where(place < 0, np.subtract(typical, low), np.subtract(high, typical))


@cache
def neutral() -> Mapping[str, float]:
    """Return all names a draw may be asked by, with what changes nothing; "*.resistance" stands for any winding's."""
    none = {"factor": 1.0, "shift": 0.0, "place": 0.0}
    return {row.doubt: none.get(row.drawn, row.low) for row in assumptions().values() if row.doubt}


def doubts_of(design: Design) -> tuple[Doubt, ...]:
    """Return all that is in doubt of a design, what usually counts most first; the names are different.

    Parameters
    ----------
    design
        What is built; its tolerances replace typical doubts.
    """
    return tuple(_all(design))


def _all(design: Design) -> Iterator[Doubt]:
    core, leads, work = design.core, design.leads, design.work_piece
    joint = core.joint.value
    yield _doubt("doubt of the mains")
    yield from _joints(design)
    if _gap_assumed(design):
        yield _doubt(f"{joint} joint")
    yield _doubt(_field_row(design))
    if work is not None:
        yield from _contacts(design)
    if design.mains.source_assumed:
        yield _doubt("doubt of an assumed supply")
    yield _doubt("doubt of the stacking" if "stacking_factor" in core.model_fields_set else "stacking factor")
    yield _doubt("doubt of the steel")
    if leads is not None and leads.has_cable:
        for row in ("spacing of leads", "doubt of the leads' resistance", "length of leads"):
            yield _doubt(row)
    for name in ("primary", "secondary"):
        measured = getattr(design.windings, name).resistance is not None
        row = "doubt of a measured resistance" if measured else "doubt of a winding's resistance"
        key = f"windings.{name}.resistance" if measured else f"windings.{name}.conductor.round"
        yield replace(_doubt(row), name=f"{name}.resistance", key=key)
    yield _doubt("doubt of the temperature")
    yield _doubt("own error of the leakage")
    yield _doubt("lay of turns")
    yield _doubt("strands in a cable")
    yield _doubt("sharing of cables")
    yield _doubt("screening at the ends")
    yield _doubt(f"building factor, {joint}")
    yield _doubt("loss of a sheet")
    gapped = getattr(core, "leg_gap", None) is not None
    yield _doubt("remanence, leg gap" if gapped else f"remanence, {joint}")
    yield from (_doubt(f"own error of {what}") for what in ("the idle current", "the fields"))
    yield _doubt("own error of what a.c. adds to resistance")
    if work is not None:
        yield from _work(design)
    yield from map(_doubt, ("winding to core", "winding to winding", "convection", "emissivity of varnish"))
    yield from map(
        _doubt, ("emissivity of lugs", "conductivity of a jacket", "ambient", "own error of the machine's heat")
    )
    yield from map(_doubt, ("mass of joints", "cable that weighs as much as a lug", "mass of a clamp"))
    yield from _lengths(design)


def _gap_assumed(design: Design) -> bool:
    low, high = design.core.joint_gap_band
    return low < high


def _joints(design: Design) -> Iterator[Doubt]:
    # one hand, one kind of lug and bolt: what is not known of one is not known of all of a kind
    yield from (_doubt(f"{kind} joint") for kind in ("bolted", "clamped", "dirty"))
    if design.leads is not None and design.leads.joint_resistance is not None:
        yield _doubt("doubt of measured joints")


def _field_row(design: Design) -> str:
    if design.core.steel is None:
        return "field of a table"
    return "field of a named grade" if steel(design.core.steel).curve_of is None else "field of a borrowed curve"


def _contacts(design: Design) -> Iterator[Doubt]:
    work = design.work_piece
    assert work is not None
    if work.ring is not None:
        yield _doubt("loop of a wide ring")
    elif work.carbons is not None:
        yield _doubt("drop of carbons")
    else:
        yield _doubt("contact closed anew")
        yield _doubt("heat through pressed faces")
    if work.joint is not None:
        yield _doubt("contact of a lap")


def _work(design: Design) -> Iterator[Doubt]:
    for what in ("resistivity", "heat capacity", "heat conduction", "emissivity", "thickness"):
        yield _doubt(f"{what} of the work")
    if design.work_piece is not None and design.work_piece.ring is None:
        yield from map(_doubt, ("length of the work", "heat capacity of a jaw", "sink of a jaw"))
    yield _doubt("own error of contacts")


def _lengths(design: Design) -> Iterator[Doubt]:
    windings = design.windings
    for key in [f"windings.{name}.{side}" for name in ("primary", "secondary") for side in ("height", "build")]:
        if getattr(getattr(windings, key.split(".")[1]), key.split(".")[2]) is None:
            yield _length("size of a winding", key)
    fixed = getattr(design.core, "lamination", None) is not None
    for key in given_lengths(design.core, design.windings, design.fitted_shunt):
        part, *_, last = key.split(".")
        if key == "core.joint_gap" and _gap_assumed(design):
            continue
        row = "gap by feelers" if last in _GAPS else "length by callipers"
        if fixed and part == "core" and last in _PUNCHED:
            row = "length of a lamination"
        yield _length(row, key)


def _length(row: str, key: str) -> Doubt:
    return replace(_doubt(row), name=key, key=key, words=words_of(key), measure=f"{key}: {assumed(row).measure}")


_PUNCHED = ("leg_width", "outer_leg_width", "left", "right", "yoke_height", "window_width", "window_height")


def words_of(key: str) -> str:
    """Return a length's key in words: "windings.primary.height" is "primary height", "core.leg_width" "leg width"."""
    _, *names = key.split(".")
    return " ".join(names).replace("_", " ")


@cache
def _doubt(name: str) -> Doubt:
    row: Assumption = assumed(name)
    kind, drawn = row.kind, row.drawn
    typical = (row.low + row.high) / 2 if isnan(row.typical) else row.typical
    return Doubt(
        name=row.doubt,
        kind=kind,  # type: ignore[arg-type]
        low=row.low,
        typical=typical,
        high=row.high,
        drawn=drawn,  # type: ignore[arg-type]
        key=row.key,
        words=row.words,
        measure=row.measure,
    )
