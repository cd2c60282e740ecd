"""What to mind: first what follows from the numbers, then what always holds at this work."""

from __future__ import annotations

from math import inf, pi

from fem.circuit.steady.load import PHASOR_BOUND
from fem.constants import MU0
from fem.design.transformer import Design
from fem.digits import brief
from fem.estimation.stations.results import (
    Build,
    Caution,
    Estimate,
    Idle,
    LoadState,
    Saturation,
    ShortCircuit,
    SwitchOn,
)
from fem.heat.adiabatic import adiabatic_time
from fem.mains.devices import Device, Type, opening_times
from fem.mains.forecasts import Behaviour, forecast_peak
from fem.materials.metals import metal as conductor_metal
from fem.materials.metals import metal_names
from fem.trust.general import GENERAL
from fem.trust.validity import validity
from fem.work.contacts import spot_temperature
from geometries.windings.fit import Fit

SHORT_TIME = {name: (conductor_metal(name).short_time_constant, conductor_metal(name).beta) for name in metal_names()}
"""K [A s^0.5/m2] and beta [degC] of a conductor heated with no heat escaping: IEC 60949:1988, clause 3."""
INSULATION_END = 433.15
"""Temperature [K] at which PVC insulation is given up after a short circuit, 160 degC: BS 7671, table 54.2."""
WINDING_FORCE, LEAD_FORCE = 100.0, 20.0
"""Forces [N], [N/m] from which tying down is worth a sentence: a cable's own weight is some 10 N/m. Common practice,
no source."""
LONGEST_BURST = 120.0
"""Heating slower than this [s] is not warned of: the heat escapes meanwhile. Common practice, no source."""

AT_ONCE = 0.1
"""Time [s] within which a breaker opens in its instantaneous band: IEC 60898-1, table 7."""
SLOW_TRIP = (
    (120.0, "trips it within a minute or two"),
    (3600.0, "trips it within the hour"),
    (7200.0, "trips it within two hours"),
)
"""Time [s] within which a breaker has opened for certain, and how that is said."""
HIGH_IDLE_SHARE = 0.25
"""Share of the breaker's rating above which an idle current is worth a word [-]: common practice, no source."""

PUBLIC_FIELD, WORKER_FIELD = 0.2e-3, 1e-3
"""Reference levels of magnetic flux density at 50 and 60 Hz, r.m.s. [T]: ICNIRP 2010, Health Phys. 99:818-836."""
FIELD_DISTANCES = (0.1, 0.2, 0.5)
"""From the lead's axis to the body [m]."""
BURNS_IN_A_MINUTE = 324.15
"""Temperature of bare metal [K] that burns skin within a minute: ISO 13732-1 (from memory)."""
CONTACT_SOFTENS = 1000.0
"""Inside a contact [K] above which steel softens and copper is near melting: common practice, no source."""
TOUCH_VOLTAGE = 25.0
"""A.c. voltage [V] up to which bare parts may be touched where dry: IEC 60364-4-41, clause 414.4.5 (from memory)."""


def cautions(design: Design, fitted: Fit, estimate: Estimate) -> tuple[Caution, ...]:
    """Return what to mind with one design: what follows from its numbers first.

    Parameters
    ----------
    design
        What is built.
    fitted
        How the windings sit in the window.
    estimate
        What was computed.
    """
    shorted = estimate.short_circuit
    load = estimate.load
    found = [
        *_saturated(estimate.saturation, design.mains.voltage),
        *_breaker(design, estimate.idle, shorted, load, estimate.switch_on),
        *_heating(design, estimate.build, "Shorted", shorted.primary_current_rms, shorted.secondary_current_rms),
        *_forces(shorted),
        *_two_cores(estimate.build),
        *_repeated(estimate),
        *_work(design, estimate),
        *_half_wave(estimate),
        *_phasors(shorted),
        *validity(design, estimate.saturation.peak_flux_density),
    ]
    if load is not None:
        found += _heating(design, estimate.build, "With the load", load.primary_current_rms, load.current_rms)
    found += [Caution(about="fit", text=f"{text[:1].upper()}{text[1:]}.") for text in fitted.warnings]
    voltage = estimate.open_circuit.secondary_voltage_rms
    if voltage > TOUCH_VOLTAGE:
        text = (
            f"The secondary stands at {brief(voltage)} V: above {TOUCH_VOLTAGE:g} V a.c. bare ends must not be touched."
        )
        found.append(Caution(about="touch", text=text))
    found.append(_magnetic_field(shorted.secondary_current_rms))
    if estimate.gaps:
        text = f"Not known: {', '.join(estimate.gaps)}. What could not be computed is not thereby harmless."
        found.append(Caution(about="gaps", text=text))
    return (*found, *(Caution(about=about, text=text) for about, text in GENERAL))


