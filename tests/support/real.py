"""Designs whose doubtful values are changed for real: what a shop would have built, estimated as any other design.

Of the example: leads with told joints, a supply that is told, windings that are not measured.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fem.characteristics.characterise import Characteristics
from fem.characteristics.members import LEAKING, Changes, members, taken
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import AcSlice, SliceRatios
from fem.estimation.case import Case
from fem.estimation.fields.source import solve_characteristics
from fem.estimation.inputs.circuit import built_loss
from fem.estimation.inputs.lays import other_lays
from fem.estimation.inputs.windings import SHARING
from fem.estimation.parts import Part
from fem.materials.bh import BHCurve
from fem.trust.doubts import Doubt, between
from geometries.assembly.by_key import with_length
from geometries.windings.arrangement import place

Draw = Mapping[str, float]


def fresh(doubts: Sequence[Doubt], count: int, seed: int) -> list[Draw]:
    """Return what each doubt is in so many draws, each independent of all others."""
    rng = np.random.default_rng(seed)
    columns = {doubt.name: doubt.quantile(rng.uniform(1e-9, 1.0, count)) for doubt in doubts}
    return [{name: float(column[k]) for name, column in columns.items()} for k in range(count)]


class Told:
    """Fields that are told, and a slice that is held but for its own error: what is added to direct current's loss."""

    def __init__(self, found: Characteristics, slices: SliceRatios, more: float) -> None:
        def scaled(ratios: Mapping[str, float]) -> dict[str, float]:
            return {name: 1 + more * (ratio - 1) for name, ratio in ratios.items()}

        self._found = found
        self._slices = replace(
            slices, resistance_ratios=scaled(slices.resistance_ratios), own_ratios=scaled(slices.own_ratios)
        )

    def __call__(self, *_: Any) -> tuple[Characteristics, None]:
        return self._found, None

    def slices(self, _: AcState) -> SliceRatios:
        return self._slices


def real_cases(case: Case, draws: Sequence[Draw], wanted: frozenset[Part], *, solved: bool = False) -> Iterator[Case]:
    """Yield the case of each draw, everything beyond the fields computed anew of changed values of the job.

    Parameters
    ----------
    case
        As described.
    draws
        Of its doubts.
    wanted
        Costly parts.
    solved
        Whether fields are solved for the real lengths, stack and steel, or moved to first order.
    """
    design, resistances = case.design, case.windings
    held = _slice_of(case)
    fields = (_solved(case, draw) for draw in draws) if solved else _moved(case, draws)
    for draw, found in zip(draws, fields, strict=True):
        ohms = {
            name: getattr(resistances, name).resistance * draw[f"{name}.resistance"]
            for name in ("primary", "secondary")
        }
        shared = (draw["winding.sharing"] - SHARING) * resistances.shared[1] / resistances.secondary.ac_ratio
        ohms["secondary"] -= shared
        leads = design.leads
        assert leads is not None
        assert leads.joint_resistance is not None
        # the section that has these ohms, as ohms by section are no straight line
        section = leads.conductor.area
        for _ in range(4):
            other = leads.model_copy(update={"area": section}).conductor
            section = other.area / other.conducting_area * leads.conductor.conducting_area / draw["leads.resistance"]
        windings = {
            name: getattr(design.windings, name).model_copy(
                update={"resistance": ohms[name], "resistance_temperature": design.temperature}
            )
            for name in ohms
        }
        built = design.model_copy(
            update={
                "mains": design.mains.model_copy(update={"voltage": design.mains.voltage * draw["mains.voltage"]}),
                "windings": design.windings.model_copy(update=windings),
                "leads": leads.model_copy(
                    update={
                        "length": leads.length + draw["leads.length"],
                        "spacing": max(leads.spacing * draw["leads.spacing"], leads.conductor.bare_width),
                        "area": section,
                        "joint_resistance": leads.joint_resistance * draw["joints.measured"],
                    }
                ),
                "temperature": design.temperature + draw["temperature"],
            }
        )
        real = Case(design=built, source=Told(found, held, draw["model.slice"]), wanted=wanted | {Part.CONDUCTOR_SLICE})
        # what is left in the core no job tells: it is put where a case keeps what it computed
        left = replace(real.remanence, flux_per_turn=draw["core.remanence"] * real.at_idle.peak_flux_per_turn)
        vars(real)["_remanence_once"] = left
        yield real


