"""The coils of both windings as the a.c. resistance takes them: what is in series, what a wire of each does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fem.characteristics.resistance.thin import THIN, WireLoss, wire_loss
from geometries.assembly.conductors import MOST_PLACED
from geometries.shapes.blocks import Block, winding_names
from geometries.windings.arrangement import Winding
from geometries.windings.coils import Coil, coil_of


def grouped_coils(windings: Sequence[Winding], blocks: Sequence[Block]) -> dict[str, list[Coil]]:
    """Return the coils in series of each winding by its name, and its extra turns, of a wire of their own, by theirs.

    Parameters
    ----------
    windings, blocks
        Primary, secondary.
    """
    groups: dict[str, list[Coil]] = {}
    for coils in _coils_by_winding(windings, blocks):
        for coil in coils:
            block = coil.block
            groups.setdefault(block.name if block.coil == "extra" else block.winding, []).append(coil)
    return groups


def needs_slice(
    windings: Sequence[Winding], blocks: Sequence[Block], wires: Mapping[str, WireLoss], *, transposed: bool
) -> bool:
    """Return whether the static field does not tell the loss.

    In thick conductors, where wires in hand share, and in extra turns of another wire than the rest.

    Parameters
    ----------
    windings, blocks
        Primary, secondary.
    wires
        What a conductor of each coil does, by the coil's name.
    transposed
        Whether wires in hand share evenly.
    """
    if any(w.extra is not None and w.extra.conductor != w.conductor for w in windings):
        return True
    for coils in grouped_coils(windings, blocks).values():
        if sum(coil.conductors for coil in coils) > MOST_PLACED:
            continue
        shares = coils[0].wires_in_hand > 1 and not transposed
        if shares or wires[coils[0].block.name].thickness > THIN:
            return True
    return False


def coil_wires(
    windings: Sequence[Winding], blocks: Sequence[Block], frequency: float, temperature: float
) -> dict[str, WireLoss]:
    """Return what a conductor of each coil does, by the coil's name.

    Parameters
    ----------
    windings, blocks
        Primary, secondary.
    frequency, temperature
        [Hz], [K].
    """
    found = {}
    for coils, winding in zip(_coils_by_winding(windings, blocks), windings, strict=True):
        for coil in coils:
            wound = winding.model_copy(update={"conductor": coil.conductor})
            found[coil.block.name] = wire_loss(wound, frequency, temperature)
    return found


def _coils_by_winding(windings: Sequence[Winding], blocks: Sequence[Block]) -> list[list[Coil]]:
    names = winding_names(blocks)
    return [
        [coil_of(winding, block) for block in blocks if block.winding == name]
        for name, winding in zip(names, windings, strict=True)
    ]