def heating_time(metal: str, current_density: float, start: float, end: float) -> float:
    """Return how long a current takes to heat its conductor with no heat escaping [s].

    Parameters
    ----------
    metal
        A key of `SHORT_TIME`.
    current_density
        R.m.s. current over nominal area [A/m2], > 0.
    start, end
        Temperatures [K].

    Raises
    ------
    UnknownMetal
        If there is none of that name.
    ValueError
        If the current density is not above 0 or the temperature falls.

    Notes
    -----
    t = (K/J)^2 ln((end + beta)/(start + beta)), temperatures in degC: IEC 60949:1988, clause 3. What escapes in more
    than some 5 s makes the true time longer.
    """
    return float(adiabatic_time(conductor_metal(metal), current_density, start, end))


def lead_field(current: float, distance: float) -> float:
    """Return the flux density [T] beside one long straight conductor: mu0 I/(2 pi r).

    Parameters
    ----------
    current
        R.m.s. [A].
    distance
        From its axis [m], > 0.
    """
    return MU0 * current / (2 * pi * distance)


def _saturated(saturation: Saturation, voltage: float) -> list[Caution]:
    found = []
    if saturation.peak_flux_density > saturation.target_flux_density:
        text = (
            f"Idle, the iron of the primary's leg peaks at {saturation.peak_flux_density:.2f} T, above the "
            f"{saturation.target_flux_density:.2f} T to keep to: more hum, heat and idle current."
        )
        found.append(Caution(about="saturation", text=text))
    if saturation.margin is not None and saturation.margin <= 0:
        text = (
            f"The mains, {brief(voltage)} V, lies above the knee of the core: a tenth more voltage adds more than half "
            "to the current."
        )
        found.append(Caution(about="saturation", text=text))
    return found


def _breaker(
    design: Design, idle: Idle, shorted: ShortCircuit, load: LoadState | None, switch_on: SwitchOn | None
) -> list[Caution]:
    rating, breaker = design.mains.breaker_rating, design.mains.breaker
    if rating is None or breaker is None:
        text = "No breaker given: whether the branch circuit carries these currents was not checked."
        return [Caution(about="breaker", text=text)]
    kind = Type(breaker[0]) if breaker[0] in "BCD" else Type.RATING_ONLY
    device = Device(type=kind, rating=rating)
    texts = []
    states = [("Idle", idle.current_rms), ("Shorted", shorted.primary_current_rms)]
    states += [("With the load", load.primary_current_rms)] if load is not None else []
    for state, current in states:
        times = current / rating
        if says := _trips(device, current):
            texts.append(
                f"{state}, the primary draws {brief(current)} A, {times:.2f} times the {breaker} breaker: {says}."
            )
        elif state == "Idle" and times > HIGH_IDLE_SHARE:
            texts.append(f"Idle alone takes {times:.0%} of what the {breaker} breaker carries.")
    if (
        switch_on is not None
        and kind is not Type.RATING_ONLY
        and forecast_peak(device, switch_on.primary_first_peak).behaviour is not Behaviour.HOLDS
    ):
        texts.append(
            f"Switched on at the worst moment the first peak is {brief(switch_on.primary_first_peak)} A: the {breaker} "
            "breaker may trip although nothing is wrong."
        )
    return [Caution(about="breaker", text=text) for text in texts]


def _trips(device: Device, current: float) -> str | None:
    """Say what a breaker does at a current, or None where it carries it."""
    above = current > device.rating
    if device.type is Type.RATING_ONLY:
        return "look up how long its curve allows that" if above else None
    earliest, latest = opening_times(device, current)
    if latest <= AT_ONCE:
        return "trips it at once"
    if earliest <= AT_ONCE:
        return "may trip it at once"
    slow = next((text for most, text in SLOW_TRIP if latest <= most), None)
    return slow or ("may trip it" if earliest < inf else "above its rating" if above else None)


def _heating(design: Design, build: Build, state: str, primary: float, secondary: float) -> list[Caution]:
    windings, leads = design.windings, design.leads
    parts = [
        ("primary", windings.primary.material, primary / build.primary.conductor_area),
        ("secondary", windings.secondary.material, secondary / build.secondary.conductor_area),
    ]
    if leads is not None and leads.length > 0:
        parts.append(("leads", leads.material, secondary / leads.conductor.area))
    times = []
    for name, metal, density in parts:
        if metal not in SHORT_TIME or density <= 0 or design.temperature >= INSULATION_END:
            continue
        seconds = heating_time(metal, density, design.temperature, INSULATION_END)
        if seconds < LONGEST_BURST:
            times.append(f"{name} at {brief(density * 1e-6)} A/mm2 in {brief(seconds, 2)} s")
    if not times:
        return []
    span = f"{design.temperature - 273.15:.0f} to {INSULATION_END - 273.15:.0f} degC"
    text = (
        f"{state}, bursts only: with no heat escaping the {', the '.join(times)} would go from {span}, the end of PVC "
        "insulation (IEC 60949)."
    )
    return [Caution(about="heat", text=text)]


