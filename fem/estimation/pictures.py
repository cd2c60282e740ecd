"""Fields and curves an estimate keeps for figures and export."""

from __future__ import annotations

from dataclasses import dataclass

from fem.arrays import Floats
from fem.characteristics.resistance.slice import AcSlice
from fem.field.static.model import SolvedField
from fem.work.run import HeatingRun
from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Section


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Pictures:
    """What the figures draw.

    Parameters
    ----------
    core, blocks, section
        What was built; the section is whole, the fields may be on its right half (`section.halved` of their mesh).
    idle_field
        The field at the peak of the idle current.
    leakage_field
        The field of equal and opposite ampere-turns (1 A in the primary), linear iron.
    ampere_turns, flux_per_turn
        Magnetisation curve of the energised primary (n,) [A], [Wb].
    flux_density
        The primary's leg's iron along that curve (n,) [T].
    operating_flux_per_turn, operating_ampere_turns
        Peak values idle [Wb], [A].
    knee_flux_per_turn
        Peak flux per turn at the knee point [Wb], or None.
    time, voltage, current
        One idle period: mains voltage and current (n,) [s], [V], [A].
    work_piece
        The work in a burst, or None.
    ac_slice
        The time-harmonic field of thick conductors or wires in hand, where one was needed.
    """

    core: AnyCore
    blocks: tuple[Block, ...]
    section: Section
    idle_field: SolvedField
    leakage_field: SolvedField
    ampere_turns: Floats
    flux_per_turn: Floats
    flux_density: Floats
    operating_flux_per_turn: float
    operating_ampere_turns: float
    knee_flux_per_turn: float | None
    time: Floats
    voltage: Floats
    current: Floats
    work_piece: HeatingRun | None
    ac_slice: AcSlice | None = None
