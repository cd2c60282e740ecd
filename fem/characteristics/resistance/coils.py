"""Two windings with alternating current: at which frequency, what is in series, what a wire of each coil does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass

from fem.characteristics.resistance.thin import THIN, WireLoss, wire_loss
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.shapes.blocks import Block, winding_names
from geometries.windings.coils import Coil, coil_of
from geometries.windings.lays import MOST_PLACED
from geometries.windings.turns import Winding


@dataclass(frozen=True, slots=True)
class AcState:
    """Two windings on a core with alternating current, and all that their resistance and leakage depend on.

    Parameters
    ----------
    core
        The core.
    windings, blocks
        Primary, secondary.
    frequency
        [Hz].
    temperature
        Of the conductors [K].
    transposed
        Whether wires in hand change places so that they share the current evenly; else they are joined at their ends
        only.
    shunt
        Fitted shunts, if any; not saturated.
    """

    core: AnyCore
    windings: tuple[Winding, Winding]
    blocks: tuple[Block, ...]
    _: KW_ONLY
    frequency: float
    temperature: float
    transposed: bool = False
    shunt: Shunt | None = None


def grouped_coils(state: AcState) -> dict[str, list[Coil]]:
    """Return each winding's coils in series by its name, and extra turns, of a wire of their own, by theirs."""
    groups: dict[str, list[Coil]] = {}
    for coils in _coils_by_winding(state.windings, state.blocks):
        for coil in coils:
            block = coil.block
            groups.setdefault(block.name if block.coil == "extra" else block.winding, []).append(coil)
    return groups


def needs_slice(state: AcState, wires: Mapping[str, WireLoss]) -> bool:
    """Return whether the static field does not tell the loss.

    In thick conductors, where wires in hand share, and in extra turns of another wire than the rest.

    Parameters
    ----------
    state
        Of the windings.
    wires
        What a conductor of each coil does, by the coil's name.
    """
    if any(w.extra is not None and w.extra.conductor != w.conductor for w in state.windings):
        return True
    for coils in grouped_coils(state).values():
        if sum(coil.conductors for coil in coils) > MOST_PLACED:
            continue
        shares = coils[0].wires_in_hand > 1 and not state.transposed
        if shares or wires[coils[0].block.name].thickness > THIN:
            return True
    return False


def coil_wires(state: AcState) -> dict[str, WireLoss]:
    """Return what a conductor of each coil does, by the coil's name."""
    found = {}
    for coils, winding in zip(_coils_by_winding(state.windings, state.blocks), state.windings, strict=True):
        for coil in coils:
            wound = winding.model_copy(update={"conductor": coil.conductor})
            found[coil.block.name] = wire_loss(wound, state.frequency, state.temperature)
    return found


def _coils_by_winding(windings: Sequence[Winding], blocks: Sequence[Block]) -> list[list[Coil]]:
    names = winding_names(blocks)
    return [
        [coil_of(winding, block) for block in blocks if block.winding == name]
        for name, winding in zip(names, windings, strict=True)
    ]
