"""From a design and its characteristics to the circuit: the one place where turns meet the field's numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache, wraps
from math import pi
from typing import Any, TypeVar

import numpy as np

from fem.arrays import Floats, of_each
from fem.assumptions import assumed
from fem.characteristics.characterise import Characteristics
from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.magnetising.planar import REFERENCE_FREQUENCY
from fem.characteristics.resistance.direct import resistance
from fem.characteristics.resistance.leads import lead_ratio
from fem.circuit.curves import LeakageCurve, MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.knee import Knee, knee_point
from fem.circuit.leads.go_and_return import round_loop_inductance
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.losses import SeparatedLoss
from fem.circuit.steady.half_period import derivative, first_half, rms
from fem.circuit.steady.idle import Idle, idle
from fem.circuit.steady.load import phasor_flux
from fem.design.transformer import Design
from fem.estimation.inputs.joints import joints_of
from fem.estimation.inputs.ring import loop_beyond
from fem.estimation.inputs.supply import supply_of
from fem.estimation.inputs.windings import Windings
from fem.mains.supply import SupplyImpedance
from fem.materials.metals import metal


@dataclass(frozen=True, kw_only=True, slots=True)
class LeadImpedance:
    """Resistance of the cable and of the joints [ohm], loop inductance [H] of the leads.

    The cable's resistance is that with alternating current, `ac_ratio` times that with direct current.
    """

    cable_resistance: float
    joint_resistance: float
    inductance: float
    ac_ratio: float

    @property
    def resistance(self) -> float:
        """Of cable and joints together [ohm]."""
        return self.cable_resistance + self.joint_resistance


def lead_impedance(design: Design, ac_ratio: Any = None) -> LeadImpedance:
    """Return the impedance of leads and joints; without leads there are at most the joints of the winding's ends.

    An `ac_ratio` that is given, (...,) [-], is taken in place of that of the leads' spacing.
    """
    leads, joints = design.leads, joints_of(design).resistance.typical
    if leads is None or not leads.has_cable:
        return LeadImpedance(cable_resistance=0.0, joint_resistance=joints, inductance=0.0, ac_ratio=1.0)
    cables, kind = leads.cables
    areas = np.array([cable.conducting_area for cable in cables])[kind]
    ohms = resistance(metal(leads.material), length=leads.length, area=areas, temperature=design.temperature)
    ratio = np.ones(np.broadcast_shapes(np.shape(kind), np.shape(leads.spacing)))
    spacing, kinds = np.broadcast_to(leads.spacing, ratio.shape), np.broadcast_to(kind, ratio.shape)
    ratio = ratio if ac_ratio is None else np.asarray(ac_ratio, dtype=np.float64)
    for place, cable in enumerate(cables if ac_ratio is None else ()):
        ratio[kinds == place] = lead_ratio(
            cable,
            leads.material,
            spacing=spacing[kinds == place],
            frequency=design.mains.frequency,
            temperature=design.temperature,
        )
    ratio = of_each(ratio)
    # copper spread over the strands' whole circle, as the field between go and return sees it
    circle = pi * np.array([cable.bare_width for cable in cables])[kind] ** 2 / 4
    return LeadImpedance(
        cable_resistance=ratio * ohms,
        joint_resistance=joints,
        inductance=of_each(np.asarray(round_loop_inductance(leads.length, circle, leads.spacing))),
        ac_ratio=ratio,
    )


Made = TypeVar("Made")


def _kept(make: Callable[..., Made]) -> Callable[..., Made]:
    """Keep what is made of the characteristics of a core and arrangement for all its designs; not that of members."""
    kept = lru_cache(maxsize=64)(make)

    @wraps(make)
    def of(found: Characteristics, *beside: Any) -> Made:
        return (kept if found.magnetising.flux_per_turn.ndim == 1 else make)(found, *beside)

    return of


@_kept
def magnetising_curve(found: Characteristics) -> MagnetisingCurve:
    """Return the circuit's magnetising curve; made once for all designs of one core and arrangement."""
    return MagnetisingCurve(ampere_turns=found.magnetising.ampere_turns, flux_per_turn=found.magnetising.flux_per_turn)


@_kept
def knee_of(found: Characteristics, frequency: float) -> Knee:
    """Return the knee point at a frequency [Hz]; it knows no turns."""
    return knee_point(magnetising_curve(found), frequency)


@_kept
def core_loss_curve(found: Characteristics, frequency: float, built: float = 1.0) -> CoreLossCurve:
    """Return the circuit's core loss at a frequency [Hz], so many times that of strip at its grade's figure."""
    loss = separated_loss(found)
    return replace(loss, hysteresis=built * loss.hysteresis, classical=built * loss.classical).at(frequency)


def built_loss(design: Design) -> float:
    """Return the loss of the core as built over that of its sheet, in the middle; 1 of a measured one [-]."""
    if design.core.specific_loss is not None:
        return 1.0
    return assumed(f"building factor, {design.core.joint.value}").typical * assumed("loss of a sheet").typical