def _forces(shorted: ShortCircuit) -> list[Caution]:
    between = max(shorted.axial_force or 0.0, shorted.radial_force or 0.0)
    leads = shorted.lead_force or 0.0
    if between < WINDING_FORCE and leads < LEAD_FORCE:
        return []
    pushed = [f"a coil is pushed with up to {brief(between)} N"] if shorted.axial_force is not None else []
    pushed += [f"the leads with {brief(leads)} N per metre"] if shorted.lead_force is not None else []
    text = (
        f"At the first peak of a short {' and '.join(pushed)}: wedge the windings, tie the cable down, and again after "
        "the first bursts."
    )
    return [Caution(about="forces", text=text)]


def _repeated(estimate: Estimate) -> list[Caution]:
    heat = estimate.heating
    if heat is None:
        return []
    texts = []
    if heat.idle is not None and heat.idle.too_hot:
        texts.append(f"Left plugged in with nothing connected it overheats: {', '.join(heat.idle.too_hot)}.")
    duty = heat.duty
    if duty is not None and duty.too_hot:
        allowed = f"{brief(100 * duty.allowed_share, 2)} %"
        texts.append(
            f"At this duty, {brief(100 * duty.share, 2)} %, limits of repeated work are passed by "
            f"{', '.join(duty.too_hot)}: at this period no more than {allowed} of the time on."
        )
    if duty is not None and duty.peak_temperatures:
        part, peak = max(duty.peak_temperatures.items(), key=lambda item: item[1])
        if peak > BURNS_IN_A_MINUTE:
            texts.append(
                f"In the steady cycle the hottest part ({part}) reaches {peak - 273.15:.0f} degC: bare metal above "
                "51 degC burns skin within a minute (ISO 13732-1, from memory)."
            )
    return [Caution(about="heat", text=text) for text in texts]


def _work(design: Design, estimate: Estimate) -> list[Caution]:
    state, given = estimate.work_piece, design.work_piece
    if state is None or given is None:
        return []
    found = []
    if state.time_to_melting is not None:
        after = brief(state.time_to_melting, 2)
        text = f"The work begins to melt after {after} s: drops of molten metal fall and spatter."
        found.append(Caution(about="work", text=text))
    elif state.settles_at is None and "work_piece.settles_at_K" not in estimate.gaps:
        text = "Left on, the current melts the work through: time the burst, do not hold it by hand."
        found.append(Caution(about="work", text=text))
    drop = state.cold_current_rms * given.jaws.contact_resistance
    spot = spot_temperature(drop, given.jaws.temperature)
    if spot > CONTACT_SOFTENS:
        text = (
            f"Either jaw's contact drops {brief(1e3 * drop, 2)} mV at first, enough for {spot - 273.15:.0f} degC "
            "inside it (Holm, Electric Contacts): it may weld or spit."
        )
        found.append(Caution(about="contacts", text=text))
    return found


def _half_wave(estimate: Estimate) -> list[Caution]:
    state = estimate.half_wave_supply
    if state is None:
        return []
    text = (
        f"Should one half of a solid-state switch fail, the idle primary draws {brief(state.current_rms, 2)} A r.m.s. "
        f"with {brief(state.current_mean, 2)} A of direct current: it burns out unless a fuse or breaker opens. Use a "
        "switch made for transformers, that closes at the voltage's peak, not at its zero."
    )
    return [Caution(about="relay", text=text)]


def _phasors(shorted: ShortCircuit) -> list[Caution]:
    difference = shorted.phasor_difference
    if difference is None or difference <= PHASOR_BOUND:
        return []
    text = (
        "The core saturates with the lead ends joined: phasor currents are "
        f"{brief(100 * difference, 2)} % off those of the time domain."
    )
    return [Caution(about="model", text=text)]


def _two_cores(build: Build) -> list[Caution]:
    if build.cores == 1:
        return []
    text = (
        "The secondary couples both primaries: while one is on the mains the other is live too, unplugged or not, so "
        "switch and unplug both together. On reduced voltage, with the cable's ends apart, check that they push the "
        "same way: wired against each other they leave no secondary voltage."
    )
    return [Caution(about="two cores", text=text)]


def _magnetic_field(current: float) -> Caution:
    beside = ", ".join(f"{brief(lead_field(current, r) * 1e3, 2)} mT at {r * 100:.0f} cm" for r in FIELD_DISTANCES)
    reach = [lead_field(current, 1.0) / level for level in (WORKER_FIELD, PUBLIC_FIELD)]
    text = (
        f"Shorted, one lead by itself makes {beside}. Reference levels are 1 mT at work, reached at "
        f"{brief(reach[0] * 100, 2)} cm, and 0.2 mT for the public, at {brief(reach[1], 2)} m (ICNIRP 2010). Keep go "
        "and return together and the body out of their loop; nobody with a pacemaker or other implant near."
    )
    return Caution(about="magnetic field", text=text)
