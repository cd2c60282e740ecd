"""Both windings at the design's temperature: lengths, resistances, masses, what their currents do to the leakage."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from fem.assumptions import assumed
from fem.characteristics.characterise import Characteristics
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.direct import at_temperature, resistance
from fem.characteristics.resistance.slice import AcSlice, ac_slice
from fem.characteristics.resistance.windings import Slices, ac_resistance
from fem.design.transformer import Design
from fem.estimation.inputs.lays import own_fields, strands_doubt
from fem.estimation.inputs.ring import ring_of
from fem.materials.metals import metal
from fem.quantity import of
from geometries.shapes.blocks import MOST_SINGLE, Block, blocks_of
from geometries.windings.coils import coils_of
from geometries.windings.turns import Winding

SCREENING, SHARING = (assumed(what).typical for what in ("screening at the ends", "sharing of cables"))


@dataclass(frozen=True, kw_only=True, slots=True)
class Wound:
    """One winding's conductor at the design's temperature; two cores' primaries together, as they are wired."""

    mean_turn: float = of("m", "mean turn")
    resistance: float = of("ohm", "resistance at the stated temperature, direct current")
    ac_ratio: float = of("-", "alternating over direct current resistance")
    conductor_area: float = of("m2", "conductor cross-section, all wires in hand")
    mass: float = of("kg", "conductor mass")

    FORMULAS = """
    mean_turn: mean of the turns' lengths round the leg, rounded at its corners, in the block the turns fill
    conductor_area: section of one conductor times `job.windings.*.wires_in_hand`
    mass: density of `job.windings.*.material` times length and section of all turns
    <fem.estimation.inputs.windings.winding_states>
    resistance: resistivity of `job.windings.*.material` at `job.temperature` times turns times `.mean_turn_m` over
        `.conductor_area_m2`, times what `.ohms` says of its conductor, wires in hand in parallel, extra turns besides;
        what is measured, `job.windings.*.resistance`, stands before [textbooks; resistivities by `rewound list metals`]
    <fem.characteristics.resistance.windings.ac_resistance>
    ac_ratio: k_own + excess in the window 2 depth/mean turn + excess at the ends: skin effect, and loss in the field of
        all turns [P. L. Dowell 1966; J. A. Ferreira 1994]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class Windings:
    """Both windings, and what their currents do to the leakage in the window (share of it that is left) [-].

    `own_field` is what the single turns of even blocks add to the leakage per turn squared in the window and at the
    ends [H], `strands` by how much the fill of cables' circles may lower and raise it [H].
    `screening` is how far thick conductors screen the end turns as they do the window [-], `sharing` how far cables in
    parallel share better than the slice says [-], which takes the ends to look like itself: by `shared` at most the
    leakage is lower [-], and the secondary's resistance [ohm]. The middle of both is told.
    `ac_slice` is the time-harmonic field behind them, where one was needed and not only its ratios were kept.
    """

    primary: Wound
    secondary: Wound
    permeance_ratio: float
    own_field: tuple[float, float] = (0.0, 0.0)
    strands: tuple[float, float] = (0.0, 0.0)
    shared: tuple[float, float] = (0.0, 0.0)
    screening: Any = SCREENING
    sharing: Any = SHARING
    ac_slice: AcSlice | None = None

    @property
    def areas(self) -> tuple[float, float]:
        """Sections that the currents of primary and secondary flow through [m2]."""
        return self.primary.conductor_area, self.secondary.conductor_area


def winding_states(design: Design, found: Characteristics, *, with_slice: bool, slices: Slices = ac_slice) -> Windings:
    """Return both windings' lengths, resistances and masses.

    Parameters
    ----------
    design, found
        The design and its characteristics.
    with_slice
        Whether to solve for currents that are not known beforehand (wires in hand joined at their ends only,
        conductors thicker than a skin depth). Without it wires in hand are taken to share evenly.
    slices
        Where a slice of single conductors comes from, should one be needed.
    """
    pair = (design.windings.primary, design.windings.secondary)
    ac = ac_resistance(
        AcState(
            design.core,
            pair,
            found.blocks,
            frequency=design.mains.frequency,
            temperature=design.temperature,
            transposed=not with_slice,
            shunt=design.fitted_shunt,
        ),
        found.leakage,
        slices=slices,
    )
    primary, secondary = (
        _state(design, winding, blocks_of(found.blocks, ratio.winding), ratio.resistance_ratio)
        for winding, ratio in zip(pair, (ac.primary, ac.secondary), strict=True)
    )
    screened = ac.permeance_ratio
    if (ring := ring_of(design)) is not None:
        ohms, area, mass = ring
        secondary = replace(secondary, resistance=ohms, ac_ratio=1.0, conductor_area=area, mass=mass)
        # its currents screen as those of its own metal, if that is one of windings; steel and the like do not
        screened = screened if design.work_piece and design.work_piece.metal == pair[1].material else 1.0
    shared = shared_doubt(pair[1], secondary) if with_slice else (0.0, 0.0)
    secondary = replace(secondary, ac_ratio=secondary.ac_ratio - SHARING * shared[1] / secondary.resistance)
    return Windings(
        primary=primary,
        secondary=secondary,
        permeance_ratio=screened,
        own_field=own_fields(design, found.blocks),
        strands=strands_doubt(design, found.blocks),
        shared=shared,
        ac_slice=ac.slice,
    )


SHARED_LEAKAGE, SHARED_LOSS = 0.005, 0.85
"""Of the leakage, and of what sharing adds to the resistance, by how much the slice may be too high: six lays of two to
four cables in hand were 0.0 to 0.45 % and 0.27 to 0.85 of it lower by the inductances of their three-dimensional fields
(tests/physics/test_sharing_3d.py)."""


def shared_doubt(winding: Winding, wound: Wound) -> tuple[float, float]:
    """Return by how much leakage [-] and resistance [ohm] may be lower for how few parallel cables share."""
    if winding.wires_in_hand == 1 or winding.conductor.cable is None or winding.conductors > MOST_SINGLE:
        return 0.0, 0.0
    return SHARED_LEAKAGE, SHARED_LOSS * max(wound.ac_ratio - 1, 0.0) * wound.resistance


def computed_resistance(design: Design, blocks: tuple[Block, ...]) -> float:
    """Return the primary's resistance at the design's temperature [ohm] by wire and turns, whatever was measured."""
    plain = design.windings.primary.model_copy(update={"resistance": None})
    return _state(design, plain, blocks_of(blocks, "primary"), 1.0).resistance


def _state(design: Design, winding: Winding, blocks: tuple[Block, ...], ac_ratio: float) -> Wound:
    """Return one winding's state; what was measured, of one core's primary where there are two, overrides."""
    core, material = design.core, metal(winding.material)
    coils = coils_of(design.windings, blocks)
    turns = sum(coil.turns for coil in coils)
    computed = [coil.length(core) for coil in coils]
    mean_turn = winding.mean_turn or sum(computed) / turns
    lengths = [length * mean_turn * turns / sum(computed) for length in computed]
    if winding.resistance is None:
        ohms = sum(
            resistance(
                material,
                length=length,
                area=coil.wires_in_hand * coil.conductor.conducting_area,
                temperature=design.temperature,
            )
            for coil, length in zip(coils, lengths, strict=True)
        )
    else:
        ohms = at_temperature(
            material,
            winding.resistance,
            measured_at=winding.resistance_temperature,
            temperature=design.temperature,
        )
    alike, parallel = (core.count, core.parallel_primaries) if blocks[0].winding == "primary" else (1, 1)
    return Wound(
        mean_turn=mean_turn,
        resistance=ohms * alike / parallel**2,
        ac_ratio=ac_ratio,
        conductor_area=parallel * winding.wires_in_hand * winding.conductor.area,
        mass=alike
        * material.density
        * sum(length * coil.wires_in_hand * coil.conductor.area for coil, length in zip(coils, lengths, strict=True)),
    )