@_kept
def separated_loss(found: Characteristics) -> SeparatedLoss:
    """Return the core loss in parts; the grades do not part excess loss, so it counts with the hysteresis."""
    curve = found.magnetising
    return SeparatedLoss(
        frequency=REFERENCE_FREQUENCY,
        flux_per_turn=curve.core_loss_flux_per_turn,
        hysteresis=curve.hysteresis_loss,
        classical=curve.eddy_loss,
        excess=np.zeros_like(curve.eddy_loss),
    )


def leakage_of(leak: Leakage, windings: Windings) -> float | LeakageCurve:
    """Return the leakage as the circuit takes it: a number, or with shunts a curve that saturates."""
    better: float = 1 - windings.sharing * windings.shared[0]
    if leak.ampere_turns is not None and leak.flux_per_turn is not None:
        own = sum(windings.own_field)
        flux = np.multiply(better, leak.flux_per_turn.T).T + np.multiply.outer(own, leak.ampere_turns)
        return LeakageCurve(ampere_turns=leak.ampere_turns, flux_per_turn=flux)
    window = better * leak.window_permeance * windings.permeance_ratio + windings.own_field[0]
    return window + end_permeance(leak, windings)


def end_permeance(leak: Leakage, windings: Windings) -> float:
    """Return what of the leakage per turn squared lies round the end turns, as the circuit has it [H]."""
    screened: float = 1 + (windings.permeance_ratio - 1) * windings.screening * (leak.ampere_turns is None)
    better: float = 1 - windings.sharing * windings.shared[0]
    return better * leak.end_turn_permeance * screened + windings.own_field[1]


def leakage_permeance(leak: Leakage, windings: Windings) -> float:
    """Return the windings' leakage per turn squared as the circuit has it [H]; with shunts, the unsaturated one."""
    taken = leakage_of(leak, windings)
    return taken.unsaturated_permeance if isinstance(taken, LeakageCurve) else taken


def circuit_of(
    design: Design,
    found: Characteristics,
    windings: Windings,
    *,
    leads: LeadImpedance | None = None,
    source: SupplyImpedance | None = None,
) -> Circuit:
    """Return the circuit of a design whose core and arrangement have been characterised.

    Two cores under one secondary are one core with the flux of both. In series each primary has the ampere-turns of its
    turns and takes half the voltage; in parallel each has the whole voltage and half the current, as one primary of
    half the turns would. Leads and source are the design's where not given.
    """
    leads, source = leads or lead_impedance(design), source or supply_of(design.mains)
    leak = found.leakage
    return Circuit(
        voltage_rms=design.mains.voltage,
        frequency=design.mains.frequency,
        source_resistance=source.resistance,
        source_inductance=source.inductance,
        primary_turns=design.windings.primary.net_turns / design.core.parallel_primaries,
        secondary_turns=design.windings.secondary.net_turns,
        primary_resistance=windings.primary.resistance * windings.primary.ac_ratio,
        secondary_resistance=windings.secondary.resistance * windings.secondary.ac_ratio,
        lead_resistance=leads.resistance,
        lead_inductance=leads.inductance + loop_beyond(design, found.blocks),
        leakage_permeance=leakage_of(leak, windings),
        magnetising=magnetising_curve(found),
        core_loss=core_loss_curve(found, design.mains.frequency, built_loss(design)),
        load_resistance=design.load.resistance if design.load else None,
    )


def idle_state(circuit: Circuit, found: Characteristics) -> Idle:
    """Return the state with nothing connected, of a circuit whose secondary links all of the primary's flux.

    Its secondary voltage is that of the flux which the field says a secondary links.
    """
    first = idle(circuit)
    # nothing hangs on the secondary: only its own voltage changes
    share = coupling(found, first_half(first.flux_per_turn))
    return replace(first, secondary_voltage_rms=share * first.secondary_voltage_rms)


def coupled(circuit: Circuit, found: Characteristics, load_resistance: float = 0.0) -> Circuit:
    """Return the circuit whose secondary links no more of the primary's flux than the field says.

    Parameters
    ----------
    circuit
        With a secondary that links all of it.
    found
        What the field says.
    load_resistance
        Of the state that the circuit is for [ohm].

    Notes
    -----
    The share is that of the r.m.s. voltages over a period of the state's own flux: near saturation, idle, it dips at
    the peaks; loaded, the core carries less flux and the share is higher.
    """
    as_coupled, peak = circuit, None
    for _ in range(_COUPLING_PASSES):
        peak = phasor_flux(as_coupled, load_resistance, peak)
        share = coupling(found, np.multiply.outer(peak, _SINE))
        as_coupled = circuit.with_coupling(share, peak / circuit.magnetising.ampere_turns_at(peak))
    return as_coupled


_COUPLING_PASSES = 2
"""The flux hangs on the coupling by a few per mille at most."""
_SINE = np.sin(np.pi * np.arange(128) / 128)


def coupling(found: Characteristics, half: Floats) -> Any:
    """Return the r.m.s. voltage of a secondary's turn over a primary's, (...,) [-].

    Parameters
    ----------
    half
        (..., n) the latter's flux over half a period [Wb]: a sum of the odd orders that so many samples fix.
    """
    rate = derivative(half.shape[-1]).T
    return rms(found.magnetising.other_flux(half) @ rate) / rms(half @ rate)
