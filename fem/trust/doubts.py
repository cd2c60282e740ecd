"""What is in doubt about a design and about the models: one list, each with its distribution.

The rows stand in `fem/assumptions.csv`. What the user told with a tolerance replaces the typical doubt of that key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache, reduce
from math import isnan, log
from typing import Any

from fem.assumptions import Assumption, assumed, assumptions
from fem.design.told import tolerances
from fem.design.transformer import Design
from fem.materials.steel import steel
from fem.trust.doubt import Doubt as Doubt
from fem.trust.doubt import between as between
from geometries.assembly.by_key import given_lengths
from geometries.cores.kinds import AnyCore

STEEL, STACKING = (assumed(f"doubt of the {what}").high - 1 for what in ("steel", "stacking"))
DIMENSIONS = assumed("doubt of the dimensions").typical
"""Relative doubts of the core card: B at given H, stacking factor, flux area of callipers on punched edges."""
RECIPE = assumed("leakage recipe").typical
"""Band of the 2-D recipe for the leakage: tests/physics/test_end_region.py."""
RECIPE_COILS = assumed("leakage recipe of many coils").typical
"""The same for more than two coils or a core of two legs: the recipe's corner was fitted to two coils on shell cores
(interleaved +2.4 and +4.4 %, two-leg -3 to +1 %)."""

_GAPS = ("joint_gap", "leg_gap", "total_gap")


@cache
def neutral() -> Mapping[str, float]:
    """Return all names a draw may be asked by, with what changes nothing; "*.resistance" stands for any winding's."""
    none = {"factor": 1.0, "shift": 0.0, "place": 0.0}
    return {
        row.doubt: none.get(row.drawn, row.low if isnan(row.typical) else row.typical)
        for row in assumptions().values()
        if row.doubt
    }


def doubts_of(design: Design) -> tuple[Doubt, ...]:
    """Return all that is in doubt of a design, what usually counts most first; the names are different.

    Parameters
    ----------
    design
        What is built; its tolerances replace typical doubts, as rectangular distributions (JCGM 100:2008, 4.3.7).
    """
    found = {doubt.name: doubt for doubt in _all(design)}
    for key, within in tolerances(design).items():
        doubt = next((d for d in found.values() if d.key == key), None)
        doubt = _doubt(_ONLY_TOLD[key]) if doubt is None and key in _ONLY_TOLD else doubt
        if doubt is not None:
            found[doubt.name] = _within(doubt, within, _value(design, key))
    return tuple(found.values())


_ONLY_TOLD = {
    "mains.source_resistance": "doubt of an assumed supply",
    "mains.dip_voltage": "doubt of an assumed supply",
    "load.resistance": "doubt of a load",
}
"""Keys that are in doubt only where a tolerance is told, and the row whose doubt that is."""


def _value(design: Design, key: str) -> float:
    """Return what a tolerance of a key is a share of, if it is [SI]."""
    if key == "mains.dip_voltage":
        return design.mains.voltage - (design.mains.dip_voltage or 0.0)
    *path, last = key.split(".")
    part: Any = reduce(getattr, path, design) if last not in ("left", "right") else None
    if last == "round" and path[0] == "windings":
        # resistance goes with the square of the diameter
        return float(part.bare_width) / 2
    value = getattr(part, last, None)
    return float(value) if isinstance(value, int | float) else 0.0


def _within(doubt: Doubt, within: float, value: float) -> Doubt:
    """Return a doubt with the limits [SI] that the user told."""
    middle, low, high, drawn = 0.0, -within, within, doubt.drawn
    if drawn == "factor":
        middle, low, high = 1.0, 1 - within / value, 1 + within / value
    elif drawn == "place":
        # of a contact that was measured: its ends are those of one that is closed anew
        anew = assumed("contact closed anew")
        low, high, drawn = (
            log(1 - within / value) / log(1 / anew.low),
            log(1 + within / value) / log(anew.high),
            "value",
        )
    return replace(doubt, kind="rectangular", low=low, typical=middle, high=high, drawn=drawn, told=True)


