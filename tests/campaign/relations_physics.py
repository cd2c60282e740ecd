"""Relations of physics: monotone laws, exact proportions, similarity."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

from fem.estimation.parts import Part
from fem.materials.metals import metal
from fem.sweeps.axes import job_at
from geometries.shapes.blocks import MOST_SINGLE
from tests.campaign.always import results
from tests.campaign.balances import ORDER
from tests.campaign.relations import SOLVED, NotHere, Subject, at_most, sized

TIME_DOMAIN = 1e-5
"""Periodic states are found to about this."""


def more_volts(subject: Subject) -> list[str]:
    """More mains voltage drives more flux and more idle current."""
    mains = subject.design.mains
    if mains.voltage * 1.05 > 1000:
        raise NotHere
    changes = {"mains.voltage": f"{1.05 * mains.voltage!r} V"}
    if mains.dip_voltage is not None and mains.dip_current is not None:
        # the same dip of another voltage would be that of another supply
        changes["mains.dip_voltage"] = f"{1.05 * mains.dip_voltage!r} V"
        changes["mains.dip_current"] = f"{min(1.05 * mains.dip_current, 1000.0)!r} A"
    before, after = subject.again(), subject.changed(changes)
    flux, current = "peak_flux_density_T", "current_rms_A"
    return [
        *at_most("flux density", before["saturation"][flux], after["saturation"][flux], TIME_DOMAIN),
        *at_most("idle current", before["idle"][current], after["idle"][current], TIME_DOMAIN),
    ]


def more_stack(subject: Subject) -> list[str]:
    """A higher stack has less flux density: its flux is the same, and it draws no more current to drop volts on."""
    stack = subject.design.core.stack_depth
    if stack * 1.2 > 0.5:
        raise NotHere
    before = subject.again()["saturation"]["peak_flux_density_T"]
    after = subject.changed({"core.stack_depth": f"{1.2 * stack:.6f} m"})["saturation"]["peak_flux_density_T"]
    return at_most("flux density", after, before, SOLVED)


def fewer_turns(subject: Subject) -> list[str]:
    """Fewer turns in the same block have more flux, as long as little of the voltage is dropped on the way to it.

    Where the drop is large it is no law: then fewer turns take the same volts with more current.
    """
    windings, core = subject.design.windings, subject.design.core
    parts = _parts(subject, "primary")
    fewer = windings.primary.turns - max(windings.primary.turns // (10 * parts), 1) * parts
    if fewer < 1:
        raise NotHere
    job = sized(subject)
    before, after = subject.of(job), subject.of(job_at(job, {"windings.primary.turns": fewer}))
    in_series = core.count / core.parallel_primaries
    if after["saturation"]["volts_per_turn_V"] * fewer * in_series < 0.9 * subject.design.mains.voltage:
        raise NotHere
    key = "peak_flux_density_T"
    return at_most("flux density", before["saturation"][key], after["saturation"][key], TIME_DOMAIN)


def half_the_secondary(subject: Subject) -> list[str]:
    """The secondary's volts without load go as its turns, its leakage reactance as their square.

    Against the core's volts per turn: half as many thick conductors lie in another field, and with them the primary's
    a.c. resistance and the small drop across it change.
    """
    turns, parts = subject.design.windings.secondary.turns, _parts(subject, "secondary")
    single = turns // 2 * subject.design.windings.secondary.wires_in_hand
    if turns % (2 * parts) or single <= MOST_SINGLE:
        raise NotHere
    job = sized(subject)
    before, after = subject.of(job), subject.of(job_at(job, {"windings.secondary.turns": turns // 2}))
    volts = [
        found["open_circuit"]["secondary_voltage_rms_V"] / found["saturation"]["volts_per_turn_V"]
        for found in (before, after)
    ]
    leak = [found["leakage"]["end_turn_reactance_secondary_ohm"] for found in (before, after)]
    pairs = {"secondary voltage": (volts[0], 2 * volts[1]), "end-turn reactance": (leak[0], 4 * leak[1])}
    own = {"end-turn reactance": 0.3 / single}  # fewer turns hold more in their own field
    return [
        f"{name}: {a!r} against {b!r}"
        for name, (a, b) in pairs.items()
        if abs(a - b) > (TIME_DOMAIN + own.get(name, 0.0)) * abs(b)
    ]


def _parts(subject: Subject, name: str) -> int:
    """Return what a winding's turns must be a multiple of."""
    windings = subject.design.windings
    if windings.arrangement.value != "interleaved":
        return 1
    return windings.sections * (2 if windings.ends == name else 1)


