"""One set of draws that moves all that is in doubt together, the same for every part of an estimate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Any

import numpy as np

from fem.trust.doubt import Doubt, normal_scores
from fem.trust.doubts import neutral
from fem.trust.sobol import MOST, axis, most_axes

DRAWS = 256
"""How many there are of what costs little."""
FEW = 32
"""How many of them cost much: the first ones."""
LOGARITHMIC = ("lognormal", "log-uniform")
"""Kinds whose logarithm is what is drawn."""
_LENGTHS = ("core.", "windings.", "shunt.")


@dataclass(frozen=True, slots=True)
class Column:
    """One doubt's draws (n,), and the same with mean 0 and variance 1."""

    drawn: Any
    score: Any


@dataclass(frozen=True, eq=False)
class Draws:
    """Draws of all doubts of a design; `draws["joints.bolted"]` is (n,), and `draws.first(32)` begins with the same.

    Parameters
    ----------
    doubts
        What is in doubt, an axis each.
    n
        How many draws.

    Notes
    -----
    Points of a scrambled Sobol' sequence (`fem.trust.sobol`), so that the first 2^k of them are balanced for each
    doubt. Nothing is random: the same doubts give the same digits.
    """

    doubts: tuple[Doubt, ...]
    n: int
    _columns: dict[str, Column] = field(default_factory=dict, init=False, repr=False)

    def __len__(self) -> int:
        return self.n

    def __getitem__(self, name: str) -> Any:
        """Return a doubt's draws (n,): factors, shifts [SI], values or places, see `Doubt.drawn`.

        What is not in doubt of this design does not move: factors of 1, shifts and places of 0; a value's lower end.

        Raises
        ------
        KeyError
            If no doubt has this name, of any design.
        """
        if name in self._axes:
            return self._column(name).drawn
        return np.full(self.n, _unmoved(name))

    def __contains__(self, name: str) -> bool:
        """Return whether it is in doubt of this design."""
        return name in self._axes

    def first(self, n: int) -> Draws:
        """Return the first n of the same draws."""
        return self if n == self.n else draws(self.doubts, n)

    @cached_property
    def more(self) -> Draws:
        """As many draws of the same doubts as there are, these among them."""
        return self.first(MOST)

    def score(self, name: str) -> Any:
        """Return a doubt's draws (n,), of mean 0 and variance 1: of the logarithm where that is what is drawn."""
        return self._column(name).score

    @cached_property
    def _axes(self) -> dict[str, int]:
        return {doubt.name: place for place, doubt in enumerate(self.doubts)}

    def _column(self, name: str) -> Column:
        if name not in self._columns:
            place = self._axes[name]
            doubt, places = self.doubts[place], axis(place)[: self.n]
            shares, scores = strata()
            raw = doubt.raw(shares, scores)
            plain = np.log(raw) if doubt.kind in LOGARITHMIC else raw
            spread = plain.std() or 1.0
            self._columns[name] = Column(
                drawn=doubt.as_drawn(raw)[places], score=((plain - plain.mean()) / spread)[places]
            )
        return self._columns[name]


def draws(doubts: Sequence[Doubt], n: int = DRAWS) -> Draws:
    """Return draws of doubts.

    Parameters
    ----------
    doubts
        As from `doubts_of`, what usually counts most first: the first axes are the best balanced over few draws.
    n
        At most 4096; powers of 2 are balanced.

    Raises
    ------
    ValueError
        If there are more doubts or draws than that, or two of one name.
    """
    names = [doubt.name for doubt in doubts]
    if len(set(names)) < len(names):
        msg = f"two doubts of one name among {names}"
        raise ValueError(msg)
    if len(names) > most_axes() or not 1 <= n <= MOST:
        msg = f"at most {MOST} draws of {most_axes()} doubts, got {n} of {len(names)}"
        raise ValueError(msg)
    return _kept(tuple(doubts), n)


@cache
def _kept(doubts: tuple[Doubt, ...], n: int) -> Draws:
    return Draws(doubts, n)


@cache
def strata() -> tuple[Any, Any]:
    """Return the middles of all strata of (0, 1), and the standard normal distribution's quantiles there."""
    shares = (np.arange(MOST) + 0.5) / MOST
    return shares, normal_scores(shares)


def _unmoved(name: str) -> float:
    known = neutral()
    if name.startswith(_LENGTHS) and name not in known:
        return 0.0
    if name in ("primary.resistance", "secondary.resistance"):
        return known["*.resistance"]
    return known[name]
