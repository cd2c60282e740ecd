"""The circuit at both ends of what is in doubt of it: leakage, joints, and a supply that was assumed."""

from __future__ import annotations

from dataclasses import replace

from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import leakage_band
from fem.estimation.inputs.joints import joints_doubt
from fem.estimation.inputs.lays import TOLD_APART, other_lays


def circuit_ends(case: Case, circuit: Circuit) -> tuple[Circuit, Circuit, str]:
    """Return the circuit that lets least current through, the one that lets most through, and why they differ."""
    design = case.design
    lays = other_lays(design.core, design.windings, design.fitted_shunt)
    lowest, highest = leakage_band(case.found.leakage, case.windings, lays)
    below, above, joints = joints_doubt(design)
    stiff = replace(
        circuit,
        leakage_permeance=_scaled(circuit.leakage_permeance, lowest),
        lead_resistance=max(circuit.lead_resistance + below, 0.0),
        secondary_resistance=circuit.secondary_resistance - case.windings.shared[1],
    )
    if design.mains.source_assumed:
        stiff = replace(stiff, source_resistance=0.0, source_inductance=0.0)
    soft = replace(
        circuit,
        leakage_permeance=_scaled(circuit.leakage_permeance, highest),
        lead_resistance=circuit.lead_resistance + above,
    )
    reasons = [f"leakage {lowest - 1:+.1%} to {highest - 1:+.1%}", *joints]
    if lays[1] - lays[0] > TOLD_APART:
        reasons[0] += ", for nobody told how the turns lie"
    if design.mains.source_assumed:
        reasons.append("supply from none to the reference impedance assumed")
    return soft, stiff, "; ".join(reasons)


def _scaled(leakage: float | LeakageCurve, factor: float) -> float | LeakageCurve:
    if isinstance(leakage, LeakageCurve):
        return LeakageCurve(ampere_turns=leakage.ampere_turns, flux_per_turn=factor * leakage.flux_per_turn)
    return factor * leakage
