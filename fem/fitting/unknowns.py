"""What is unknown of a design: all that is in doubt of it, and turns that nobody counted; each in its own unit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, log
from typing import Any

import numpy as np

from fem.assumptions import assumed, assumptions
from fem.design.transformer import Design
from fem.estimation.bands import ELSEWHERE
from fem.estimation.case import Case
from fem.estimation.inputs.supply import supply_of
from fem.fitting.sampled import Counted
from fem.trust.doubt import Z90, Doubt
from fem.trust.doubts import doubts_of
from fem.trust.scored import raw_at
from geometries.windings.arrangement import Arrangement

PRIMARY, SECONDARY = "windings.primary.turns", "windings.secondary.turns"
MOST_COUNTS = 400
"""Whole numbers that are looked at; of more, those nearest to the most likely."""
_WORDS = {
    "steel.field": "steel's ampere-turns over its grade's",
    "steel.flux": "steel's flux density over its grade's",
    "loss.building": "core loss as built over strip's",
    "loss.grade": "loss of the sheet over its grade's",
    "loss.measured": "core loss over what is told",
    "loss.exponent": "exponent of loss over flux, off its grade's",
    "primary.resistance": "primary's resistance",
    "secondary.resistance": "secondary's resistance",
    "leads.resistance": "leads' resistance over computed",
    "mains.voltage": "mains voltage",
    "mains.source_impedance": "supply's resistance",
    "core.stacking_factor": "stacking factor",
    "temperature": "temperature of windings, leads",
    "joints.bolted": "each bolted joint",
    "joints.clamped": "each clamped joint",
    "joints.dirty": "each dirty joint",
    "joints.measured": "joints over measured",
    "model.leakage": "model of leakage",
    "winding.lay": "lay of turns",
    "winding.sharing": "sharing of cables",
    "winding.screening": "screening at the ends",
    "winding.strands": "strands in a cable",
    "model.idle": "model of the no-load current",
    "model.field": "model of the fields",
    "model.slice": "model of what a.c. adds to resistance",
}


def unknowns_of(design: Design, *, primary: bool, secondary: bool) -> tuple[Doubt, ...]:
    """Return what is unknown of a design as far as the circuit goes, and of its turns those that nobody counted."""
    found = [doubt for doubt in doubts_of(design) if not doubt.name.startswith(ELSEWHERE)]
    return (*_turns(design, primary, secondary), *found)


def rest_of(design: Design) -> tuple[Doubt, ...]:
    """Return what is in doubt of a design besides, which no reading at its terminals tells of."""
    return tuple(doubt for doubt in doubts_of(design) if doubt.name.startswith(ELSEWHERE))


def _turns(design: Design, primary: bool, secondary: bool) -> Iterator[Doubt]:
    row = assumed("turns not counted")
    like: Any = {"kind": row.kind, "drawn": row.drawn, "low": row.low, "typical": 1.0, "high": row.high}
    whole = Doubt(name=PRIMARY, key=PRIMARY, words="primary's turns", measure=row.measure, **like)
    if primary:
        yield whole
    if secondary:
        n = design.windings.secondary.turns
        yield replace(
            whole, name=SECONDARY, key=SECONDARY, words="secondary's turns", low=n / (n + 1), high=(n + 1) / n
        )


def counted(design: Design, place: int, doubt: Doubt, mean: float, spread: float) -> Counted:
    """Return the whole numbers of turns within six standard deviations of a score, and within those of the prior."""
    told = getattr(design.windings, doubt.key.split(".")[1]).turns
    rate = log(doubt.high) / Z90
    spread = min(max(spread, 1 / told / rate), 1.0)
    low, high = (told * np.exp(rate * float(np.clip(mean + side * 6 * spread, -4, 4))) for side in (-1, 1))
    middle, step = told * np.exp(rate * mean), MOST_COUNTS // 2
    windings, equal = design.windings, 1
    if windings.arrangement is Arrangement.INTERLEAVED:  # equal coils of whole turns
        equal = windings.sections * (2 if doubt.key.split(".")[1] == windings.ends else 1)
    least, most = max(low, middle - step, 1), max(min(high, middle + step), 1)
    numbers = np.arange(max(floor(least / equal), 1), ceil(most / equal) + 1) * equal
    return Counted(place=place, numbers=numbers, scores=np.log(numbers / told) / rate)


@dataclass(frozen=True, kw_only=True, slots=True)
class Scale:
    """An unknown in its own unit: `base` plus or times what is drawn.

    Parameters
    ----------
    words
        What it is called.
    unit
        SI; "-" where it is a pure number.
    base
        What a draw is a factor on, or a shift of; 0 where a draw is the number itself.
    factor
        Whether draws are factors.
    """

    words: str
    unit: str
    base: float
    factor: bool

    def of(self, doubt: Doubt, scores: Any) -> Any:
        """Return values (...,) [SI] at standard normal scores."""
        drawn = doubt.as_drawn(raw_at(doubt, scores))
        return self.base * drawn if self.factor else self.base + drawn


def scale_of(case: Case, doubt: Doubt) -> Scale:
    """Return how an unknown of a design is told."""
    design, name = case.design, doubt.name
    words = _WORDS.get(name, doubt.words)
    if name in (PRIMARY, SECONDARY):
        return Scale(words=words, unit="-", base=getattr(design.windings, name.split(".")[1]).turns, factor=True)
    if name.endswith(".resistance") and name.split(".")[0] in ("primary", "secondary"):
        wound = getattr(case.windings, name.split(".")[0])
        return Scale(words=words, unit="ohm", base=wound.resistance, factor=True)
    known: dict[str, tuple[str, float]] = {
        "mains.voltage": ("V", design.mains.voltage),
        "mains.source_impedance": ("ohm", float(supply_of(design.mains).resistance)),
        "core.stacking_factor": ("-", design.core.stacking_factor),
        "temperature": ("K", design.temperature),
    }
    if design.leads is not None:
        known |= {"leads.length": ("m", design.leads.length), "leads.spacing": ("m", design.leads.spacing)}
    if design.load is not None:
        known["load.resistance"] = ("ohm", design.load.resistance)
    known |= {key: ("m", float(at)) for key, at in zip(case.slopes.keys, case.slopes.values, strict=True)}
    if name in known:
        unit, base = known[name]
        return Scale(words=words, unit=unit, base=base, factor=doubt.drawn == "factor")
    unit = next((row.unit for row in assumptions().values() if row.doubt == name), "1").replace("1", "-")
    if doubt.drawn == "factor":
        return Scale(words=words, unit=unit, base=1.0 if unit == "-" else doubt.typical, factor=True)
    return Scale(words=words, unit=unit if doubt.drawn == "value" else "-", base=0.0, factor=False)