def _slice_of(case: Case) -> SliceRatios:
    """Return the slice of the case as described."""
    held: list[SliceRatios] = []

    class Listening(Told):
        def __init__(self) -> None:
            self._found = case.found

        def slices(self, state: AcState) -> SliceRatios:
            found = case.source.slices(state)
            held.append(found.ratios if isinstance(found, AcSlice) else found)
            return held[-1]

    assert Case(design=case.design, source=Listening(), wanted={Part.CONDUCTOR_SLICE}).windings
    return held[0]


def _factors(case: Case, draw: Draw) -> dict[str, float]:
    """Return what a draw makes of what the fields say, besides what changes them."""
    design, found, windings = case.design, case.found, case.windings
    lays = other_lays(design.core, design.windings, design.fitted_shunt)
    strands = between(draw["winding.strands"], -windings.strands[0], 0.0, windings.strands[1])
    leakage = float(between(draw["winding.lay"], lays[0], 1.0, lays[1])) + strands / found.leakage.permeance
    leakage *= 1 + draw["model.leakage"] * found.leakage.band - (draw["winding.sharing"] - SHARING) * windings.shared[0]
    return {
        "flux": 1 + draw["model.field"] * found.magnetising.discretisation_error,
        "ampere_turns": draw["model.idle"],
        "loss": draw["loss.building"] * draw["loss.grade"] / built_loss(design),
        "leakage": leakage,
    }


def _moved(case: Case, draws: Sequence[Draw]) -> Iterator[Characteristics]:
    slopes, stack = case.slopes, 1 / case.design.core.stacking_factor
    factors = [_factors(case, draw) for draw in draws]
    changes = Changes(
        lengths=np.array([[draw.get(key, 0.0) for key in slopes.keys] for draw in draws]),
        stacking_factor=np.array([min(draw["core.stacking_factor"], stack) for draw in draws]),
        flux_density=np.array([draw["steel.flux"] for draw in draws]),
        field=np.array([draw["steel.field"] for draw in draws]),
        **{name: np.array([each[name] for each in factors]) for name in factors[0]},
    )
    rows, _ = members(case.found, slopes, changes, case.sheet.curve)
    return (taken(rows, place) for place in range(len(draws)))


def _solved(case: Case, draw: Draw) -> Characteristics:
    """Solve the fields of what a draw has."""
    core, windings, shunt = case.design.core, case.design.windings, case.design.shunt
    for key, length in zip(case.slopes.keys, case.slopes.values, strict=True):
        if key in draw:
            parts = with_length(core, windings, shunt, key, length + draw[key])
            core, windings, shunt = parts["core"], parts["windings"], parts["shunt"]
    core = core.model_copy(update={"stacking_factor": min(core.stacking_factor * draw["core.stacking_factor"], 1.0)})
    curve, J_s = case.sheet.curve, case.sheet.curve.saturation_polarisation
    steel = BHCurve(
        name="drawn",
        H=curve.H * draw["steel.field"],
        B=curve.B * draw["steel.flux"],
        saturation_polarisation=None if J_s is None else J_s * draw["steel.flux"],
        source="",
    )
    design = case.design.model_copy(update={"core": core, "windings": windings})
    sheet = replace(case.sheet, curve=steel)
    found, _ = solve_characteristics(design, place(core, windings), sheet, lambda _: None)
    factors, curve_of, leak = _factors(case, draw), found.magnetising, found.leakage
    loss = factors["loss"]
    return replace(
        found,
        magnetising=replace(
            curve_of,
            ampere_turns=curve_of.ampere_turns * factors["ampere_turns"],
            flux_per_turn=curve_of.flux_per_turn * factors["flux"],
            other_flux_per_turn=curve_of.other_flux_per_turn * factors["flux"],
            hysteresis_loss=curve_of.hysteresis_loss * loss,
            eddy_loss=curve_of.eddy_loss * loss,
        ),
        leakage=replace(leak, **{name: factors["leakage"] * getattr(leak, name) for name in LEAKING}),
    )
