"""The steel's own magnetisation curve, from no-load readings at several volts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.materials.bh import BHCurve
from fem.materials.user_table import HEADER, WITHIN
from fem.quantity import of
from fem.readings.described import NoLoad
from fem.readings.reading import Reading
from fem.trust.doubt import Doubt
from fem.trust.doubts import borrows_curve
from fem.trust.draws import DRAWS, Draws, draws
from fem.trust.steel_curve import FIELD, density_over_table, exponent_of_loss, field_over_table, in_place_of_a_factor

APART = 1.1
"""Ratio of volts from which two no-load points tell of the curve's shape."""
LEAST = 2
"""Points of which a curve is made: one tells one factor."""
_KNEE = 1.2
AT = np.concatenate((np.arange(0.1, _KNEE, 0.1), np.arange(_KNEE, 2.0, 0.05)))
"""Flux densities of a curve's points [T]."""
DECIDED = 0.5
"""What must be left of the doubt somewhere along a curve for it to stand in a job in place of a grade."""
_DRAWS = 2 * DRAWS


@dataclass(frozen=True, kw_only=True, slots=True)
class SteelPoint:
    """One point of the steel's magnetisation curve, as readings leave it."""

    flux_density: float = of("T", "flux density")
    field: float = of("A/m", "field strength, median")
    low: float = of("A/m", "5 % quantile")
    high: float = of("A/m", "95 % quantile")
    before: float = of("A/m", "of the grade that the job names")
    left: float = of("-", "what is left of the spread of its logarithm that was in doubt")


def points(readings: Sequence[Reading], mains: float, quantity: str) -> int:
    """Return at how many volts that lie apart a no-load quantity was read; a test without has the mains' [V]."""
    tests = [r.test for r in readings if isinstance(r.test, NoLoad) and r.quantity == quantity]
    count, last = 0, 0.0
    for volts in sorted(test.primary_voltage or mains for test in tests if test.lamp is None):
        if volts >= APART * last:
            count, last = count + 1, volts
    return count


def with_curve(doubts: Sequence[Doubt], readings: Sequence[Reading], design: Design) -> tuple[Doubt, ...]:
    """Return doubts with the steel's curve in place of one factor, and with its loss' exponent, where readings tell."""
    found, mains = tuple(doubts), design.mains.voltage
    if points(readings, mains, "current") >= LEAST:
        found = in_place_of_a_factor(found, borrowed=borrows_curve(design))
    return (*found, exponent_of_loss()) if points(readings, mains, "power") >= LEAST else found


def is_of_curve(doubt: str) -> bool:
    """Return whether a doubt is one of those that tell the steel's curve together."""
    return doubt.startswith(f"{FIELD}.")


def steel_curve(case: Case, known: Draws) -> tuple[SteelPoint, ...]:
    """Return the steel's curve as draws have it: one that takes its own course, or the table's times one factor."""
    grade = case.sheet.curve
    at = AT[grade.B[1] * 1.1 < AT]
    at = at[at < 0.97 * grade.B[-1]]
    before, after = (_curves(grade, some, at) for some in (draws(known.doubts, _DRAWS), known.first(_DRAWS)))
    left = after.std(axis=0) / before.std(axis=0)
    low, middle, high = np.exp(np.quantile(after, (0.05, 0.5, 0.95), axis=0))
    rows = zip(at, middle, low, high, grade.field_strength(at), left, strict=True)
    return tuple(SteelPoint(**dict(zip(SteelPoint.__dataclass_fields__, map(float, row), strict=True))) for row in rows)


def _curves(grade: BHCurve, known: Draws, at: Floats) -> Floats:
    """Return the logarithm of the field strength at flux densities (b,), (n, b), as the members' fields have it."""
    fields = np.log(grade.H[1:] * field_over_table(known, grade).reshape(len(known), -1))
    rows = zip(np.outer(density_over_table(known, grade), grade.B[1:]), fields, strict=True)
    return np.array([np.interp(at, B, log_H) for B, log_H in rows])


def steel_table(found: Sequence[SteelPoint]) -> str | None:
    """Return a curve as the file that a job's `bh_table` names; None where readings tell too little of it."""
    if not found or min(point.left for point in found) > DECIDED:
        return None
    lines = ["# By rewound fit: no-load readings, joints and end part taken off. H_within holds nine times out of ten."]
    lines += [",".join((*HEADER, WITHIN)), "0,0,0"]
    H = B = 0.0
    for p in found:
        # medians of neighbouring points may fall where a curve is nearly upright
        if p.field > 1.001 * H and p.flux_density - B > 1.1 * MU0 * (p.field - H):
            H, B = p.field, p.flux_density
            lines.append(f"{H:.4g},{B:.4g},{(p.high / p.low) ** 0.5 - 1:.3f}")
    return "\n".join(lines) + "\n"
