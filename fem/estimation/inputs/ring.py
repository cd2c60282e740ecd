"""A ring round the leg as the circuit sees it: what it is made of, and what its wide loop adds to the leakage."""

from __future__ import annotations

from collections.abc import Sequence

from fem.assumptions import assumed
from fem.circuit.leads.ring import ring_inductance
from fem.design.transformer import Design
from fem.estimation.inputs.work import across
from fem.materials.work_metals import work_metal
from geometries.shapes.blocks import Block, blocks_of

WIDE_LOOP = assumed("loop of a wide ring")


def ring_of(design: Design) -> tuple[float, float, float] | None:
    """Return d.c. resistance [ohm], section [m^2] and mass [kg] of a ring that is the secondary, or None."""
    work = design.work_piece
    if work is None or work.ring is None:
        return None
    metal, area, length = work_metal(work.metal), across(work.section).area, work.ring.circumference
    return float(metal.resistivity_at(design.temperature)) * length / area, area, metal.density * area * length


def loop_beyond(design: Design, blocks: Sequence[Block]) -> float:
    """Return what a ring's loop has beyond that of a turn that lies close round the leg [H].

    Notes
    -----
    The leakage's field is that of a turn laid close where the ring passes the window. Outside the ring goes wide, and
    the flux between the two is taken as the difference of their circles in air.
    """
    work = design.work_piece
    if work is None or work.ring is None:
        return 0.0
    close = design.core.frame.mean_turn(blocks_of(tuple(blocks), "secondary"))
    own = across(work.section).mean_distance
    wide = max(work.ring.circumference, close)
    return WIDE_LOOP.typical * (ring_inductance(wide, own) - ring_inductance(close, own))
