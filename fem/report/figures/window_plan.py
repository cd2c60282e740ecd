"""What lies in the window, in mm from its corner, and the chains of lengths that tell it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from fem.estimation.pictures import Pictures
from fem.report.figures.dimensions import Length
from fem.report.figures.section import millimetres
from geometries.shapes.frame import side_edges
from geometries.shapes.section import GRID, Role
from geometries.windings.coils import Coil, coils_of
from geometries.windings.lays import Layers, lay

MOST_LENGTHS = 17
"""Lengths of an upright chain that are all told in words; of more the first and the last few are."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Lying:
    """One coil as it lies in the window that is drawn, all in mm from its left edge and its lower edge."""

    coil: Coil
    laid: Layers
    x0: float
    x1: float
    y0: float
    y1: float
    mirrored: bool

    @property
    def kind(self) -> str:
        """Its winding, or that it is of extra turns."""
        return "extra" if self.coil.block.coil == "extra" else self.coil.block.winding

    def x(self, inside: float) -> float:
        """Return where something lies so far outside of the innermost turn [m]."""
        return self.x1 - 1e3 * inside if self.mirrored else self.x0 + 1e3 * inside


def size_of(pictures: Pictures) -> tuple[float, float]:
    """Return width and height of the window to the right of the primary's leg [mm]; all others are like it."""
    x0, x1 = next(w for w in pictures.core.frame.windows if abs(w[0] - pictures.core.frame.wound_leg.x1) < GRID)
    return 1e3 * (x1 - x0), 1e3 * pictures.core.window_height


def leg_names(pictures: Pictures) -> tuple[str, str]:
    """Return what stands left and right of the window."""
    legs = pictures.core.frame.legs
    place = legs.index(pictures.core.frame.wound_leg)
    return legs[place].name, "other leg" if len(legs) == 2 else "outer leg"


def bars(pictures: Pictures) -> list[Any]:
    """Return the shunts' regions in that window."""
    x0 = pictures.core.frame.wound_leg.x1
    return [region for region in pictures.section.regions if region.role is Role.SHUNT and region.x0 > x0]


def lying_coils(pictures: Pictures) -> list[Lying]:
    """Return the coils as they lie in that window."""
    frame = pictures.core.frame
    origin = frame.wound_leg.x1
    found = []
    for coil in coils_of(pictures.windings, pictures.blocks):
        block = coil.block
        mirrored = abs(block.leg_axis - frame.wound_leg.axis) > GRID
        x0, x1 = side_edges(frame, block, -1 if mirrored else 1)
        edges = {"x0": x0 - origin, "x1": x1 - origin, "y0": block.bottom, "y1": block.top}
        laid = lay(replace(coil, height=block.height), block.build)
        found.append(Lying(coil=coil, laid=laid, mirrored=mirrored, **{k: 1e3 * v for k, v in edges.items()}))
    return found


def has_ring(pictures: Pictures) -> bool:
    """Return whether the secondary is a ring round the leg."""
    return pictures.work is not None and pictures.work.ring is not None


def called(pictures: Pictures, one: Lying) -> str:
    """Return what a coil is called."""
    if one.kind == "secondary" and has_ring(pictures):
        return "ring"
    return "extra turns" if one.kind == "extra" else one.kind


def upright_chains(pictures: Pictures) -> list[list[Length]]:
    """Return the chains along the leg: one of all where coils follow each other, else one for each kind of coil."""
    coils, shunts = lying_coils(pictures), bars(pictures)
    parts = [(one.y0, one.y1, called(pictures, one)) for one in coils]
    parts += [(1e3 * bar.y0, 1e3 * bar.y1, "shunt") for bar in shunts]
    parts.sort(key=lambda part: part[:2])
    if all(a[1] <= b[0] + 1e-6 for a, b in pairwise(parts)):
        return [_told(_lengths_along(pictures, parts))]
    alike: dict[tuple[tuple[float, float], ...], list[str]] = {}
    for name in dict.fromkeys(name for *_, name in sorted(parts, key=lambda part: part[0] - part[1])):
        edges = tuple((round(y0, 3), round(y1, 3)) for y0, y1, whose in parts if whose == name)
        alike.setdefault(edges, []).append(name)
    return [
        _told(_lengths_along(pictures, [(*ends, " and\n".join(names)) for ends in edges]))
        for edges, names in alike.items()
    ]


