"""What a stop watch and an ohmmeter show of a burst into the work piece."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from fem.estimation.case import Case
from fem.estimation.stations.bench.work_bands import bursts
from fem.mains.devices import Device, Type
from fem.mains.typical import typical_burst
from fem.readings.described import BurstTest
from fem.work.feeding import FedBurst, fed_side_by_side
from fem.work.run import HeatingRun, milestones

LONGER = 2.0
"""How much longer than was read a burst is followed [-]: slower machines than the one that was read are told too."""
LONGEST = 3600.0
"""Of any burst [s]."""


def burst_numbers(case: Case, test: BurstTest) -> dict[str, Any]:
    """Return what is read of a burst by quantity, (members,): nan where it does not come to pass, or none is described.

    Of designs whose members are solved one by one (shunts, rectifiers) only the design itself has a burst.

    Raises
    ------
    NotConverged, OutOfRange
        Of one design, if its burst cannot be followed.
    """
    whole = case.drawn_of or case
    work, mains = whole.design.work_piece, whole.design.mains
    nothing = dict.fromkeys(test.SHOWN, np.full(case.members, np.nan))
    if work is None or (case.given is not None and case.members == 1):
        return nothing
    on = max(getattr(test, name) for name in (*test.shown, "duration") if name in _TIMES and getattr(test, name))
    work = work.model_copy(update={"duration": min(LONGER * on, LONGEST), "switch_off": None})
    asked = replace(whole, design=whole.design.model_copy(update={"work_piece": work}))
    runs: list[Any] = [(asked.burst, asked.fed)]
    if case.members > 1:
        runs = fed_side_by_side(bursts(asked, case.members, case))
    kind = Type(mains.breaker_type or "UL 489")
    device = Device(type=kind, rating=mains.breaker_rating) if mains.breaker_rating else None
    rows = [{} if isinstance(run, Exception) else _row(asked, test, run, device) for run in runs]
    found = {name: np.array([row.get(name) or np.nan for row in rows]) for name in test.SHOWN}
    found = {name: np.where(np.isfinite(values), values, np.nan) for name, values in found.items()}
    found["primary_resistance"] = found["primary_resistance"] * case.windings.primary.resistance
    return found


_TIMES = ("to_visible_red", "to_dull_red", "to_flow", "to_melting", "to_parting", "breaker_opens", "duration")


def _row(
    case: Case, test: BurstTest, burst: tuple[HeatingRun, FedBurst | None], device: Device | None
) -> dict[str, float | None]:
    """Return what one machine shows; its primary's resistance over that which it has cold."""
    run, fed = burst
    work = case.design.work_piece
    assert work is not None
    reached = milestones(run, work.target_temperature)
    found = {
        "to_visible_red": reached.visible_red,
        "to_dull_red": reached.dull_red,
        "to_flow": reached.target,
        "to_melting": reached.melting_begins,
        "to_parting": reached.melted_through,
    }
    if fed is not None:
        if device is not None:
            found["breaker_opens"] = typical_burst(device, fed.phases)
        if test.duration is not None:
            place = case.network.names.index("primary")
            node = case.network.nodes[place]
            warm = float(np.interp(test.duration, fed.time, fed.temperatures[:, place]))
            a, at = node.temperature_coefficient, node.reference_temperature
            found["primary_resistance"] = (1 + a * (warm - at)) / (1 + a * (case.design.temperature - at))
    return found
