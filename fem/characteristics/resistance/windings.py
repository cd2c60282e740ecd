"""Alternating-current resistance of both windings in the leakage state: equal and opposite ampere-turns.

    R_ac / R_dc = k_own + excess_window 2 depth / (mean turn) + excess_ends,

k_own the conductor's own skin effect all along, the excess what the field of all turns adds; see `ac_resistance`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from math import pi

from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.resistance.coils import AcState, coil_wires, needs_slice
from fem.characteristics.resistance.slice import AcSlice, SliceRatios, ac_slice
from fem.characteristics.resistance.thin import THIN, field_excess, wire_loss
from fem.constants import MU0
from geometries.shapes.blocks import Block, blocks_of, single_blocks, winding_names
from geometries.windings.lays import MOST_PLACED
from geometries.windings.turns import Winding

EXCESS_BAND = 0.1
"""Relative band of the excess over 1: how exactly the conductors lie in their cells, and what their own currents do to
the field they lie in (5 % in conductors of one skin depth, tests/physics)."""

SMEARED_BAND = 0.01
"""Band of the ratio where the field is smeared over the block, times the thickness in skin depths to the fourth: a
conductor's own field is counted in part, at most x^4/45 too high in foils and half that in round wires."""

END_BAND = 0.3
"""Relative band of the end turns' part of the excess: their loss is scaled by the energy of their field."""

THICK_BAND = 0.5
"""Relative band of the formula's excess where it is used beyond `THIN`, in windings too large for the slice."""


Slices = Callable[[AcState], AcSlice | SliceRatios]
"""Where slices come from: `ac_slice` solves them, others keep what a circuit takes of them."""


class Route(Enum):
    """How the resistance was found."""

    STATIC_FIELD = "static field and formula"
    SLICE = "time-harmonic slice"


@dataclass(frozen=True, kw_only=True, slots=True)
class AcWinding:
    """One winding with alternating current.

    Parameters
    ----------
    winding
        Its name.
    resistance_ratio
        A.c. against d.c. resistance of its whole length [-].
    window_ratio
        The same on the straight sides alone, in the window or beside the leg [-].
    own_ratio
        The same without the field of other turns [-].
    band
        Half-width within which `resistance_ratio` lies [-].
    thickness
        Largest solid size of its conductor, or of a strand, in skin depths [-].
    route
        How it was found.
    """

    winding: str
    resistance_ratio: float
    window_ratio: float
    own_ratio: float
    band: float
    thickness: float
    route: Route


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AcResistance:
    """Both windings with alternating current.

    Parameters
    ----------
    frequency
        [Hz].
    primary, secondary
        The windings.
    permeance_ratio
        Window part of the leakage permeance against the one with evenly spread currents [-]; 1 where no slice was
        solved: in conductors thinner than a skin depth it falls by less than 0.5 %.
    slice
        The time-harmonic field with its loss map; None where the static field was enough or only ratios were kept.
    """

    frequency: float
    primary: AcWinding
    secondary: AcWinding
    permeance_ratio: float
    slice: AcSlice | None


def ac_resistance(
    state: AcState, leakage: Leakage, *, with_slice: bool = False, slices: Slices = ac_slice
) -> AcResistance:
    """Return the a.c. resistance of two windings.

    Where every conductor is thin against the skin depth the static leakage field and a formula for each wire are
    enough; else a time-harmonic slice is solved.

    Parameters
    ----------
    state
        Of the windings.
    leakage
        Their leakage.
    with_slice
        Solve the slice even where the static field is enough, for its loss map and the change of leakage.
    slices
        Where a slice comes from.

    Raises
    ------
    ValueError
        As `ac_slice`.

    Notes
    -----
    The loss that the field adds in the end turns is taken as the window's times the ratio of their field energies,
    excess = window excess x (permeance / window permeance) x (2 depth / mean turn), but as no more per metre than in
    the window: where windings sit on legs of their own most of the energy lies far from them. With shunts, which hold
    energy of their own, it is taken as the same per metre as in the window.

    Saturation of the shunts changes the field that the conductors lie in but little: the excess stays within a tenth,
    and so within `EXCESS_BAND`, from unsaturated bars to none (tests/physics/test_harmonic_arrangements.py).
    """
    found = slices(state) if with_slice or needs_slice(state, coil_wires(state)) else None
    ratios = found.ratios if isinstance(found, AcSlice) else found
    primary, secondary = (
        _winding(state, w, blocks_of(state.blocks, name), leakage, ratios)
        for w, name in zip(state.windings, winding_names(state.blocks), strict=True)
    )
    return AcResistance(
        frequency=state.frequency,
        primary=primary,
        secondary=secondary,
        permeance_ratio=1.0 if ratios is None else ratios.permeance_ratio,
        slice=found if isinstance(found, AcSlice) else None,
    )


def _own_squared(winding: Winding, everywhere: tuple[Block, ...], blocks: tuple[Block, ...]) -> float:
    """Return the mean square of either component of a round conductor's own field in itself [T2/A2].

    Per squared ampere-turn, where the static field has it single: `wire_loss` counts it already. In a circle of radius
    a it is B = mu0 I r / (2 pi a^2), whose mean square is half that at the edge, half of it across the build.
    """
    single = set(single_blocks(everywhere)).isdisjoint(blocks)
    if not (single and winding.conductor.circular):
        return 0.0
    return (MU0 / (pi * winding.conductor.bare_width * winding.conductors)) ** 2 / 4


def _winding(
    state: AcState, wound: Winding, blocks: tuple[Block, ...], leakage: Leakage, found: SliceRatios | None
) -> AcWinding:
    core, name = state.core, blocks[0].winding
    # in the static field extra turns of finer or thicker wire count with the rest's
    winding = wound.model_copy(update={"turns": wound.net_turns, "extra": None})
    wire = wire_loss(winding, state.frequency, state.temperature)
    own = wire.own_ratio
    if found is None:
        own_squared = _own_squared(winding, state.blocks, blocks)
        x, y = (max(squared - own_squared, 0.0) for squared in leakage.mean_squares[name])
        in_window = wire.own_ratio + field_excess(winding, wire, x, y)
        route, band = Route.STATIC_FIELD, EXCESS_BAND if wire.thickness <= THIN else THICK_BAND
        smeared = SMEARED_BAND * wire.thickness**4
    else:
        in_window, own = found.resistance_ratios[name], found.own_ratios[name]
        thick_block = winding.conductors > MOST_PLACED and wire.thickness > THIN
        route, band = Route.SLICE, THICK_BAND if thick_block else EXCESS_BAND
        smeared = 0.0
    mean_turn = winding.mean_turn or core.frame.mean_turn(blocks)
    excess = in_window - own
    window_share = 2 * core.frame.iron_within(blocks[0]) / mean_turn
    in_ends = window_share * (leakage.permeance / leakage.window_permeance - 1)
    end_excess = excess * (1 - window_share if state.shunt is not None else min(in_ends, 1 - window_share))
    whole = own + excess * window_share + end_excess
    return AcWinding(
        winding=name,
        resistance_ratio=whole,
        window_ratio=in_window,
        own_ratio=own,
        band=band * abs(whole - 1) + smeared + END_BAND * abs(end_excess),
        thickness=wire.thickness,
        route=route,
    )
