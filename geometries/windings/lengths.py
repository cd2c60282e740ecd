"""How long a winding's conductors are, layer by layer, as they run round the leg."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geometries.shapes.dual import number
from geometries.shapes.frame import Framed
from geometries.shapes.section import GRID
from geometries.windings.coils import Coil
from geometries.windings.lays import lay


@dataclass(frozen=True, kw_only=True, slots=True)
class LayerTurns:
    """What lies at one distance from the leg.

    Parameters
    ----------
    conductors
        How many, turns times wires in hand [-].
    turn_length
        Of one of them once round the leg, its sides straight and its corners arcs, at the conductor's middle [m].
    """

    conductors: int
    turn_length: float


def layer_turns(core: Framed, coil: Coil) -> tuple[LayerTurns, ...]:
    """Return the layers of a coil from the leg outwards.

    Conductors that are placed one by one count where they lie, nested ones in as many layers as there are distances;
    others in the middle of the equal layers of their block.
    """
    block = coil.block
    around = core.frame.surrounded(block)
    if not block.places:
        laid = lay(replace(coil, height=block.height), block.build)
        middles = [((k + 0.5) * block.build / laid.layers, count) for k, count in enumerate(laid.counts)]
    else:
        counted: dict[int, tuple[float, int]] = {}
        for place in sorted(block.places, key=lambda place: number(place.x)):
            x, count = counted.get(round(number(place.x) / GRID), (place.x, 0))
            counted[round(number(place.x) / GRID)] = x, count + 1
        middles = list(counted.values())
    return tuple(LayerTurns(conductors=count, turn_length=block.turn_length(*around, t)) for t, count in middles)


def wire_lengths(core: Framed, coil: Coil) -> tuple[float, ...]:
    """Return how much of each wire in hand runs round the leg in a coil [m].

    Wires of a block whose conductors are too many to be placed are taken to change places, and so to be of one length.
    """
    hand, block = coil.wires_in_hand, coil.block
    if not block.places:
        whole = sum(layer.conductors * layer.turn_length for layer in layer_turns(core, coil))
        return (whole / hand,) * hand
    around = core.frame.surrounded(block)
    lengths = [block.turn_length(*around, place.x) for place in block.places]
    return tuple(sum(lengths[wire::hand]) for wire in range(hand))
