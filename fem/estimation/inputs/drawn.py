"""What enters the circuit of a design as many members, one for each draw of all that is in doubt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics
from fem.characteristics.members import Changes, members, taken
from fem.circuit.block import at
from fem.circuit.block import taken as some
from fem.circuit.equivalent import Circuit
from fem.design.mains import Mains
from fem.design.transformer import Design
from fem.estimation.inputs.circuit import LeadImpedance, built_loss, circuit_of, lead_impedance
from fem.estimation.inputs.joints import joints_of
from fem.estimation.inputs.lays import other_lays
from fem.estimation.inputs.ring import loop_beyond
from fem.estimation.inputs.supply import supply_of
from fem.estimation.inputs.windings import SHARING, Windings, Wound
from fem.mains.supply import SupplyImpedance
from fem.materials.bh import BHCurve
from fem.materials.metals import Metal, metal
from fem.materials.work_metals import WorkMetal, work_metal
from fem.trust.doubts import between
from fem.trust.draws import Draws
from fem.trust.steel_curve import LOSS_TOLD_AT, density_over_table, field_over_table, loss_over_grade

FAR = 0.02
"""Share of draws beyond the derivatives that is told: fewer move no 5 % quantile."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Drawn:
    """One design as n: arrays (n, ...) where the draws move something.

    Parameters
    ----------
    draws
        Of all that is in doubt.
    design
        With the mains voltage of each.
    found, windings, circuit
        As of a lone design; the secondary links all of the primary's flux.
    joints
        (n,) resistance of all joints between winding and work [ohm].
    temperature
        (n,) of windings and leads [K].
    remanence
        (n,) flux left from the last switching off, over the idle peak [-].
    why
        What of the doubts is not in it, in words; empty if nothing.
    """

    draws: Draws
    design: Design
    found: Characteristics
    windings: Windings
    circuit: Circuit
    joints: Any
    temperature: Any
    remanence: Floats
    why: str

    def taken(self, places: Any) -> Drawn:
        """Return some members, the first of the draws, or one by its place as a lone design."""
        alone = np.ndim(places) == 0
        windings: Any = self.windings
        own = tuple(part[places] for part in windings.own_field)
        primary, secondary = (
            replace(wound, resistance=wound.resistance[places], ac_ratio=wound.ac_ratio[places])
            for wound in (windings.primary, windings.secondary)
        )
        return Drawn(
            draws=self.draws if alone else self.draws.first(len(places)),
            design=_with(self.design, lambda column: float(column[places]) if alone else column[places]),
            found=taken(self.found, places),
            windings=replace(
                windings,
                primary=primary,
                secondary=secondary,
                own_field=own,
                screening=windings.screening[places],
                sharing=windings.sharing[places],
            ),
            circuit=at(self.circuit, places) if alone else some(self.circuit, places),
            joints=self.joints[places],
            temperature=self.temperature[places],
            remanence=self.remanence[places],
            why=self.why,
        )


def _with(design: Design, change: Callable[[Any], Any]) -> Design:
    """Return a design with other columns."""
    told: dict[str, Any] = {}
    for name, keys in (
        ("mains", ("voltage", "dip_voltage")),
        ("leads", ("length", "spacing")),
        ("load", ("resistance",)),
    ):
        if (table := getattr(design, name)) is not None:
            columns = {key: value for key in keys if isinstance(value := getattr(table, key), np.ndarray)}
            told[name] = table.model_copy(update={key: change(value) for key, value in columns.items()})
    pair = {name: getattr(design.windings, name) for name in ("primary", "secondary")}
    counts = {name: change(winding.turns) for name, winding in pair.items() if isinstance(winding.turns, np.ndarray)}
    return _turned(design.model_copy(update=told), counts)


def _turned(design: Design, counts: dict[str, Any]) -> Design:
    """Return a design whose windings have so many turns, in the room that they have."""
    if not counts:
        return design
    wound = {name: getattr(design.windings, name).model_copy(update={"turns": n}) for name, n in counts.items()}
    return design.model_copy(update={"windings": design.windings.model_copy(update=wound)})


def drawn(
    design: Design, found: Characteristics, slopes: Slopes, windings: Windings, steel: BHCurve, draws: Draws
) -> Drawn:
    """Return a design as so many as there are draws.

    Parameters
    ----------
    design, found, windings
        What is built, and what was solved for it.
    slopes
        Derivatives of what was solved.
    steel
        Of the core.
    draws
        Of all that is in doubt of the design.
    """
    moved, far = members(found, slopes, _changes(design, found, slopes, windings, draws, steel), steel)
    below, above = windings.strands
    window, ends = (draws["model.leakage"] * found.leakage.band * part + part for part in windings.own_field)
    columns = _columns(design, draws)
    wound = replace(
        windings,
        primary=_wound(design, columns, "primary", windings, draws),
        secondary=_wound(design, columns, "secondary", windings, draws),
        own_field=(window + between(draws["winding.strands"], -below, 0.0, above), ends),
        screening=draws["winding.screening"],
        sharing=draws["winding.sharing"],
    )
    leads = _leads(design, columns, found, draws)
    reasons = [f"{key}: {text}" for key, text in slopes.reasons.items() if key in draws]
    reasons += [slopes.held] if slopes.held else []
    reasons += (
        [f"{far} of {len(draws)} draws lie beyond what derivatives tell and were brought nearer"]
        if far > FAR * len(draws)
        else []
    )
    return Drawn(
        draws=draws,
        design=columns,
        found=moved,
        windings=wound,
        circuit=circuit_of(columns, moved, wound, leads=leads, source=_source(design.mains, draws)),
        joints=leads.joint_resistance,
        temperature=design.temperature + draws["temperature"],
        remanence=draws["core.remanence"],
        why="; ".join(reasons),
    )


