"""A ring round the leg as what it is to the core: a secondary of one turn."""

from __future__ import annotations

from collections.abc import Sequence

from fem.design.transformer import Design
from fem.design.work_piece import WorkPieceDescription
from fem.materials.metals import metal_names
from geometries.described.faults import Fault
from geometries.described.quantities import format_quantity
from geometries.shapes.blocks import Block, blocks_of
from geometries.shapes.frame import Framed
from geometries.windings.arrangement import Arrangement, Windings
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding


def in_use(design: Design) -> Design:
    """Return the design as it works: with a ring round the leg as its secondary, while a wound one lies idle."""
    windings = with_ring(design.windings, design.work_piece)
    if windings is design.windings:
        return design
    return design.model_copy(update={"windings": windings, "leads": None, "load": None})


def with_ring(windings: Windings, work: WorkPieceDescription | None) -> Windings:
    """Return the windings with the ring that is described, if one is, as their secondary.

    Raises
    ------
    pydantic.ValidationError
        If no conductor has such a section.
    """
    if work is None or work.ring is None:
        return windings
    size, place = work.section, work.ring.place
    conductor = (
        Conductor(strip=size.strip, insulated=size.strip)
        if size.round is None
        else Conductor(round=size.round, insulated=size.round)
    )
    ring = Winding(
        turns=1,
        conductor=conductor,
        material=work.metal if work.metal in metal_names() else "copper",
        places=None if place is None else (place,),
    )
    in_one = Arrangement.SIDE_BY_SIDE if windings.arrangement is Arrangement.INTERLEAVED else windings.arrangement
    ring = ring.model_copy(update={"mean_turn": work.ring.circumference})
    return windings.model_copy(update={"secondary": ring, "arrangement": in_one})


def ring_faults(
    core: Framed, work: WorkPieceDescription | None, blocks: Sequence[Block], found: Sequence[Fault]
) -> tuple[Fault, ...]:
    """Return what does not fit, told of the ring where that is the secondary, and a ring that is too tight."""
    if work is None or work.ring is None:
        return tuple(found)
    told = [Fault(fault.key.replace("windings.secondary", "work_piece.ring"), fault.message) for fault in found]
    least, given = core.frame.mean_turn(blocks_of(tuple(blocks), "secondary")), work.ring.circumference
    if given < (1 - 1e-6) * least:
        text = f"{format_quantity(given, 'm')} round is less than the {format_quantity(least, 'm')} round the leg there"
        told.append(Fault("work_piece.ring", text))
    return tuple(told)
