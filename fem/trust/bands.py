"""Between which values results may well lie: each source of doubt is put through the model, not guessed at its end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import hypot, sqrt

from fem.characteristics.characterise import Characteristics
from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.losses import BUILDING_FACTORS, CoreBuild
from fem.circuit.steady.idle import idle
from fem.circuit.steady.short_circuit import short_circuit
from fem.constants import MU0
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.joints_of import joints_of
from fem.estimation.network import leakage_band, leakage_permeance
from fem.materials.loss import LOWEST_SHARE
from fem.quantity import Band
from geometries.cores.stacked import Joint

MAINS = 0.10
"""Tolerance of the mains voltage: IEC 60038 (from memory)."""
STEEL, STACKING, DIMENSIONS = 0.02, 0.015, 0.01
"""Relative doubt of the flux a core takes at given ampere-turns: spread of a grade's B at given H, stacking factor of a
hand-measured stack, callipers on punched edges. Common practice, no source."""
RECIPE = 0.03
"""Band of the 2-D recipe for the leakage; see tests/physics/test_end_recipe.py."""
RECIPE_COILS = 0.06
"""The same for more than two coils or a core of two legs: the recipe's corner was fitted to two coils on shell cores
(interleaved +2.4 and +4.4 %, two-leg -3 to +1 %)."""


def bands(case: Case) -> dict[str, Band]:
    """Return the bands of the results that have one, by dotted JSON key; one that fails is a gap."""
    design, found, circuit, ratio = case.design, case.found, case.circuit, case.windings.permeance_ratio
    sources: dict[str, Callable[[], Band]] = {
        "saturation.peak_flux_density_T": lambda: _flux(found, circuit),
        "idle.current_rms_A": lambda: _idle_current(design, found, circuit),
        "idle.core_loss_W": lambda: _core_loss(design, circuit),
        "short_circuit.secondary_current_rms_A": lambda: _shorted(design, found, ratio, circuit),
    }
    tried = {key: case.gaps.attempt(f"bands.{key}", source) for key, source in sources.items()}
    return {**{key: band for key, band in tried.items() if band is not None}, **_leakage(found, ratio)}


def _flux(found: Characteristics, circuit: Circuit) -> Band:
    flux = idle(circuit).peak_flux_per_turn
    b = found.magnetising.by_place(flux)[found.flux_place]
    share = hypot(STACKING, DIMENSIONS, MAINS, found.magnetising.discretisation_error)
    why = f"mains +-{MAINS:.0%}, stacking +-{STACKING:.1%}, dimensions +-{DIMENSIONS:.0%}"
    return Band(low=b * (1 - share), high=b * (1 + share), why=why)


def _idle_current(design: Design, found: Characteristics, circuit: Circuit) -> Band:
    """Put the doubt of flux and mains through the curve; add what the doubt of the joint gap asks for."""
    share = hypot(STEEL, STACKING, DIMENSIONS, MAINS, found.magnetising.discretisation_error)
    low, high = (idle(circuit.with_voltage(circuit.voltage_rms * (1 + s))) for s in (-share, share))
    found.magnetising.check(high.peak_flux_per_turn)
    core = design.core
    gaps = core.joint_gap_band
    crossings = 4 if core.joint is Joint.INTERLEAVED else 2
    # what the gap takes of the flux density at that end of the band, as r.m.s. current of a sinusoid
    bridged = 0.5 if core.joint is Joint.INTERLEAVED else 1.0
    area = core.leg_width * core.frame.iron_depth
    per_gap = [
        bridged * crossings * s.peak_flux_per_turn / area / MU0 / circuit.primary_turns / sqrt(2) for s in (low, high)
    ]
    return Band(
        low=max(low.current_rms + (gaps[0] - core.joint_gap) * per_gap[0], 0.0),
        high=high.current_rms + (gaps[1] - core.joint_gap) * per_gap[1],
        why=(
            f"mains +-{MAINS:.0%}, steel +-{STEEL:.0%}, stacking +-{STACKING:.1%}, dimensions +-{DIMENSIONS:.0%}, "
            f"joint gap {gaps[0] * 1e3:.2g} to {gaps[1] * 1e3:.2g} mm"
        ),
    )


def _core_loss(design: Design, circuit: Circuit) -> Band:
    """The grade's figures are guaranteed maxima of strip; a built core adds to them."""
    low, high = BUILDING_FACTORS[CoreBuild(design.core.joint.value)]
    loss = idle(circuit).core_loss
    return Band(
        low=loss * LOWEST_SHARE * low,
        high=loss * high,
        why=f"sheet {LOWEST_SHARE:.2f} to 1 times the grade's figure, built core {low:.2f} to {high:.2f} times sheet",
    )


def _leakage(found: Characteristics, permeance_ratio: float) -> dict[str, Band]:
    leak = found.leakage
    permeance, recipe = leakage_permeance(leak, permeance_ratio), leak.recipe_permeance
    low, high = leakage_band(leak, permeance_ratio)
    screened = "; currents in thick conductors" if abs(permeance_ratio - 1) > 0.1 * leak.band else ""
    bands = {
        "leakage.permeance_H": Band(
            low=permeance * low,
            high=permeance * high,
            why=f"3-D end region against reference fields +-{100 * leak.model_band:g} %, discretisation; turns as even "
            f"blocks, linear iron{screened}",
        ),
    }
    if recipe is not None:
        fitted = len(found.blocks) == 2 and found.section.mirror_symmetric
        share = RECIPE if fitted else RECIPE_COILS
        bands["leakage.recipe_permeance_H"] = Band(
            low=recipe * (1 - share),
            high=recipe * (1 + share),
            why=f"2-D recipe against 3-D reference fields +-{share:.0%}",
        )
    return bands


def _shorted(design: Design, found: Characteristics, permeance_ratio: float, circuit: Circuit) -> Band:
    """Put the leakage's band, the joints' and, where it was assumed, the supply's impedance through the circuit."""
    lowest, highest = leakage_band(found.leakage, permeance_ratio)
    joints = None if design.leads is None else joints_of(design.leads)
    below = 0.0 if joints is None else joints.low - joints.typical
    above = 0.0 if joints is None else joints.high - joints.typical
    stiff = replace(
        circuit,
        leakage_permeance=_scaled(circuit.leakage_permeance, lowest),
        lead_resistance=max(circuit.lead_resistance + below, 0.0),
    )
    if design.mains.source_assumed:
        stiff = replace(stiff, source_resistance=0.0, source_inductance=0.0)
    soft = replace(
        circuit,
        leakage_permeance=_scaled(circuit.leakage_permeance, highest),
        lead_resistance=circuit.lead_resistance + above,
    )
    reasons = [f"leakage {lowest - 1:+.1%} to {highest - 1:+.1%}"]
    if joints is not None and joints.high > joints.low:
        reasons.append(f"joints {joints.low * 1e3:.2g} to {joints.high * 1e3:.2g} mohm")
    if design.mains.source_assumed:
        reasons.append("supply from none to the reference impedance assumed")
    return Band(
        low=short_circuit(soft).secondary_current_rms,
        high=short_circuit(stiff).secondary_current_rms,
        why="; ".join(reasons),
    )


def _scaled(leakage: float | LeakageCurve, factor: float) -> float | LeakageCurve:
    if isinstance(leakage, LeakageCurve):
        return LeakageCurve(ampere_turns=leakage.ampere_turns, flux_per_turn=factor * leakage.flux_per_turn)
    return factor * leakage
