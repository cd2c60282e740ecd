"""What could be wound, as found: each with its outcome, what it misses, and why the first is the best."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Any

from fem.digits import brief
from fem.options.aims import Aim, asks_for_current, order
from fem.options.candidates import Candidate
from fem.options.outcome import Outcome
from fem.quantity import plain


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingOption:
    """One secondary that fits.

    Parameters
    ----------
    candidate
        What is wound, and where.
    outcome
        What it comes to.
    margins
        By aim's word, by what share of what is wanted it is better [-], negative where it is missed; "stock" where
        that is too short.
    misses
        What it misses, in words.
    """

    candidate: Candidate
    outcome: Outcome
    margins: dict[str, float]
    misses: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values, units in the keys."""
        winding, stock = self.candidate.winding, self.candidate.stock
        return {
            "turns": winding.turns,
            "wires_in_hand": winding.wires_in_hand,
            "conductor": stock.label,
            "material": stock.material,
            "way": self.candidate.way,
            "lay": winding.lay,
            "in_stock_m": stock.length,
            "misses": list(self.misses),
            "margins": {word: margin if margin < inf else None for word, margin in self.margins.items()},
            "outcome": plain(self.outcome),
        }


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingOptions:
    """All that could be wound.

    Parameters
    ----------
    aims
        What is wanted.
    options
        Those that were computed, the best first.
    fitting
        How many fit [-].
    nearly
        Candidates that do not quite fit, the nearest first.
    assumed_stock
        Whether common cables stand in for a list of conductors.
    failed
        Why candidates could not be computed.
    stopped
        Whether Ctrl-C ended it before all were.
    """

    aims: tuple[Aim, ...]
    options: tuple[WindingOption, ...]
    fitting: int
    nearly: tuple[Candidate, ...]
    assumed_stock: bool
    failed: tuple[str, ...]
    stopped: bool

    @property
    def reason(self) -> str:
        """Why the first is the best."""
        best = self.options[0]
        if not best.misses and not asks_for_current(best.margins):
            return "nothing that is wanted asks for current: of those that miss nothing it drives the most"
        if best.misses:
            return f"none has all that is wanted; it misses least: {'; '.join(best.misses)}"
        word, margin = min(best.margins.items(), key=lambda item: item[1])
        least = f", the least by {brief(100 * margin, 2)} % ({word})" if margin < inf else ""
        text = f"it has all that is wanted with most to spare{least}"
        same = [order(option.outcome, option.margins)[:2] for option in self.options[:2]]
        if len(same) > 1 and same[0] == same[1]:
            text += "; of those with as much to spare it takes the least copper"
        return text

    def to_dict(self) -> dict[str, Any]:
        """Return all as plain values, units in the keys."""
        return {
            "wanted": [plain_aim(aim) for aim in self.aims],
            "fitting": self.fitting,
            "assumed_stock": self.assumed_stock,
            "stopped": self.stopped,
            "best": self.reason if self.options else None,
            "options": [option.to_dict() for option in self.options],
            "nearly_fit": [
                {
                    "turns": one.winding.turns,
                    "wires_in_hand": one.winding.wires_in_hand,
                    "conductor": one.stock.label,
                    "way": one.way,
                    "lay": one.winding.lay,
                    "lacks_m": one.lacks,
                }
                for one in self.nearly
            ],
            "failed": list(self.failed),
        }


def plain_aim(aim: Aim) -> dict[str, Any]:
    """Return an aim as plain values."""
    end = "at_least" if aim.least else "at_most"
    return {"what": aim.word, end: aim.wanted if aim.wanted < inf else None, "unit": aim.unit, "by": aim.told}