def longer_leads(subject: Subject) -> list[str]:
    """Longer leads add resistance and reactance to a passive circuit: less current into a short."""
    leads = subject.design.leads
    if leads is None or leads.length * 1.3 + 0.1 > 50:
        raise NotHere
    return _less_short_current(subject, {"leads.length": f"{1.3 * leads.length + 0.1!r} m"})


def worse_joints(subject: Subject) -> list[str]:
    """A dirty joint more is a resistance more: less current into a short, in its band too."""
    leads = subject.design.leads
    # what is told first takes the place of what was assumed
    if leads is None or not leads.joints_told or (leads.joints is not None and leads.joints.dirty > 95):
        raise NotHere
    dirty = 0 if leads.joints is None else leads.joints.dirty
    return _less_short_current(subject, {"leads.joints.dirty": dirty + 3})


def _less_short_current(subject: Subject, changes: dict[str, Any]) -> list[str]:
    parts = {Part.BANDS}
    before, after = subject.again(parts), subject.changed(changes, parts)
    key = "secondary_current_rms_A"
    found = at_most("short-circuit current", after["short_circuit"][key], before["short_circuit"][key], 1e-9)
    for end in ("low", "high"):
        bands = [one["bands"][f"short_circuit.{key}"][end] for one in (after, before)]
        found += at_most(f"{end} end of its band", *bands, 1e-9)
    return found


def less_load_resistance(subject: Subject) -> list[str]:
    """A smaller resistance takes more current, behind a rectifier too."""
    load = subject.design.load
    if load is None or load.resistance == 0:
        raise NotHere
    before, after = subject.again(), subject.changed({"load.resistance": f"{0.8 * load.resistance!r} ohm"})
    tolerance = 1e-9 if before["load"]["rectifier"] is None else TIME_DOMAIN
    return at_most("load current", before["load"]["current_rms_A"], after["load"]["current_rms_A"], tolerance)


def no_load_resistance(subject: Subject) -> list[str]:
    """A load of no resistance is a short circuit."""
    found = subject.changed({"load": {"resistance": "0 ohm"}})
    load, short = found["load"], found["short_circuit"]
    pairs = {
        "secondary": (load["current_rms_A"], short["secondary_current_rms_A"]),
        "primary": (load["primary_current_rms_A"], short["primary_current_rms_A"]),
        "power": (load["input_power_W"], short["input_power_W"]),
    }
    return [f"{name}: {a!r} against {b!r}" for name, (a, b) in pairs.items() if abs(a - b) > 1e-9 * abs(b)]


def hotter_copper(subject: Subject) -> list[str]:
    """A metal's resistance rises in a straight line: 1 + alpha (T - 20 degC)."""
    design = subject.design
    if design.temperature + 20 > 523:
        raise NotHere
    hotter = design.temperature + 20
    before, after = subject.again(), subject.changed({"temperature": f"{hotter!r} K"})
    found = []
    for name in ("primary", "secondary"):
        alpha = metal(getattr(design.windings, name).material).temperature_coefficient
        ratio = (1 + alpha * (hotter - 293.15)) / (1 + alpha * (design.temperature - 293.15))
        a, b = (one["build"][name]["resistance_ohm"] for one in (after, before))
        if abs(a - ratio * b) > 1e-9 * a:
            found.append(f"{name}: {a!r} against {ratio * b!r}")
    return found


