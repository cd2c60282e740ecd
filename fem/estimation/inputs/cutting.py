"""What there is to cut: each conductor's length with its tails and slack, and in what doubt it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.assumptions import assumed
from fem.design.transformer import Design
from fem.estimation.inputs.joints import one_cable
from fem.materials.metals import metal
from fem.quantity import Band, Unknown
from fem.trust.bands import band_of
from fem.trust.doubt import Doubt
from fem.trust.doubts import doubts_of
from fem.trust.draws import draws
from geometries.assembly.by_key import by_key
from geometries.shapes.blocks import Block
from geometries.shapes.dual import Dual
from geometries.shapes.frame import Framed
from geometries.windings.coils import Coil, coils_of
from geometries.windings.conductors import Conductor
from geometries.windings.lengths import LayerTurns, layer_turns, wire_lengths

LEADS = "leads"


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece:
    """Like lengths of one conductor.

    Parameters
    ----------
    name
        "secondary", "extra turns", "primary" or "leads".
    count
        How many [-]: wires in hand, of each core's primary; go and return.
    conductor, density
        What is cut; of its metal [kg/m3].
    round_leg, beyond
        Of each, round the leg and on as the leads [m].
    tails
        At its ends, of each [m].
    slack
        Of each [m].
    layers
        From the leg outwards; of an interleaved winding those of its first coil.
    turns
        [-]; 0 of leads.
    salvaged
        Whether it is there already, so that it is cut only if it is wound anew.
    """

    name: str
    count: int
    conductor: Conductor
    density: float
    round_leg: float
    beyond: float
    tails: float
    slack: float
    layers: tuple[LayerTurns, ...] = ()
    turns: int = 0
    salvaged: bool = False

    @property
    def length(self) -> float:
        """Of each, to cut [m]."""
        return self.round_leg + self.beyond + self.tails + self.slack

    @property
    def mass(self) -> float:
        """Of all of them [kg]."""
        return self.count * self.length * self.conductor.area * self.density


def pieces_of(design: Design, blocks: Sequence[Block]) -> tuple[Piece, ...]:
    """Return what there is to cut, in the order it is wound; a ring round the leg is none of it."""
    coils = coils_of(design.windings, blocks)
    ring = design.work_piece is not None and design.work_piece.ring is not None
    found = []
    for name in ("primary", "primary.extra", "secondary"):
        mine = [coil for coil in coils if coil.key == name]
        if mine and not (ring and name == "secondary"):
            found.append(_wound(design, mine))
    leads = design.leads
    if leads is not None and leads.has_cable and not one_cable(design):
        found.append(
            Piece(
                name=LEADS,
                count=2,
                conductor=leads.conductor,
                density=metal(leads.material).density,
                round_leg=0.0,
                beyond=leads.length / 2,
                tails=0.0,
                slack=0.0,
            )
        )
    return tuple(found)


def _wound(design: Design, coils: Sequence[Coil]) -> Piece:
    winding = getattr(design.windings, coils[0].block.winding)
    extra = coils[0].block.coil == "extra"
    each = 1 if coils[0].block.winding == "secondary" else design.core.count
    goes_on = coils[0].key == "secondary" and one_cable(design)
    round_leg = _round_leg(design.core, coils) * _as_measured(design, coils)
    return Piece(
        name="extra turns" if extra else coils[0].key,
        count=each * coils[0].wires_in_hand,
        conductor=coils[0].conductor,
        density=metal(winding.material).density,
        round_leg=round_leg,
        beyond=design.leads.length if goes_on and design.leads is not None else 0.0,
        tails=0.0 if goes_on else 2 * assumed("tail of a winding").typical,
        slack=assumed("slack of a winding").typical * round_leg,
        layers=layer_turns(design.core, coils[0]),
        turns=sum(coil.turns for coil in coils),
        salvaged=coils[0].key == "primary",
    )


def _round_leg(core: Framed, coils: Sequence[Coil]) -> Any:
    """Return the longest of the wires in hand round the leg [m]."""
    return max(sum(parts) for parts in zip(*(wire_lengths(core, coil) for coil in coils), strict=True))


def _as_measured(design: Design, coils: Sequence[Coil]) -> float:
    """Return how much longer the turns are than computed, where their mean length was measured [-]."""
    winding = getattr(design.windings, coils[0].block.winding)
    if winding.mean_turn is None or coils[0].block.coil == "extra":
        return 1.0
    return float(winding.mean_turn * sum(c.turns for c in coils) / sum(c.length(design.core) for c in coils))


def length_bands(design: Design, blocks: Sequence[Block]) -> dict[str, Band | Unknown]:
    """Return the band of each piece's length: callipers, how the winding bulges, tails and slack.

    Notes
    -----
    Lengths round the leg are linear in those of the job, whose derivatives `by_key` carries, so that draws of these are
    exact.
    """
    keyed = by_key(design.core, design.windings, design.fitted_shunt)
    tail, slack = assumed("tail of a winding"), assumed("slack of a winding")
    own = (
        _practice("tails", tail.low, tail.typical, tail.high, "say how far the ends are to reach, and measure that"),
        _practice("slack", slack.low, slack.typical, slack.high, "wind a turn of string and measure it"),
    )
    lengths = [d for d in doubts_of(design) if d.name in keyed.keys or d.name == "leads.length"]
    some = draws((*own, *lengths))
    coils = coils_of(design.windings, keyed.blocks)
    found = {}
    for piece in pieces_of(design, blocks):
        turn: Any = piece.round_leg
        mine = [coil for coil in coils if coil.key == piece.name.replace("extra turns", "primary.extra")]
        measured = getattr(getattr(design.windings, piece.name, None), "mean_turn", None) is not None
        if mine and not measured:
            exact = _round_leg(keyed.frame, mine)
            assert isinstance(exact, Dual)
            turn = turn + sum(
                slope * some[key] for key, slope in zip(keyed.keys, exact.grad.tolist(), strict=True) if slope
            )
        beyond = piece.beyond + (some["leads.length"] / (2 if piece.name == LEADS else 1) if piece.beyond else 0.0)
        tails = 2 * some["tails"] if piece.tails else 0.0
        share = some["slack"] if piece.slack else 0.0
        values = np.broadcast_to(turn * (1 + share) + tails + beyond, (len(some),))
        found[piece.name] = band_of(values, some)
    return found


def _practice(name: str, low: float, typical: float, high: float, measure: str) -> Doubt:
    return Doubt(
        name=name, kind="triangular", low=low, typical=typical, high=high, drawn="value", words=name, measure=measure
    )
