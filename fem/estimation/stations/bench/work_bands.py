"""Bands of the work in a burst: so many draws of all that is in doubt, followed side by side."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan, sqrt
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.circuit.block import at
from fem.design.work_piece import WorkPieceDescription
from fem.digits import duration
from fem.estimation.case import Case
from fem.estimation.inputs.work import across, work_of
from fem.estimation.stations.bench.contact import BANDED, contact_in_burst, lap_in_burst, second_path_in_burst
from fem.materials.work_metals import work_metal
from fem.quantity import Band, Unknown
from fem.trust.bands import band_of
from fem.trust.doubt import normal_scores
from fem.trust.doubts import neutral
from fem.trust.draws import Draws
from fem.work.burst import Burst
from fem.work.feed import feed_of
from fem.work.feeding import FedBurst, fed_side_by_side
from fem.work.run import HeatingRun, milestones
from fem.work.warmer import Machine

DRAWS = 64
"""How many are followed: 32 cost nearly as much, and leave the leading doubts in doubt themselves."""
LONGER = 3.0
"""How much longer than the burst the current is left on to find when the target is reached."""
BEYOND = 100.0
"""How far past the target [K] that is followed, so that the moment lies between points."""
TOLERANCE = 0.5
"""Estimated error of one time step [K] where a band is looked for."""
FELT = (
    *("mains.voltage", "mains.source_impedance", "joints.bolted", "joints.clamped", "joints.dirty", "joints.measured"),
    *("contact.jaws", "contact.lap", "contact.carbons", "contact.faces", "model.contact", "ring.loop", "ring.inner"),
    *("work.resistivity", "work.heat_capacity", "work.conductivity", "work.emissivity", "work.thickness"),
    *("work.length", "jaws.heat_capacity", "jaws.sink", "heat.ambient", "heat.convection", "temperature"),
    *("leads.length", "leads.spacing", "leads.resistance", "primary.resistance", "secondary.resistance"),
    *("model.leakage", "winding.lay"),
)
"""Doubts that a burst feels."""
_BY_PART = {
    "contact": BANDED,
    "lap": BANDED,
    "second_path": ("hot_share", "hot_current_rms", "hottest_temperature", "heat"),
}


def work_bands(case: Case, found: Any, *, count: int = DRAWS) -> dict[str, Band | Unknown]:
    """Return the bands of what the work does in its burst; to tell how long the target takes, the current is left on.

    Parameters
    ----------
    case, found
        As described, and its `WorkPieceState`.
    count
        Of draws.
    """
    given = case.design.work_piece
    assert given is not None
    drawn, on = case.drawn.given, _on(given)
    assert drawn is not None
    rows = [{} if isinstance(run, Exception) else numbers(given, run) for run in fed_side_by_side(bursts(case, count))]
    over = f"do not reach it in {duration(LONGER * on)}"
    bands: dict[str, Band | Unknown] = {}
    for key in dict.fromkeys(key for row in rows for key in row):
        values = np.array([row.get(key, nan) for row in rows])
        told = _told(found, key)
        if told is None or (isinstance(told, Unknown) and not np.isfinite(values).any()):
            continue
        beyond = over if key == "time_to_target" else f"do not get there in {duration(on)}"
        if isinstance(told, Unknown):
            # where the burst as told does not get there but some draws do
            share = float(np.isfinite(values).mean())
            bands[key] = Unknown(f"{told.reason}, but in {100 * share:.0f} % of the draws of what is in doubt")
        else:
            spot = f"{key.split('.')[0]}.hottest_spot" in rows[0]
            band = _by_rank if spot and np.isfinite(values).all() else band_of
            bands[key] = band(values, drawn.draws, why=drawn.why, among=FELT, beyond=beyond)
    return bands


def _by_rank(values: Floats, draws: Draws, **told: Any) -> Band | Unknown:
    """Return the band of a number that saturates, as the spot of a contact does below melting.

    The surface is that of the normal scores of its ranks, G. Blom's (k - 3/8)/(n + 1/4): of whatever bends alike for
    all that is in doubt they are straight, and no quantile leaves what was seen.
    """
    if float(np.ptp(values)) == 0:
        return band_of(values, draws, **told)
    scores = normal_scores((np.arange(values.size) + 0.625) / (values.size + 0.25))
    band = band_of(scores[np.argsort(np.argsort(values, kind="stable"))], draws, **told)
    if isinstance(band, Unknown):
        return band
    low, high = np.interp([band.low, band.high], scores, np.sort(values)).tolist()
    return replace(band, low=low, high=high)


def bursts(case: Case, count: int, members: Case | None = None) -> list[Burst]:
    """Return the bursts of the first draws of what is in doubt; of other members of the case if they are given."""
    given, members = case.design.work_piece, case.drawn if members is None else members
    assert given is not None
    assert members.given is not None
    draws, inner = members.given.draws, inner_inductance(case)
    now, target, on = case.design.temperature, given.target_temperature, _on(given)
    found = []
    for place in range(count):
        moved = {name: float(draws[name][place]) for name in neutral()}
        piece, circuit = work_of(given, moved), at(members.circuit, place)
        if inner:
            circuit = replace(circuit, lead_inductance=circuit.lead_inductance + moved["ring.inner"] * inner)
        feed = feed_of(piece, circuit, case.network, now=now)
        found.append(
            Burst(
                piece=piece,
                line=Machine(feed=feed, circuit=circuit, network=case.network, now=now),
                duration=on if target is None else LONGER * on,
                start_temperature=given.ambient + moved["heat.ambient"],
                frequency=circuit.frequency,
                tolerance=TOLERANCE,
                until=(on, (target or 0.0) + BEYOND),
            )
        )
    return found


def _on(given: WorkPieceDescription) -> float:
    return given.switch_off or given.duration


def numbers(given: WorkPieceDescription, fed: tuple[HeatingRun, FedBurst | None]) -> dict[str, float]:
    """Return what has a band, by attribute; infinite what does not come to pass."""
    run, on = fed[0], _on(given)
    found = {
        name: float(np.interp(on, run.time, values))
        for name, values in (
            ("hottest_temperature", run.hottest_temperature),
            ("hot_current_rms", run.current_rms),
            ("hot_resistance", run.resistance),
        )
    }
    reached = milestones(run, given.target_temperature)
    found["time_to_target"] = inf if reached.target is None else reached.target
    for name, time in (
        ("time_to_visible_red", reached.visible_red),
        ("time_to_dull_red", reached.dull_red),
        ("time_to_melting", reached.melting_begins),
    ):
        found[name] = time if time is not None and time <= on else inf
    end = max(int(np.searchsorted(run.time, on, side="right")) - 1, 0)
    parts = {
        "contact": contact_in_burst(given, run, until=on),
        "lap": lap_in_burst(given, run, until=on),
        "second_path": second_path_in_burst(run, end),
    }
    for key, part in parts.items():
        if not isinstance(part, Unknown):
            values = {name: getattr(part, name) for name in _BY_PART[key]}
            found |= {f"{key}.{name}": value for name, value in values.items() if not isinstance(value, Unknown)}
    return found


def _told(found: Any, key: str) -> Any:
    for name in key.split("."):
        if isinstance(found, Unknown):
            return None
        found = getattr(found, name)
    return found


def inner_inductance(case: Case) -> float:
    """Return the most that the flux inside a cold magnetic ring adds to its loop [H]; the burst leaves it out.

    In linear steel a strip's X/R is 2/3 x^2 where R/R_dc - 1 = 4/45 x^4, a round bar's less; 0.95 at most in saturating
    steel, by marching the diffusion through sections (tests/physics/test_ring_round_leg.py).
    """
    given = case.design.work_piece
    if given is None or given.ring is None or (run := case.burst) is None:
        return 0.0
    metal = work_metal(given.metal)
    if metal.half_polarisation_field == 0:
        return 0.0
    direct = float(metal.resistivity_at(given.ambient)) * given.path / across(given.section).area
    ohms = float(run.bar_resistance[0].sum())
    return min(sqrt(5 * max(ohms / direct - 1, 0.0)), 0.95) * ohms / case.circuit.angular_frequency
