"""Lines of the report about the machine by itself, joined at its lead ends, into a load, and switched on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import inf

from fem.estimation.result import Estimate
from fem.estimation.stations.built.build import WindingState
from fem.estimation.stations.states.load import LoadState
from fem.quantity import Unknown
from fem.report.text.lines import Line, line_of, lines_of, missing, untold
from fem.report.text.numbers import percent, shown

KNEE = ("knee_voltage", "margin")
LEAKAGE_BY_PART = (
    "window_permeance",
    "end_turn_permeance",
    "shorted_permeance",
    "lead_loop_inductance",
    "inductance_secondary",
    "window_reactance_secondary",
    "end_turn_reactance_secondary",
    "lead_reactance",
    "reactance_secondary",
)
CENTRES = "from the leg's face | above the lower yoke, in mm"
BUILD_TOLD = (
    "cores",
    "primaries",
    "core_mass",
    "fill_factor",
    "spare_height",
    "temperature",
    "primary",
    "secondary",
)
"""What is told otherwise than line by line; everything else of a section is told by its label, unit and band."""


def flux(estimate: Estimate) -> list[Line]:
    """Return the lines about flux at no-load."""
    saturation = estimate.saturation
    peak, target = saturation.peak_flux_density, saturation.target_flux_density
    verdict = f"{'above' if peak > target else 'within'} the {shown(target, 'T')} to keep to"
    elsewhere = (
        "peak_flux_density_by_place",
        "target_flux_density",
        *KNEE,
        "fewest_primary_turns",
        "extra_turns",
        "turns_keep_to",
    )
    lines = lines_of(estimate, "saturation", saturation, untold(saturation, *elsewhere))
    lines[1] = Line(label=lines[1].label, value=lines[1].value, note="; ".join(filter(None, (verdict, lines[1].note))))
    if estimate.build.cores > 1:
        lines[0] = replace(lines[0], note="of a turn round both cores")
    return lines + _by_place(saturation.peak_flux_density_by_place, skip=("centre leg", "wound leg"), target=target)


def no_load(estimate: Estimate) -> list[Line]:
    """Return the lines about the no-load current."""
    names = untold(estimate.idle, "harmonics", "voltage_sweep")
    harmonics = ", ".join(f"{order}: {shown(amps, 'A')}" for order, amps in estimate.idle.harmonics.items())
    return [
        *lines_of(estimate, "idle", estimate.idle, names),
        Line(label="harmonics, r.m.s.", value="", note=harmonics),
    ]


def knee(estimate: Estimate) -> list[Line]:
    """Return the lines about the knee of the core and the turns that cure saturation."""
    return lines_of(estimate, "saturation", estimate.saturation, KNEE) + _remedies(estimate)


def _remedies(estimate: Estimate) -> list[Line]:
    saturation, turns = estimate.saturation, estimate.build.primary.turns
    extra = saturation.extra_turns
    if isinstance(extra, Unknown):
        return [missing(extra, "turns needed")] if extra.gap else []
    if saturation.extra_turns == 0:
        note = f"not needed: {turns} turns already keep to {saturation.turns_keep_to}"
        return [Line(label="turns needed, added", value="0", note=note)]
    return [
        Line(
            label="turns needed, the primary wound anew",
            value=f"{saturation.fewest_primary_turns} turns",
            note=f"instead of {turns}, to keep to {saturation.turns_keep_to}",
        ),
        Line(
            label="turns needed, added in series and aiding",
            value=f"{saturation.extra_turns} turns",
            note="wrong way round they make it worse: try them on reduced voltage first",
        ),
    ]


def leakage(estimate: Estimate) -> list[Line]:
    """Return the lines about leakage."""
    leakage, squared = estimate.leakage, estimate.build.secondary.turns**2
    parts = (
        ("in the window", leakage.window_permeance * squared, leakage.window_reactance_secondary),
        ("in the end turns", leakage.end_turn_permeance * squared, leakage.end_turn_reactance_secondary),
        ("of the lead loop", leakage.lead_loop_inductance, leakage.lead_reactance),
    )
    whole = leakage.reactance_secondary
    lines = [
        Line(
            label=f"at the secondary, {name}",
            value=shown(henries, "H"),
            note=f"{shown(ohms, 'ohm')}, {percent(ohms / whole)}",
        )
        for name, henries, ohms in parts
    ]
    key, henries = "leakage.inductance_secondary_H", leakage.inductance_secondary
    together = line_of(estimate, key, "at the secondary, all together", henries, "H", before=shown(whole, "ohm"))
    lines.append(replace(together, value=shown(henries, "H")))
    first = ("inductance_primary", "permeance", "coupling")
    return lines + lines_of(
        estimate, "leakage", leakage, [*first, *untold(leakage, *first, "recipe_permeance", *LEAKAGE_BY_PART)]
    )


def joints(estimate: Estimate) -> list[Line]:
    """Return the lines about the joints between winding and work."""
    joints = estimate.joints
    chosen = "as told" if joints.told else "taken as the build needs them, not told"
    (whole,) = lines_of(estimate, "joints", joints, ["resistance"])
    whole = replace(whole, note="; ".join(filter(None, (chosen, whole.note))))
    rest = lines_of(estimate, "joints", joints, untold(joints, "resistance", "told", "groups"))
    groups = [
        Line(label=f"  {group.count} {name}", value=shown(group.resistance, "ohm"), note=group.between)
        for name, group in joints.groups.items()
        if group.count
    ]
    return [whole, *groups, *rest]


def joined(estimate: Estimate) -> list[Line]:
    """Return the lines about joined lead ends."""
    shorted = estimate.short_circuit
    lines = lines_of(
        estimate,
        "short_circuit",
        shorted,
        untold(shorted, "peak_flux_density", "phasor_difference", "reduced_voltage_test"),
    )
    places = shorted.peak_flux_density
    if isinstance(places, Unknown):
        return [*lines, missing(places, "peak flux density by place, iron")] if places.gap else lines
    return [*lines, Line(label="peak flux density by place, iron:", value=""), *_by_place(places)]


def reduced_voltage(estimate: Estimate) -> list[Line]:
    """Return the lines about the test on reduced voltage."""
    test, key = estimate.short_circuit.reduced_voltage_test, "short_circuit.reduced_voltage_test"
    if isinstance(test, Unknown):
        return [missing(test, "the test")] if test.gap else []
    lines = lines_of(estimate, key, test, untold(test, "chosen"))
    return [replace(lines[0], note=test.chosen), *lines[1:]]


def windings(estimate: Estimate) -> list[Line]:
    """Return the lines about what is wound."""
    build = estimate.build
    lines = []
    for name, winding in (("primary", build.primary), ("secondary", build.secondary)):
        lines += _winding(name, winding, shown(build.temperature, "K"))
    if not isinstance(build.primaries, Unknown):
        note = f"one behind the other, primaries in {build.primaries}; the primary's turns and length are those of one"
        lines.insert(0, Line(label="cores under the secondary", value=f"{build.cores}", note=note))
    return [
        *lines,
        Line(label="window height to spare", value=shown(build.spare_height, "m"), note="clearances and spacing kept"),
        Line(label="bare conductor in the window", value=percent(build.fill_factor), note="of its area"),
        Line(label="iron", value=shown(build.core_mass, "kg")),
        *lines_of(estimate, "build", build, untold(build, *BUILD_TOLD)),
    ]


def _winding(name: str, winding: WindingState, temperature: str) -> list[Line]:
    size = f"{shown(winding.height, 'm')} along the leg, {shown(winding.build, 'm')} across"
    area = shown(winding.conductor_area, "m2")
    return [
        Line(
            label=f"{name}, turns",
            value=f"{winding.turns}",
            note=f"{size}; {shown(winding.spare_build, 'm')} to spare; {winding.lay}",
        ),
        *(
            []
            if isinstance(winding.places, Unknown)
            else [Line(label=f"{name}, centres of its conductors", value="", note=f"{winding.places}; {CENTRES}")]
        ),
        Line(
            label=f"{name}, mean turn", value=shown(winding.mean_turn, "m"), note=f"{area}, {shown(winding.mass, 'kg')}"
        ),
        Line(
            label=f"{name}, resistance",
            value=shown(winding.resistance, "ohm"),
            note=f"at {temperature}, d.c.; ohms {winding.ohms}; {winding.ac_ratio:.3f} times with a.c.",
        ),
    ]


def load(estimate: Estimate) -> list[Line]:
    """Return the lines about the load."""
    load = estimate.load
    assert isinstance(load, LoadState)
    direct = ("primary_direct_current", "core_direct_ampere_turns")
    lines = lines_of(estimate, "load", load, untold(load, "rectifier", *direct))
    if isinstance(load.rectifier, Unknown):
        return lines
    lines[0] = replace(lines[0], note=f"behind a {load.rectifier} rectifier")
    return lines + lines_of(estimate, "load", load, direct)


def switching_on(estimate: Estimate) -> list[Line]:
    """Return the lines about switching on."""
    switched = estimate.switch_on
    if isinstance(switched, Unknown):
        return []
    lines = lines_of(estimate, "switch_on", switched, untold(switched, "remanence_chosen"))
    return [replace(lines[0], note=switched.remanence_chosen), *lines[1:]]


def _by_place(flux_density: Mapping[str, float], skip: Sequence[str] = (), target: float = inf) -> list[Line]:
    return [
        Line(label=f"  {place}", value=shown(value, "T"), note=f"above {shown(target, 'T')}" if value > target else "")
        for place, value in flux_density.items()
        if place not in skip
    ]
