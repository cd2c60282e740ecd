"""What is wanted of a new secondary, and how near to it a design comes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, inf, log

from fem.design.duty import Duty
from fem.design.transformer import Design
from fem.design.wish import Wish
from fem.digits import brief
from fem.mains.forecasts import Behaviour
from fem.options.outcome import Outcome
from fem.quantity import Unknown

STEP, ENOUGH = 0.05, 0.5
"""Steps in which margins count where designs are compared, and beyond which more counts for nothing [-]. Ours: the
mains alone move a current by a tenth, so less copper is worth more than a few per cent."""
USUAL_REST = 60.0
"""Between bursts where no duty is described [s]; the shortest period does not depend on it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Aim:
    """One thing that is wanted.

    Parameters
    ----------
    word
        What it is called.
    key
        Attribute of an `Outcome` that has it.
    wanted
        At least or at most [SI].
    unit
        Its unit.
    least
        Whether it is wanted at least.
    told
        By which table of the job it is wanted.
    """

    word: str
    key: str
    wanted: float
    unit: str
    least: bool
    told: str

    def margin(self, found: Outcome) -> float:
        """Return by what share of what is wanted it is better [-]: negative where it is missed, inf without a limit."""
        value = getattr(found, self.key)
        if self.key == "breaker_earliest":
            holds = found.breaker == Behaviour.HOLDS.value
            by_time = inf if isinstance(value, Unknown) else value / self.wanted - 1
            return max(by_time, 0.0) if holds else min(by_time, 0.0) - 1e-3 if by_time < inf else -1.0
        if isinstance(value, Unknown):
            return inf if self.key == "longest_burst" and not value.gap else -1.0
        return float(value / self.wanted if self.least else self.wanted / value) - 1

    def said(self) -> str:
        """Say what is wanted."""
        if self.key == "breaker_earliest":
            return f"breaker holds {'for good' if self.wanted == inf else f'{brief(self.wanted)} s'}"
        return f"{self.word} at {'least' if self.least else 'most'} {brief(self.wanted)} {self.unit}"

    def missed(self, found: Outcome) -> str:
        """Say what is there in place of what is wanted."""
        value = getattr(found, self.key)
        if self.key == "breaker_earliest":
            return f"breaker {found.breaker or 'not known'}"
        there = value.reason if isinstance(value, Unknown) else f"{brief(value, 4)} {self.unit}"
        return f"{self.word} {there}, {brief(self.wanted, 4)} {self.unit} wanted"


def asked(design: Design) -> Design:
    """Return the design as the wish asks for it: with its breaker, its bursts as long as wanted, and a duty."""
    wish, update = design.wish or Wish(), dict[str, object]()
    if wish.breaker is not None:
        update["mains"] = design.mains.model_copy(update={"breaker": wish.breaker})
    work, duty = design.work_piece, design.duty
    if work is not None and wish.burst is not None:
        times = {"switch_off": wish.burst, "duration": max(work.duration, wish.burst)}
        update["work_piece"] = work.model_copy(update=times)
    if (burst := burst_of(design)) is not None and (duty is None or wish.burst is not None):
        rest = Duty(on_time=burst, off_time=USUAL_REST)
        update["duty"] = rest if duty is None else duty.model_copy(update={"on_time": burst})
    return design.model_copy(update=update)


def burst_of(design: Design) -> float | None:
    """Return how long a burst is wanted [s]: as wished, else that of the work, else of the duty; None where untold."""
    if design.wish is not None and design.wish.burst is not None:
        return design.wish.burst
    if design.work_piece is not None:
        return min(design.work_piece.switch_off or design.work_piece.duration, design.work_piece.duration)
    return None if design.duty is None else design.duty.on_time


def aims_of(design: Design) -> list[Aim]:
    """Return what is wanted: by the wish, and where it says nothing by the rest of the job."""
    wish, burst, found = design.wish or Wish(), burst_of(design), []
    told = "wish"
    if wish.current is not None:
        found.append(Aim(word="current", key="current", wanted=wish.current, unit="A", least=True, told=told))
    work, within = design.work_piece, wish.heat_within
    if work is not None and work.target_temperature is not None:
        by = told if within else "work_piece"
        wanted = within or burst or work.duration
        found.append(Aim(word="heat", key="time_to_temperature", wanted=wanted, unit="s", least=False, told=by))
    by = told if wish.burst else "work_piece" if work is not None else "duty"
    if burst is not None:
        found.append(Aim(word="burst", key="longest_burst", wanted=burst, unit="s", least=True, told=by))
    if wish.breaker is not None or design.mains.breaker is not None:
        by = told if wish.breaker else "mains"
        found.append(Aim(word="breaker", key="breaker_earliest", wanted=burst or inf, unit="s", least=True, told=by))
    if (idle := design.limits.idle_current) is not None:
        found.append(Aim(word="idle", key="idle_current", wanted=idle, unit="A", least=False, told="limits"))
    return found


def order(found: Outcome, margins: Mapping[str, float]) -> tuple[object, ...]:
    """Return what sorts designs, the best first, by margins on aims by their words.

    First by how many aims are missed, then by the least margin, the next least and so on, in steps, then by the least
    copper. Where nothing that is wanted asks for current, by the most current in place of margins.
    """
    missed = sum(margin < 0 for margin in margins.values())
    if not asks_for_current(margins):
        return missed, [-floor(log(found.current) / STEP) if found.current else 0], found.secondary_mass
    steps = sorted(floor(min(margin, ENOUGH) / STEP + 1e-9) for margin in margins.values())
    return missed, [-step for step in steps], found.secondary_mass


def asks_for_current(margins: Mapping[str, float]) -> bool:
    """Return whether there is an aim that more current meets; all others less current meets as well."""
    return not {"current", "heat"}.isdisjoint(margins)
