"""Fields and curves an estimate keeps for figures and export."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from fem.arrays import Floats
from fem.characteristics.resistance.slice import AcSlice
from fem.design.work_piece import WorkPieceDescription
from fem.estimation.case import Case
from fem.estimation.inputs.supply import devices_of
from fem.estimation.inputs.working import SHORT, Working
from fem.estimation.parts import Part
from fem.estimation.stations.bench.bursts import BurstState, bursts_of
from fem.estimation.stations.bench.machine import Machine
from fem.field.static.model import SolvedField, solve_model
from fem.mains.devices import Device
from fem.quantity import Unknown
from fem.work.feeding import FedBurst
from fem.work.run import HeatingRun
from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Section
from geometries.windings.arrangement import Windings


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Pictures:
    """What the figures draw.

    Parameters
    ----------
    core, windings, blocks, section
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
    work_piece, fed, parts
        The work in a burst, or None; what feeds it, or None, and the names of the machine's parts.
    ac_slice
        The time-harmonic field of thick conductors or wires in hand, where one was needed.
    work
        The work piece that is described.
    devices
        What guards the circuit, by name.
    flux
        Flux per turn over that period (n,) [Wb].
    lengths
        Secondary current at first [A] of bursts from cold into several resistances, with how long each part stands it.
    """

    core: AnyCore
    windings: Windings
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
    fed: FedBurst | None = None
    parts: tuple[str, ...] = ()
    ac_slice: AcSlice | None = None
    work: WorkPieceDescription | None = None
    devices: Mapping[str, Device] = field(default_factory=dict)
    flux: Floats | None = None
    lengths: tuple[tuple[float, BurstState], ...] = ()


SHARES = (1.0, 0.85, 0.7, 0.57, 0.46, 0.37, 0.3, 0.24, 0.19)
"""Of the current with the lead ends joined, for which it is told how long a burst may last."""


def _lengths(case: Case) -> Iterator[tuple[float, BurstState]]:
    """Yield currents of bursts from cold, and how long each part stands them."""
    machine = Machine(case=case, network=case.network)
    cold = machine.cold_circuit
    impedance = case.idle_circuit.voltage_rms / cold.primary_turns * cold.secondary_turns
    impedance /= machine.cold(SHORT).secondary_current
    # across the reactance and all resistance at right angles at most, in line at least: between both will do
    workings = [SHORT, *(Working(resistance=impedance * (1 / share**2 - 1) ** 0.5) for share in SHARES[1:])]
    for working, found in zip(workings, bursts_of(machine, workings), strict=True):
        if not isinstance(found, Unknown):
            yield machine.cold(working).secondary_current, found


def pictures(case: Case) -> Pictures:
    """Return the fields and curves of a case; the work piece's are left out where its burst fails."""
    curve, at_idle = case.found.magnetising, case.at_idle
    ampere_turns = float(case.circuit.magnetising.ampere_turns_at(at_idle.peak_flux_per_turn))
    run = case.part(Part.WORK_PIECE, lambda: case.burst)
    return Pictures(
        core=case.design.core,
        windings=case.design.windings,
        blocks=case.blocks,
        section=case.found.section,
        idle_field=solve_model(case.fields.model, {curve.winding: ampere_turns}),
        leakage_field=case.fields.leakage,
        ampere_turns=curve.ampere_turns,
        flux_per_turn=curve.flux_per_turn,
        flux_density=curve.flux_density_by_place[case.found.flux_place],
        operating_flux_per_turn=at_idle.peak_flux_per_turn,
        operating_ampere_turns=ampere_turns,
        knee_flux_per_turn=case.knee.peak_flux_per_turn,
        time=at_idle.time,
        voltage=at_idle.voltage,
        current=at_idle.current,
        ac_slice=case.windings.ac_slice,
        work=case.design.work_piece,
        devices=devices_of(case.design.mains),
        flux=at_idle.flux_per_turn,
        lengths=case.part(Part.HEATING, lambda: tuple(_lengths(case))) or (),
        work_piece=run or None,
        fed=case.fed if run else None,
        parts=case.network.parts if run else (),
    )
