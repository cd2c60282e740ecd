"""What each length does to an estimate: which reading of the callipers matters most."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics, Progress
from fem.characteristics.moved import moved
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import AcSlice, ac_slice
from fem.design.ring import in_use
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from fem.errors import NotConverged
from fem.estimation.card import STEP
from fem.estimation.case import Case
from fem.estimation.fields.source import Places, solve_characteristics
from fem.estimation.parts import Part
from fem.estimation.stations.built.saturation import SATURATION
from fem.estimation.stations.states.idle import IDLE
from fem.estimation.stations.states.short_circuit import SHORT_CIRCUIT
from fem.quantity import of
from fem.threads import one_thread
from geometries.assembly.by_key import by_key, with_length
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


class _Near:
    """Fields of a design, solved with their derivatives when first asked for, and from then on of those near it."""

    change: Floats  # of each length (keys,) [m]
    slopes: Slopes | None = None
    _found: Characteristics | None = None
    _slice: AcSlice | None = None

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, None]:
        """Solve, or move what is solved to first order."""
        if self._found is None or self.slopes is None:
            lengths = by_key(design.core, design.windings, design.fitted_shunt)
            self._found, fields = solve_characteristics(design, blocks, sheet, progress, lengths)
            self.slopes = fields.slopes
            return self._found, None
        return moved(self._found, self.slopes, self.change, blocks), None

    def slices(self, state: AcState) -> AcSlice:
        """Solve once: what the slice says is held."""
        self._slice = self._slice or ac_slice(state)
        return self._slice

    def places(self, *_: object, solve: Places) -> dict[str, float]:
        """Solve."""
        return solve()


@one_thread()
def by_length(design: Design, *, progress: Progress = lambda _: None) -> tuple[LengthEffect, ...]:
    """Return what a little more of each length does to flux, idle current and short-circuit current.

    The fields are solved once, with their derivatives; each length moves them to first order, and the ordinary
    estimate goes on from there: resistances, currents and saturation in full.

    The most effective length comes first. Shunts' saturation has no derivatives: with them the short circuit is left
    out. Raises what `estimate` does.
    """
    design, source = in_use(design), _Near()

    def told(built: Design) -> Floats:
        case = Case(design=built, wanted={Part.CONDUCTOR_SLICE}, source=source, tell=progress)
        flux, idle, short = (station.compute(case) for station in (SATURATION, IDLE, SHORT_CIRCUIT))
        current = short.secondary_current_rms if design.fitted_shunt is None else np.nan  # their saturation moves, too
        return np.array([flux.peak_flux_density, idle.current_rms, current])

    here, effects, slopes = told(design), [], source.slopes
    assert slopes is not None
    for key, length, unit in zip(slopes.keys, slopes.values, np.eye(len(slopes.keys)), strict=True):
        more = STEP if length > STEP else STEP / 100
        changes: list[float | None] = [None] * 3
        for step in (more, -more):  # what is full has no room for more, but for less
            parts = with_length(design.core, design.windings, design.shunt, key, length + step)
            with suppress(NotConverged, ValueError):
                source.change = step * unit
                shares = (told(design.model_copy(update=parts)) / here - 1) * more / step
                changes = [None if np.isnan(share) else float(share) for share in shares]
                break
        values: dict[str, Any] = dict(zip(CHANGES, changes, strict=True))
        effects.append(LengthEffect(key=key, length=length, more=more, **values))
    return tuple(sorted(effects, key=lambda effect: -max(abs(change or 0.0) for change in effect.changes)))