def _changes(
    design: Design, found: Characteristics, slopes: Slopes, windings: Windings, draws: Draws, steel: BHCurve
) -> Changes:
    """Return what the characteristics differ by."""
    lays = other_lays(design.core, design.windings, design.fitted_shunt)
    leakage = between(draws["winding.lay"], lays[0], 1.0, lays[1])
    leakage = leakage * (1 + draws["model.leakage"] * found.leakage.band)
    curve, loss = found.magnetising, draws["loss.measured"]
    if design.core.specific_loss is None:
        loss = draws["loss.building"] * draws["loss.grade"] / built_loss(design)
    told_at = curve.flux_at(design.core.flux_place, LOSS_TOLD_AT)
    lengths = [draws[key] if key in draws else np.zeros(len(draws)) for key in slopes.keys]
    return Changes(
        lengths=np.stack(lengths, axis=1),
        stacking_factor=np.minimum(draws["core.stacking_factor"], 1 / design.core.stacking_factor),
        flux_density=density_over_table(draws, steel),
        field=field_over_table(draws, steel),
        flux=1 + draws["model.field"] * curve.discretisation_error,
        ampere_turns=draws["model.idle"],
        loss=loss[:, None] * loss_over_grade(draws, curve.core_loss_flux_per_turn, told_at),
        leakage=leakage,
    )


def _columns(design: Design, draws: Draws) -> Design:
    """Return the design with the mains' voltage, turns, the leads' length and spacing and the load of each draw."""
    leads = design.leads
    volts = {"voltage": design.mains.voltage * draws["mains.voltage"]}
    if (dip := design.mains.dip_voltage) is not None:  # the dip stays: its impedance is drawn by itself
        volts["dip_voltage"] = dip + volts["voltage"] - design.mains.voltage
    told: dict[str, Any] = {"mains": design.mains.model_copy(update=volts)}
    if design.load is not None and "load.resistance" in draws:
        ohms = design.load.resistance * draws["load.resistance"]
        told["load"] = design.load.model_copy(update={"resistance": ohms})
    if leads is not None:
        length = np.maximum(leads.length + draws["leads.length"] * leads.has_cable, 0.1 * leads.length)
        spacing = np.maximum(leads.spacing * draws["leads.spacing"], leads.conductor.bare_width)
        told["leads"] = leads.model_copy(update={"length": length, "spacing": spacing})
    counts = {
        name: getattr(design.windings, name).turns * draws[key]
        for name in ("primary", "secondary")
        if (key := f"windings.{name}.turns") in draws
    }
    return _turned(design.model_copy(update=told), counts)


def _leads(design: Design, columns: Design, found: Characteristics, draws: Draws) -> LeadImpedance:
    """Return leads, joints and what a wide ring's loop differs by; what alternating current adds to leads is held."""
    taken_as = lead_impedance(design)
    leads = lead_impedance(columns, taken_as.ac_ratio)
    material = None if design.leads is None else metal(design.leads.material)
    cable = leads.cable_resistance * draws["leads.resistance"] * _warmer(material, design.temperature, draws)
    joints: Any = np.zeros(len(draws))
    for group in joints_of(design).groups:
        joints += group.resistance.typical * draws[f"joints.{group.kind or 'measured'}"]
    wide = (draws["ring.loop"] - 1) * loop_beyond(design, found.blocks)
    return replace(leads, cable_resistance=cable, joint_resistance=joints, inductance=leads.inductance + wide)


def _source(mains: Mains, draws: Draws) -> SupplyImpedance:
    """Return the source's impedance, and that of a run as it is told."""
    whole = supply_of(mains)
    own = supply_of(mains.model_copy(update={"run_length": None, "run_area": None}))
    more = draws["mains.source_impedance"] - 1
    return SupplyImpedance(
        resistance=whole.resistance + own.resistance * more, inductance=whole.inductance + own.inductance * more
    )


def _wound(design: Design, columns: Design, name: str, windings: Windings, draws: Draws) -> Wound:
    """Return a winding's resistance and what alternating current makes of it."""
    wound: Wound = getattr(windings, name)
    work = design.work_piece
    material: Metal | WorkMetal = metal(getattr(design.windings, name).material)
    if name == "secondary" and work is not None and work.ring is not None:
        material = work_metal(work.metal)
    ratio = 1 + (wound.ac_ratio - 1) * draws["model.slice"]
    if name == "secondary":
        ratio = ratio + (SHARING - draws["winding.sharing"]) * windings.shared[1] / wound.resistance
    ohms = wound.resistance * draws[f"{name}.resistance"] * _warmer(material, design.temperature, draws)
    if (winding := getattr(design.windings, name)).resistance is None:
        ohms = ohms * (getattr(columns.windings, name).net_turns / winding.net_turns)
    return replace(wound, resistance=ohms, ac_ratio=ratio)


def _warmer(material: Metal | WorkMetal | None, temperature: float, draws: Draws) -> Any:
    """Return a metal's resistivity at the draws' temperatures over that at the design's (n,) [-]."""
    if material is None:
        return np.ones(len(draws))
    resistivity = material.resistivity if isinstance(material, Metal) else material.resistivity_at
    return resistivity(temperature + draws["temperature"]) / resistivity(temperature)