def wound_resistance(subject: Subject) -> list[str]:
    """rho times length over area, with IEC 60028's copper: 1/58 ohm mm2/m at 20 degC."""
    found, compared = [], False
    for name in ("primary", "secondary"):
        winding = getattr(subject.design.windings, name)
        given = winding.resistance is not None or winding.extra is not None or winding.conductor.cable is not None
        if given or winding.material != "copper":
            continue
        compared = True
        state = subject.found["build"][name]
        in_series, parallel = subject.design.core.count, subject.design.core.parallel_primaries
        cores = in_series / parallel**2 if name == "primary" else 1
        rho = 1 / 58e6 * (1 + 0.00393 * (subject.design.temperature - 293.15))
        area = winding.wires_in_hand * winding.conductor.area
        expected = cores * rho * state["mean_turn_m"] * winding.turns / area
        if abs(state["resistance_ohm"] - expected) > 1e-6 * expected:
            found.append(f"{name}: {state['resistance_ohm']!r} against {expected!r}")
    if not compared:
        raise NotHere
    return found


def larger_breaker(subject: Subject) -> list[str]:
    """The same current is a smaller multiple of a larger breaker, which opens no sooner."""
    breaker = subject.design.mains.breaker
    if breaker is None or breaker.endswith("A"):
        raise NotHere
    rating = subject.design.mains.breaker_rating or 0.0
    larger = f"{breaker[0]}{1.25 * rating:g}"
    after = subject.changed({"mains.breaker": larger}, subject.wanted)["supply"]["devices"][f"{larger} breaker"]
    before = subject.found["supply"]["devices"][f"{breaker} breaker"]
    found = []
    for state, now in after.items():
        ranks = [ORDER.index(one["behaviour"]) for one in (now, before[state])]
        found += [f"{state}: {now['behaviour']} where the smaller {before[state]['behaviour']}"] * (ranks[0] > ranks[1])
        found += at_most(f"{state}: multiple", now["multiple"], before[state]["multiple"], 1e-9)
    return found


def longer_bursts(subject: Subject) -> list[str]:
    """Longer bursts with the same pauses leave every part hotter, and no part is relieved."""
    duty = subject.design.duty
    if duty is None or duty.on_time * 1.2 > 3600:
        raise NotHere
    parts = {Part.HEATING, *(subject.wanted & {Part.CONDUCTOR_SLICE})}
    before = subject.again(parts)["heating"]
    after = subject.changed({"duty.on_time": f"{1.2 * duty.on_time!r} s"}, parts)["heating"]
    if before is None or after is None or before["duty"] is None or after["duty"] is None:
        raise NotHere
    found = [f"{name} relieved" for name in before["duty"]["too_hot"] if name not in after["duty"]["too_hot"]]
    hot, hotter = before["duty"]["peak_temperatures_K"], after["duty"]["peak_temperatures_K"]
    if hot is None and hotter is not None:
        found.append("a shorter burst is too much, a longer one is not")
    if hot is None or hotter is None:
        return found
    # found to 1 K from cycle to cycle
    return found + [
        f"{name}: {hotter[name]:.6g} K after {hot[name]:.6g} K" for name in hot if hotter[name] < hot[name] - 1
    ]


def flux_by_the_voltage(subject: Subject) -> list[str]:
    """U = 4.44 f N A B (Faraday, a sine), less what is dropped; the leg's mean flux density in its iron."""
    found, design = subject.found, subject.design
    core = design.core
    in_series = core.count / core.parallel_primaries
    area = in_series * core.leg_iron_area
    turns = design.windings.primary.net_turns
    most = sqrt(2) * design.mains.voltage / (2 * pi * design.mains.frequency * turns * area)
    peak = results(found)["saturation.peak_flux_density_T"]
    # drops take away; flat-topped voltages behind a drop raise the peak for a given r.m.s. by far less than this
    return at_most("flux density against Faraday's", peak, most, 0.02)
