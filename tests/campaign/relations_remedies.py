"""Relations of what is recommended and of rectified loads."""

from __future__ import annotations

from math import pi, sqrt

from fem.design.load import RectifierKind
from fem.estimation.parts import Part
from fem.sweeps.axes import job_at
from geometries.windings.arrangement import place
from tests.campaign.relations import NotHere, Subject, at_most, sized

RECTIFIED = 5e-3
"""Phasors hold the core linear in each period, the time domain does not."""
WIRE = 1e-4
"""What the alternating-current resistance of another wire moves."""


def remedy(subject: Subject) -> list[str]:
    """The fewest turns keep to the wished flux density, one turn fewer does not (or takes the volts by resistance).

    Both are put in, thin wire in the same block with the resistance that the present wire would have.
    """
    design, windings = subject.design, subject.design.windings
    if design.core.second is not None or design.limits.idle_current is not None:
        raise NotHere
    if windings.arrangement.value == "interleaved":
        raise NotHere
    job, state = sized(subject), subject.found["build"]["primary"]
    fewest = subject.again({Part.REMEDIES, *(subject.wanted & {Part.CONDUCTOR_SLICE})})["saturation"]
    turns = fewest["fewest_primary_turns"]
    if turns is None or not 1 < turns <= 20_000:
        raise NotHere
    block = next(block for block in place(design.core, windings) if block.winding == "primary")
    wire = 0.7 * sqrt(block.height * block.build / turns) * 1e3 / windings.primary.wires_in_hand
    found = []
    for count in (turns, turns - 1):
        ohms = state["resistance_ohm"] * state["ac_ratio"] * count / windings.primary.turns
        changes = {
            "turns": count,
            "conductor": {"round": f"{max(0.8 * wire - 0.03, 0.05):.4f} mm"},
            "resistance": f"{ohms!r} ohm",
            "resistance_temperature": f"{design.temperature!r} K",
        }
        changed = subject.of(job_at(job, {f"windings.primary.{key}": value for key, value in changes.items()}))
        density = changed["saturation"]["peak_flux_density_T"]
        if count == turns:
            found += at_most("flux density with the fewest turns", density, design.limits.flux_density, WIRE)
        elif changed["saturation"]["volts_per_turn_V"] * count > 0.95 * design.mains.voltage:
            found += at_most("flux density with a turn fewer", design.limits.flux_density, density, WIRE)
    return found


def full_wave_without_drop(subject: Subject) -> list[str]:
    """Behind a full-wave rectifier of no drop a resistance takes the current it takes without."""
    load = subject.design.load
    if load is None or load.resistance == 0:
        raise NotHere
    plain = {"resistance": f"{load.resistance!r} ohm"}
    before = subject.changed({"load": plain})["load"]
    after = subject.changed({"load": {**plain, "rectifier": "full-wave"}})["load"]
    found = []
    for key in ("current_rms_A", "power_W"):
        if abs(before[key] - after[key]) > RECTIFIED * before[key]:
            found.append(f"{key}: {before[key]:.8g} against {after[key]:.8g}")
    return found


def larger_drop(subject: Subject) -> list[str]:
    """Valves that drop more leave less for the load."""
    load = subject.design.load
    if load is None or load.rectifier is RectifierKind.NONE or load.forward_drop > 9.5:
        raise NotHere
    more = subject.changed({"load.forward_drop": f"{load.forward_drop + 0.2!r} V"})["load"]
    less = subject.again()["load"]
    if less is None or more is None:
        raise NotHere
    return at_most("load current", more["current_rms_A"], less["current_rms_A"], 1e-5)


def first_peaks(subject: Subject) -> list[str]:
    """A short closed at the worst moment: at least the settled peak, at most twice that (R and L in series).

    The leads repel as two long conductors do: mu0 i^2 / (2 pi d). Shunts that saturate let more through.
    """
    short = subject.again({Part.FIRST_PEAKS, *(subject.wanted & {Part.CONDUCTOR_SLICE})})["short_circuit"]
    peak, settled = short["secondary_first_peak_A"], sqrt(2) * short["secondary_current_rms_A"]
    if peak is None:
        raise NotHere
    found = []
    if subject.design.fitted_shunt is None:
        found += at_most("settled peak above the first", settled, peak, 0.02)
        found += at_most("first peak above twice the settled one", peak, 2 * settled, 0.02)
    leads = subject.design.leads
    if leads is not None:
        force = 4e-7 * pi * peak**2 / (2 * pi * leads.spacing)
        if abs(force - short["lead_force_N_per_m"]) > 1e-6 * force:
            found.append(f"force of the leads: {short['lead_force_N_per_m']:.8g} against {force:.8g}")
    return found