def _all(design: Design) -> Iterator[Doubt]:
    core, leads, work = design.core, design.leads, design.work_piece
    joint = core.joint.value
    kind = joint if core.joint_told else "joint not told"
    yield _doubt("doubt of the mains")
    yield from _joints(design)
    if _gap_assumed(design):
        yield _doubt(f"{joint} joint" if core.joint_told else "gap of a joint not told")
    yield _doubt(_field_row(design))
    if work is not None:
        yield from _contacts(design)
    if design.mains.source_assumed:
        yield _doubt("doubt of an assumed supply")
    yield _doubt("doubt of the stacking" if "stacking_factor" in core.model_fields_set else "stacking factor")
    yield _doubt("doubt of the steel")
    if leads is not None and leads.has_cable:
        told = "spacing" in leads.model_fields_set
        for row in (
            "spacing of leads" if told else "spacing of leads not told",
            "doubt of the leads' resistance",
            "length of leads",
        ):
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
    if core.specific_loss is not None:
        yield _doubt("measured core loss")
    else:
        yield _doubt(f"building factor, {kind}")
        yield _doubt("loss of a sheet" if _sheet_told(core) else "loss of a sheet not told")
    gapped = getattr(core, "leg_gap", None) is not None
    yield _doubt("remanence, leg gap" if gapped else f"remanence, {kind}")
    yield from (_doubt(f"own error of {what}") for what in ("the no-load current", "the fields"))
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


def _sheet_told(core: AnyCore) -> bool:
    return core.steel is None or "steel" in core.model_fields_set


def borrows_curve(design: Design) -> bool:
    """Return whether the magnetisation curve is of another grade than the sheet's, as far as that is told."""
    return _field_row(design) == "field of a borrowed curve"


def _field_row(design: Design) -> str:
    if design.core.bh_table is not None:
        return "field of a table"
    if not _sheet_told(design.core):
        return "field of a borrowed curve"
    return "field of a named grade" if steel(design.core.steel).curve_of is None else "field of a borrowed curve"


def _contacts(design: Design) -> Iterator[Doubt]:
    work = design.work_piece
    assert work is not None
    if work.ring is not None:
        yield _doubt("loop of a wide ring")
        yield _doubt("flux inside a ring")
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
        row = "gap by feelers" if last in _GAPS else _not_told(design, key) or "length by callipers"
        if fixed and part == "core" and last in _PUNCHED:
            row = "length of a lamination"
        yield _length(row, key)


_CLEARANCES = {
    "windings.spacing": "spacing of windings not told",
    "windings.leg_clearance": "clearance to the leg not told",
    "windings.yoke_clearance": "clearance to the yoke not told",
}


def _not_told(design: Design, key: str) -> str:
    """Return the row of a length that follows from others, or is a typical one, as it was not told; empty if it was."""
    part, name = key.split(".")[:2]
    told = getattr(design, part).model_fields_set if part in ("core", "windings") else {name}
    if name in told:
        return ""
    halves = name in ("outer_leg_width", "yoke_height") and getattr(design.core, "lamination", None) is None
    return "leg or yoke not told" if part == "core" and halves else _CLEARANCES.get(key, "")


def _length(row: str, key: str) -> Doubt:
    return replace(_doubt(row), name=key, key=key, words=words_of(key), measure=f"{key}: {assumed(row).measure}")


_PUNCHED = ("leg_width", "outer_leg_width", "left", "right", "yoke_height", "window_width", "window_height")


def words_of(key: str) -> str:
    """Return a length's key in words: "core.leg_width" is "leg width", "windings.spacing" "winding spacing"."""
    part, *names = key.split(".")
    of = ["winding"] if part == "windings" and len(names) == 1 else []
    return " ".join((*of, *names)).replace("_", " ")


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
