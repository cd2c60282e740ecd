"""What a job may say and almost surely does not mean: a unit of another size, half of a length, two numbers at odds."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi, sqrt

from fem.assumptions import assumed
from fem.design.transformer import Design
from fem.trust.caution import PRACTICE, Caution, Danger
from geometries.cores.laminations import standard_laminations
from geometries.cores.shell import ShellCore
from geometries.described.quantities import format_quantity

AT_ODDS = 1.3
"""Resistance of a winding, told over computed or the other way round, from which turns, wire or reading are wrong."""
FLUX_DENSITIES = (0.4, 2.2)
"""Between these [T] the idle flux density of any salvaged core lies."""
LARGEST_CABLE = 400e-6
"""Section [m2] beyond which nobody winds cable by hand."""
FEEBLE = 10.0
"""Current [A] into a load at a few volts for which nobody rewinds a transformer."""
PROPORTION = 2.0
"""How far a window's sides may lie from those of sheets without waste, wide-window sheets included."""


def unlikely(design: Design, computed_resistance: float, told_resistance: float) -> Iterator[Caution]:
    """Yield a caution for each input that is legal and almost surely wrong.

    Parameters
    ----------
    design
        What is built.
    computed_resistance, told_resistance
        Of the primary at the design's temperature [ohm], by its wire and turns and as it is taken.
    """
    for text in (
        *_mains(design),
        *_core(design),
        *_flux(design),
        *_resistance(design, computed_resistance, told_resistance),
        *_leads(design),
        *_load(design),
    ):
        yield Caution(about="input", text=text, danger=Danger.DISTURBS, source=PRACTICE)


def _mm(length: float) -> str:
    return format_quantity(length, "m")


def _mains(design: Design) -> Iterator[str]:
    volts, hertz = design.mains.voltage, design.mains.frequency
    if volts < 90:
        yield f"mains.voltage {volts:g} V: was a figure lost? No public mains is below 100 V."
    if 115 <= volts <= 132 and 49 <= hertz <= 51:
        yield f"mains.frequency {hertz:g} Hz at {volts:g} V: was 60 Hz meant? Nearly all mains of this voltage have it."
    if 45 <= hertz <= 65 and min(abs(hertz - usual) for usual in (50, 60)) > 1:
        yield f"mains.frequency {hertz:g} Hz: public mains have 50 or 60 Hz."


def _core(design: Design) -> Iterator[str]:
    core = design.core
    leg, told = core.leg_width, core.model_fields_set
    if not leg / 3 <= core.stack_depth <= 4 * leg:
        yield (
            f"core.stack_depth {_mm(core.stack_depth)} on a leg of {_mm(leg)}: was it cm? A stack is mostly 0.7 to 2 "
            "times as thick as its leg is wide."
        )
    if not isinstance(core, ShellCore) or core.lamination is not None:
        return
    for name, width in (("outer_leg_width", min(core.outer_leg_width)), ("yoke_height", core.yoke_height)):
        if name in told and width > 0.8 * leg:
            yield (
                f"core.{name} {_mm(width)}: E-I sheets have half, {_mm(leg / 2)}. It is as wide as the centre "
                f"leg, {_mm(leg)}: was that measured, or both together?"
            )
    width, height = core.window_width, core.window_height
    sides = f"core.window_width {_mm(width)}, window_height {_mm(height)}"
    near = min(standard_laminations(), key=lambda sheet: abs(sheet.leg_width - leg))
    if width > height:
        yield f"{sides}: swapped? Along the leg a window of E-I sheets is three times as long as wide."
    elif any(not 1 / PROPORTION < side < PROPORTION for side in (width / (leg / 2), height / (1.5 * leg))):
        yield (
            f"{sides}: is it so? Beside a leg of {_mm(leg)} sheets without waste have "
            f"{_mm(leg / 2)} and {_mm(1.5 * leg)}; the nearest standard one, {near.name}, {_mm(near.window_width)} and "
            f"{_mm(near.window_height)}."
        )


def _flux(design: Design) -> Iterator[str]:
    core, mains = design.core, design.mains
    turns = design.windings.primary.net_turns * core.count / core.parallel_primaries
    peak = sqrt(2) * mains.voltage / (2 * pi * mains.frequency * turns * core.narrowest_iron_area)
    low, high = FLUX_DENSITIES
    if mains.voltage >= 90 and not low <= peak <= high:
        yield (
            f"windings.primary.turns {design.windings.primary.turns} ask for {peak:.2g} T: count again. Of "
            f"{core.narrowest_iron_area * 1e4:.3g} cm2 of iron at {mains.voltage:g} V, where salvaged cores run at 1.1 "
            "to 1.7 T; or is a length in cm?"
        )


def _resistance(design: Design, computed: float, told: float) -> Iterator[str]:
    primary = design.windings.primary
    if primary.resistance is None or "conductor" not in primary.model_fields_set:
        return
    if not 1 / AT_ODDS <= told / computed <= AT_ODDS:
        yield (
            f"windings.primary.resistance is {told / computed:.2g} times that of its wire. "
            f"{format_quantity(primary.resistance, 'ohm').capitalize()} against {primary.turns} turns of "
            f"{primary.conductor.label}, {format_quantity(computed, 'ohm')} at the temperature of the job: turns, wire "
            "or reading are wrong."
        )


def _leads(design: Design) -> Iterator[str]:
    leads, secondary = design.leads, design.windings.secondary.conductor
    ring = design.work_piece is not None and design.work_piece.ring is not None
    if leads is None:
        if not ring and (design.load is not None or design.work_piece is not None):
            yield "There are no [leads]: cable on the way takes much. The work then sits on the winding's own ends."
        return
    most = 5 * assumed("dirty joint").high
    if leads.joint_resistance is not None and leads.joint_resistance > most:
        yield (
            f"leads.joint_resistance {format_quantity(leads.joint_resistance, 'ohm')}: was mohm meant? Lugs and clamps "
            f"together have 20 uohm to {format_quantity(most, 'ohm')}."
        )
    least = 2 * design.core.overall_height
    if 0 < leads.length < least:
        yield (
            f"leads.length {_mm(leads.length)}: go plus return, or measured one way? It is less than twice the core's "
            f"height, {_mm(least)}."
        )
    for key, area in (("leads.area", leads.conductor.area), ("windings.secondary.conductor", secondary.area)):
        if area > LARGEST_CABLE:
            yield f"{key} of {format_quantity(area, 'm2')}: was it cm2? Cables wound by hand have 10 to 240 mm2."


def _load(design: Design) -> Iterator[str]:
    if design.load is None:
        return
    windings = design.windings
    volts = design.mains.voltage * windings.secondary.turns / windings.primary.net_turns
    ohms = design.load.resistance
    if volts < 20 and ohms > volts / FEEBLE:
        yield (
            f"load.resistance {format_quantity(ohms, 'ohm')}: was mohm meant? It takes {volts / ohms:.2g} A at "
            f"{volts:.2g} V; work in jaws has 0.1 to 10 mohm."
        )
