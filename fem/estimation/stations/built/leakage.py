"""Leakage of the two windings against each other and of the leads, by part."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Any

from fem.arrays import of_each
from fem.characteristics.leakage.recipe import no_recipe_reason
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import end_permeance, leakage_permeance
from fem.estimation.stations.section import Station
from fem.quantity import Band, Show, Unknown, of
from fem.rows import between
from fem.trust.doubts import RECIPE, RECIPE_COILS


@dataclass(frozen=True, kw_only=True, slots=True)
class Leakage:
    """Leakage of the two windings against each other, and of the leads."""

    permeance: float = of("H", "leakage inductance per turn squared, windings only")
    window_permeance: float = of("H", "of it within the stack's depth (2-D field)")
    end_turn_permeance: float = of("H", "of it in the end turns (3-D field)")
    recipe_permeance: float | Unknown = of("H", "the whole by the 2-D recipe, as a cross-check")
    shorted_permeance: float | Unknown = of("H", "with shunts: the same with the lead ends joined, saturated")
    lead_loop_inductance: float = of("H", "inductance of the lead loop")
    inductance_primary: float = of("H", "leakage with leads, seen from the primary")
    inductance_secondary: float = of("H", "leakage with leads, seen from the secondary")
    window_reactance_secondary: float = of("ohm", "reactance at the secondary, window part")
    end_turn_reactance_secondary: float = of("ohm", "reactance at the secondary, end turns")
    lead_reactance: float = of("ohm", "reactance of the leads")
    reactance_secondary: float = of("ohm", "reactance at the secondary, all together")
    coupling: float = of("-", "share of the primary's flux that the secondary links, at no-load", show=Show.SHARE)

    FORMULAS = """
    inductance_secondary = `job.windings.secondary.turns`**2 * `.permeance_H` + `.lead_loop_inductance_H`
    inductance_primary: `.inductance_secondary_H` by the square of turns, `build.primary.turns` over
        `build.secondary.turns`; primaries in parallel count as one
    window_reactance_secondary = 2 * pi * `job.mains.frequency` * `job.windings.secondary.turns`**2 *
        `.window_permeance_H`
    end_turn_reactance_secondary = 2 * pi * `job.mains.frequency` * `job.windings.secondary.turns`**2 *
        `.end_turn_permeance_H`
    lead_reactance = 2 * pi * `job.mains.frequency` * `.lead_loop_inductance_H`
    reactance_secondary = 2 * pi * `job.mains.frequency` * `.inductance_secondary_H`
    shorted_permeance: leakage flux per ampere-turn on the curve of the shunts at sqrt(2)
        `short_circuit.secondary_current_rms_A` times the turns
    <fem.estimation.inputs.circuit.leakage_permeance>
    permeance = `.window_permeance_H` + `.end_turn_permeance_H`
    <fem.characteristics.leakage.permeance.leakage>
    window_permeance: energy of the planar field of equal and opposite ampere-turns: 2 W/(N I)^2 per metre, times the
        stack's depth [energy of a linear field]
    end_turn_permeance: energy of the 3-D field round the end turns, 2 W/(N I)^2; thick conductors screen it half
        as far as they do the window [energy of a linear field]
    <fem.characteristics.leakage.recipe.end_recipe>
    recipe_permeance: 2 depth P' + n k w P' + (l_outside - n k w) P_round/l_round, P' by the planar slice, P_round by
        the axisymmetric one, k fitted to five cores in three dimensions [own make-up, tests/physics]
    <fem.estimation.inputs.circuit.lead_impedance>
    lead_loop_inductance: inductance of a closed rectangle of two leads, from `job.leads.length` and `job.leads.spacing`
        and the cable's radius [F. W. Grover, Inductance Calculations, 1946, from memory]
    <fem.estimation.inputs.circuit.coupling>
    coupling: flux through the secondary over that through the primary, of the idle field
    """


def leakage(case: Case) -> Leakage:
    """Return the leakage by part, per turn squared and as inductance and reactance."""
    leak, circuit = case.found.leakage, case.circuit
    omega, squared = circuit.angular_frequency, case.design.windings.secondary.turns**2
    whole = leakage_permeance(leak, case.windings)
    ends = end_permeance(leak, case.windings)
    window = whole - ends
    inductance = squared * whole + circuit.lead_inductance
    recipe: float | Unknown | None = leak.recipe_permeance
    if recipe is None:
        recipe = Unknown(no_recipe_reason(case.design.core, case.blocks) or "no recipe")
    return Leakage(
        permeance=whole,
        window_permeance=window,
        end_turn_permeance=ends,
        recipe_permeance=recipe,
        shorted_permeance=_shorted_permeance(case),
        lead_loop_inductance=circuit.lead_inductance,
        inductance_primary=inductance * circuit.primary_turns**2 / squared,
        inductance_secondary=inductance,
        window_reactance_secondary=omega * squared * window,
        end_turn_reactance_secondary=omega * squared * ends,
        lead_reactance=omega * circuit.lead_inductance,
        reactance_secondary=omega * inductance,
        coupling=case.idle_circuit.secondary_turns / case.design.windings.secondary.turns,
    )


def _shorted_permeance(case: Case) -> float | Unknown:
    """Return the leakage flux per ampere-turn [H] at the peak of the settled short-circuit current, with shunts."""
    leak = case.found.leakage
    if leak.ampere_turns is None or leak.flux_per_turn is None:
        return Unknown("no [shunt] is fitted")
    peak = sqrt(2) * case.shorted.secondary_current_rms * case.design.windings.secondary.turns
    permeance: Any = of_each(between(peak, leak.ampere_turns, leak.flux_per_turn)) / peak
    return permeance  # type: ignore[no-any-return]


def _bands(case: Case, found: Leakage) -> dict[str, Band | Unknown]:
    bands: dict[str, Band | Unknown] = {}
    recipe = found.recipe_permeance
    if not isinstance(recipe, Unknown):
        fitted = len(case.blocks) == 2 and case.found.section.mirror_symmetric
        share = RECIPE if fitted else RECIPE_COILS
        why = f"2-D recipe against 3-D reference fields +-{share:.0%}"
        bands["recipe_permeance"] = Band(low=recipe * (1 - share), high=recipe * (1 + share), why=why)
    return bands


LEAKAGE = Station(
    key="leakage",
    result=Leakage,
    compute=leakage,
    banded=("permeance", "shorted_permeance", "lead_loop_inductance", "inductance_secondary"),
    bands=_bands,
)
