"""What is to be improved, and by how much a design is better than another."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan

from fem.design.transformer import Design
from fem.design.wish import Wish
from fem.digits import brief
from fem.mains.forecasts import Behaviour
from fem.options.outcome import Outcome
from fem.quantity import Unknown

FELT = 0.01
"""Changes smaller than this are none [-]: no instrument at the bench tells them from another burst's."""
_WORDS = {
    "time_to_temperature": ("time to the wanted temperature", "s", "never reached"),
    "current": ("current into the work", "A", ""),
    "longest_burst": ("longest burst", "s", "no limit"),
    "idle_current": ("idle current", "A", ""),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Goal:
    """The number that matters.

    Parameters
    ----------
    key
        Attribute of an `Outcome`.
    wanted
        At least, of a time to a temperature or an idle current at most [SI]; None where nothing is wished for.
    """

    key: str
    wanted: float | None = None

    @property
    def words(self) -> str:
        """What it is called."""
        return _WORDS[self.key][0]

    @property
    def less(self) -> bool:
        """Whether less is better."""
        return self.key in ("time_to_temperature", "idle_current")

    def value(self, found: Outcome) -> float:
        """Return the number [SI]: infinite where it never comes, or has no limit; nan where it is not known."""
        value = getattr(found, self.key)
        return (nan if value.gap else inf) if isinstance(value, Unknown) else float(value)

    def met(self, found: Outcome) -> bool:
        """Return whether what is wanted is there, if anything is."""
        value = self.value(found)
        return self.wanted is not None and (value <= self.wanted if self.less else value >= self.wanted)

    def gain(self, before: Outcome, after: Outcome) -> float:
        """Return the change as a share of what it was [-], better being positive: of a time its part that is saved."""
        old, new = self.value(before), self.value(after)
        more = 0.0 if old == new else new / old - 1 if old < inf else -1.0
        return -more if self.less else more

    def said(self, found: Outcome) -> str:
        """Say what is there."""
        (_, unit, never), value = _WORDS[self.key], self.value(found)
        return never if value == inf else f"{brief(value)} {unit}"


IDLE = Goal(key="idle_current")


def goal_of(design: Design, before: Outcome) -> Goal:
    """Return what matters: the first wish that is missed; where none is, time to heat, else current."""
    wish, work = design.wish or Wish(), design.work_piece
    told = {"time_to_temperature": wish.heat_within, "current": wish.current, "longest_burst": wish.burst}
    wishes = [Goal(key=key, wanted=wanted) for key, wanted in told.items() if wanted is not None]
    heats = work is not None and work.target_temperature is not None
    usual = "time_to_temperature" if heats else "current"
    return next((wish for wish in wishes if not wish.met(before)), Goal(key=usual, wanted=told[usual]))


def is_saturated(design: Design, found: Outcome) -> bool:
    """Return whether the core is driven above what is told: an idle current that is told, else the flux density."""
    limits = design.limits
    flux = found.flux_density > limits.flux_density * (1 + FELT / 2)
    if limits.idle_current is None:
        return flux
    over = found.idle_current > limits.idle_current * (1 + FELT)
    return over or (flux and "flux_density" in limits.model_fields_set)


def rank(found: Outcome) -> int:
    """Return how ill what guards the circuit fares [-]: 0 where it holds, or nothing is told of it."""
    return [word.value for word in Behaviour].index(found.breaker) if found.breaker else 0


def harms(design: Design, before: Outcome, after: Outcome) -> tuple[str, ...]:
    """Return what is worse than it was beyond what may be, a few words each."""
    found, burst, longest = [], before.burst, after.longest_burst
    if rank(after) > rank(before):
        found.append(f"breaker {after.breaker}")
    if is_saturated(design, after) and after.flux_density > before.flux_density * (1 + FELT):
        found.append(f"core at {brief(after.flux_density)} T")
    if burst and longest and longest < burst and not (before.longest_burst and before.longest_burst < burst):
        found.append(f"longest burst {brief(longest)} s")
    if IDLE.gain(before, after) < (-0.1 if is_saturated(design, after) else -0.5):
        found.append(f"idle {brief(after.idle_current)} A")
    return tuple(found)
