"""What each length does to an estimate: which reading of the callipers matters most."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics, Progress
from fem.characteristics.moved import moved
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import AcSlice, SliceRatios
from fem.design.ring import in_use
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from fem.errors import NotConverged, OutOfRange
from fem.estimation.card import STEP
from fem.estimation.case import Case
from fem.estimation.fields.source import Places, Solved, Source, lengths_of
from fem.estimation.parts import Part
from fem.estimation.stations.built.saturation import SATURATION
from fem.estimation.stations.states.idle import IDLE
from fem.estimation.stations.states.short_circuit import SHORT_CIRCUIT
from fem.quantity import of
from fem.threads import one_thread
from geometries.assembly.by_key import with_length
from geometries.shapes.blocks import Block

CHANGES = ("flux_density_change", "idle_current_change", "short_circuit_current_change")


@dataclass(frozen=True, kw_only=True, slots=True)
class LengthEffect:
    """What a little more of a length does to an estimate, as shares; null where first order does not tell."""

    key: str = of("", "key of the job file")
    length: float = of("m", "what it is")
    more: float = of("m", "how much more")
    flux_density_change: float | None = of("-", "change of the peak flux density, the primary's leg, iron, idle")
    idle_current_change: float | None = of("-", "change of the idle current, r.m.s.")
    short_circuit_current_change: float | None = of("-", "change of the secondary current, lead ends joined, r.m.s.")

    @property
    def changes(self) -> tuple[float | None, ...]:
        """The changes, in this order [-]."""
        return tuple(getattr(self, name) for name in CHANGES)


DIFFERENCE = 1e-3
"""Of a length, by which a circuit is differenced whose fields move by their own derivatives: its own solutions are
exact to some 1e-9, what is left of third order is 1e-6 of a result that goes as a low power of the length."""


class Near:
    """Fields of a design from where they come from, and to first order of those near it; slices are held.

    Parameters
    ----------
    source
        Where they come from.
    only
        The one length by which they move; all where empty.
    """

    change: Floats | None = None
    """Of each length (keys,) [m]; none for the design itself, which comes first."""

    def __init__(self, source: Source, only: str = "") -> None:
        self._source, self._only = source, only
        self._slopes: Slopes | None = None
        self._slice: AcSlice | SliceRatios | None = None

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, None]:
        """Return what the source has, or move that to first order."""
        if self.change is None:
            if not self._only or self._only in lengths_of(design).keys:
                self._slopes = self._source.slopes(design, blocks, sheet, progress, only=self._only)
            self._found, _ = self._source(design, blocks, sheet, progress)
            return self._found, None
        return moved(self._found, self.slopes(), self.change, blocks), None

    def slopes(self, *_: object, only: str = "") -> Slopes:
        """Return those of the design itself."""
        assert self._slopes is not None
        return self._slopes

    def moves(self, key: str) -> bool:
        """Return whether a length moves the fields."""
        return self._slopes is not None and key in self._slopes.keys

    def slices(self, state: AcState) -> AcSlice | SliceRatios:
        """Ask the source once: what the slice says is held."""
        self._slice = self._slice or self._source.slices(state)
        return self._slice

    def places(self, *_: object, solve: Places) -> dict[str, float]:
        """Solve."""
        return solve()


@one_thread()
def solve_fields(design: Design, source: Source, progress: Progress) -> None:
    """Let a source that keeps fields solve a design's with their derivatives, if it has not, before all else."""
    assert Case(design=in_use(design), source=source, tell=progress).slopes


@one_thread()
def by_length(
    design: Design, *, source: Source | None = None, progress: Progress = lambda _: None
) -> tuple[LengthEffect, ...]:
    """Return what a little more of each length does to flux, idle current and short-circuit current.

    The fields come with their derivatives from a source, where none is given they are solved; each length moves them to
    first order, and the ordinary estimate goes on from there: resistances, currents and saturation in full.

    The most effective length comes first. Shunts' saturation has no derivatives: with them the short circuit is left
    out. Raises what `estimate` does.
    """
    design, near = in_use(design), Near(source or Solved())

    def told(built: Design) -> Floats:
        case = Case(design=built, wanted={Part.CONDUCTOR_SLICE}, source=near, tell=progress)
        flux, idle, short = (station.compute(case) for station in (SATURATION, IDLE, SHORT_CIRCUIT))
        current = short.secondary_current_rms if design.fitted_shunt is None else np.nan  # their saturation moves, too
        return np.array([flux.peak_flux_density, idle.current_rms, current])

    here, effects = told(design), []
    slopes = near.slopes()
    for key, length, unit in zip(slopes.keys, slopes.values, np.eye(len(slopes.keys)), strict=True):
        more = STEP if length > STEP else STEP / 100
        changes: list[float | None] = [None] * 3
        for step in (more, -more):  # what is full has no room for more, but for less
            parts = with_length(design.core, design.windings, design.shunt, key, length + step)
            with suppress(NotConverged, ValueError):
                near.change = step * unit
                shares = (told(design.model_copy(update=parts)) / here - 1) * more / step
                changes = [None if np.isnan(share) else float(share) for share in shares]
                break
        values: dict[str, Any] = dict(zip(CHANGES, changes, strict=True))
        effects.append(LengthEffect(key=key, length=length, more=more, **values))
    return tuple(sorted(effects, key=lambda effect: -max(abs(change or 0.0) for change in effect.changes)))


def slope(design: Design, near: Near, key: str, read: Callable[[Case], Any], members: int = 1) -> Any:
    """Return the derivative by a length [1/m] of what `read` says of a case without costly parts, a block's (members,).

    `near` has been asked for the design's fields already. None where the length moves no field, where fields have no
    derivative by it, and where either side cannot be built or solved.
    """
    if not near.moves(key):
        return None
    slopes = near.slopes()
    at = slopes.keys.index(key)
    step, told = DIFFERENCE * slopes.values[at], []
    try:
        for side in (step, -step):
            near.change = side * np.eye(len(slopes.keys))[at]
            parts = with_length(design.core, design.windings, design.shunt, key, slopes.values[at] + side)
            built = design.model_copy(update=parts)
            told.append(read(Case(design=built, wanted=frozenset(), source=near, members=members)))
        return (told[0] - told[1]) / (2 * step)
    except (NotConverged, OutOfRange, ValueError, TypeError):  # a result that is not known is no number
        return None
    finally:
        near.change = None