def _told(lengths: list[Length]) -> list[Length]:
    if len(lengths) <= MOST_LENGTHS:
        return lengths
    ends = (*range(5), *range(len(lengths) - 5, len(lengths)))
    return [one if number in ends else replace(one, words="") for number, one in enumerate(lengths)]


def _lengths_along(pictures: Pictures, parts: Sequence[tuple[float, float, str]]) -> list[Length]:
    windings = pictures.windings
    height = 1e3 * pictures.core.window_height
    edges = [(0.0, 0.0, "yoke"), *parts, (height, height, "yoke")]
    found = []
    for (_, top, name), (bottom, upper, after) in pairwise(edges):
        kinds = {name, after}
        asked, what = (windings.yoke_clearance, "clearance") if "yoke" in kinds else (windings.spacing, "spacing")
        if "shunt" in kinds:
            asked, what = 0.0, "to the shunt"
        if bottom - top > 1e-3:
            found.append(Length(start=top, end=bottom, words=_room(bottom - top, 1e3 * asked, what)))
        if after != "yoke":
            found.append(Length(start=bottom, end=upper, words=f"{mm(upper - bottom)} {after}"))
    return found


def _room(there: float, asked: float, what: str) -> str:
    """Say what a space is: what is asked for, and what is to spare."""
    spare = there - asked
    if abs(spare) < 0.05 or not asked:
        return f"{mm(there)} {what}"
    if spare < 0:
        return f"{mm(there)} {what}, {mm(asked)} asked"
    return f"{mm(there)} = {what} {mm(asked)}\n+ {mm(spare)} to spare"


def chains_across(pictures: Pictures) -> list[list[Length]]:
    """Return the chains across the window, the lowest coils' first; coils beside each other share one."""
    width, _ = size_of(pictures)
    coils = lying_coils(pictures)
    kinds = list(dict.fromkeys(one.kind for one in coils))
    tallest = {kind: max((one for one in coils if one.kind == kind), key=lambda one: one.x1 - one.x0) for kind in kinds}
    rows: list[list[Lying]] = []
    for one in sorted(tallest.values(), key=lambda one: max(c.y1 for c in coils if c.kind == one.kind)):
        beside = [row for row in rows if any(one.y0 < other.y1 and other.y0 < one.y1 for other in row)]
        rows = [row for row in rows if row not in beside] + [[one, *(c for row in beside for c in row)]]
    chains = []
    for row in rows:
        row.sort(key=lambda one: one.x0)
        far = any(one.mirrored for one in row)
        lengths, at = [], 0.0
        for number, one in enumerate(row):
            if one.x0 - at > 1e-3:
                what = "apart" if number else "clearance"
                lengths.append(Length(start=at, end=one.x0, words=f"{mm(one.x0 - at)}\n{what}"))
            name = "extra" if one.kind == "extra" else called(pictures, one)
            lengths.append(Length(start=one.x0, end=one.x1, words=f"{mm(one.x1 - one.x0)}\n{name}"))
            at = one.x1
        if width - at > 1e-3:
            last = "clearance" if far else "to spare"
            lengths.append(Length(start=at, end=width, words=f"{mm(width - at)}\n{last}"))
        chains.append(lengths)
    return chains


def numbers(one: Lying, turns_before: int) -> Iterator[str]:
    """Yield the turn of each conductor, with a letter where several are in hand."""
    hand = one.coil.wires_in_hand
    for number in range(one.coil.conductors):
        letter = "" if hand == 1 else "abcdefghijklmnopqrstuvwxyz"[number % hand] if hand <= 26 else ""
        yield f"{turns_before + number // hand + 1}{letter}"


def mm(length: float) -> str:
    """Write a length [mm] as on a drawing."""
    return millimetres(1e-3 * length)
