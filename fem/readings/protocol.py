"""What to measure on a salvaged machine, in which order and how, with what its job lets expect."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.digits import brief
from fem.estimation.block import takes_block
from fem.estimation.case import Case
from fem.estimation.stations.states.reduced_voltage import reduced_voltage_test
from fem.readings.described import Readings
from fem.readings.predict import covariance, predict
from fem.readings.reading import Reading, readings_of
from fem.trust.draws import FEW

LAMPS = (25.0, 40.0, 60.0, 100.0, 150.0, 200.0, 300.0, 500.0)
"""Ratings of incandescent and halogen lamps [W]: common practice, no source."""
COIL_TURNS = 10
"""Of the search coil [-]: its volts are then some volts, which any meter shows."""
SHARES = (1 / 3, 2 / 3, 1.0)
"""Of the mains, at which the no-load points are taken [-]: gaps tell below the knee, the steel about it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """One thing to fill in or to tick.

    Parameters
    ----------
    words
        What.
    reading
        What is read, its value what is expected; None of what is ticked.
    expected, low, high
        By the job, and between which values nine out of ten lie, the meter's doubt and that of the conditions with it
        [SI]; nan where it has no number.
    """

    words: str
    reading: Reading | None = None
    expected: float = np.nan
    low: float = np.nan
    high: float = np.nan


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One step: what it is for, how it is done safely, and what is filled in."""

    title: str
    how: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Protocol:
    """All steps, before cutting and after winding."""

    title: str
    before: tuple[Step, ...]
    after: tuple[Step, ...]


DEAD = "Unplugged, and the plug where you see it."


def protocol(case: Case) -> Protocol:
    """Return the protocol of a design.

    Raises
    ------
    NotConverged, OutOfRange
        If its states cannot be solved.
    """
    case.slopes  # noqa: B018  fields and their derivatives are solved together
    design, mains = case.design, case.design.mains.voltage
    volts = [_rounded(share * mains) for share in SHARES]
    idle = case.at_idle.current_rms
    lamp = next((watts for watts in LAMPS if watts / mains >= 0.9 * idle), LAMPS[-1])
    short = reduced_voltage_test(design, case.circuit)
    reduced = f"{brief(short.primary_voltage_rms, 2)} V"
    limit = f"At most {brief(2 * short.primary_current_rms, 2)} A in the primary: beyond that go back to zero."
    tables: dict[str, list[dict[str, Any]]] = {
        "resistance": [{"winding": "primary", "method": "two-wire", "resistance": 1.0}],
        "search_coil": [{"turns": COIL_TURNS, "primary_voltage": f"{volts[0]:g} V", "voltage": 1.0}],
        "no_load": [
            {"lamp": f"{lamp:g} W", "primary_voltage": 1.0, "current": 1.0},
            *({"primary_voltage": f"{at:g} V", "current": 1.0, "power": 1.0} for at in volts),
        ],
        "secondary_volts": [{"primary_voltage": f"{volts[-1]:g} V", "voltage": 1.0}],
        "joined": [{"primary_voltage": reduced, "primary_current": 1.0, "secondary_current": 1.0, "power": 1.0}],
        "joint_drop": [{"current": f"{brief(short.secondary_current_rms, 2)} A", "voltage": 1.0}],
        "mains": [{"idle_voltage": 1.0, "loaded_voltage": 1.0, "current": f"{brief(2000 / mains, 2)} A"}],
    }
    boxes = _boxes(case, tables)
    before = (
        Step(
            title="Nameplate and capacitors",
            how=f"{DEAD} A capacitor of the appliance stays charged: bridge it through some 10 kohm on an insulated "
            "probe, then prove it dead with a voltmeter, before a hand goes near.",
            boxes=_ticks("volts and hertz of the nameplate", "every capacitor shows less than 5 V and stays there"),
        ),
        Step(
            title="Insulation",
            how=f"{DEAD} Insulation tester at 500 V d.c. for a minute, primary to core and to what is wound on it; "
            "then discharge it through the tester. Below 1 Mohm stop: damp or burnt.",
            boxes=_ticks("primary to core above 1 Mohm", "primary to secondary above 1 Mohm"),
        ),
        Step(
            title="Resistance of the primary, cold",
            how=f"{DEAD} After a night in the room, whose temperature is the winding's. Touch the probes together "
            "first and note what they show; below 5 ohm four wires, or volts at a direct ampere, are better.",
            boxes=boxes("resistance"),
        ),
        Step(
            title="First time on the mains: through a lamp",
            how=f"An incandescent lamp of {lamp:g} W in series, no hands on: connect unplugged, then switch on from a "
            "distance. A sound primary takes most of the volts; a lamp as bright as alone, with next to nothing across "
            "the primary, means shorted turns: switch off.",
            boxes=boxes("no_load", 0),
        ),
        Step(
            title="Search coil",
            how=f"{DEAD} {COIL_TURNS} turns of thin insulated wire round the primary's leg. Then on "
            f"{volts[0]:g} V of a variable transformer, from zero upwards, no hands on: it does not isolate. Turns of "
            f"the primary = {COIL_TURNS} x its volts / the coil's.",
            boxes=boxes("search_coil"),
        ),
        Step(
            title="No load at rising volts",
            how="On a variable transformer from zero upwards, all other ends insulated and apart, no hands on. Stop "
            "where the amperes run away. Volts at the primary's own ends, read together with the amperes.",
            boxes=tuple(box for place in range(1, 1 + len(volts)) for box in boxes("no_load", place)),
        ),
        Step(
            title="The socket",
            how="The machine unplugged: volts with nothing on the socket, then under a heater of some 2 kW with its "
            "amperes by a clamp. Insulated probes, or a meter that plugs in.",
            boxes=boxes("mains"),
        ),
    )
    after = (
        Step(
            title="Volts of the new secondary",
            how="Ends apart and insulated. Through the lamp first, then as above. Insulation once more before that.",
            boxes=boxes("secondary_volts"),
        ),
        Step(
            title="Lead ends joined, on reduced volts",
            how=f"Lead ends bolted together as they will be in use. Variable transformer from zero to {reduced}, no "
            f"further; a clamp round one lead, nothing of steel within its loop. {limit} Seconds only.",
            boxes=boxes("joined"),
        ),
        Step(
            title="Drop across the joints",
            how="The same state: probe from conductor to conductor across each joint, and add them up.",
            boxes=boxes("joint_drop"),
        ),
    )
    return Protocol(title=design.title, before=before, after=after)


def _rounded(volts: float) -> float:
    """Return volts to 5 V, as one sets them."""
    return max(5.0 * round(volts / 5.0), 5.0)


def _ticks(*words: str) -> tuple[Box, ...]:
    return tuple(Box(words=one) for one in words)


_TO_95 = 1.645
"""From the middle of a normal distribution to its 95 % quantile, in standard deviations."""


def _filled(tables: Mapping[str, Sequence[Mapping[str, Any]]], typical: Floats) -> dict[str, list[dict[str, Any]]]:
    """Return tables with the readings that are expected, where there are any."""
    found = {name: [dict(test) for test in tests] for name, tests in tables.items()}
    for reading, value in zip(readings_of(Readings.model_validate(tables)), typical, strict=True):
        kind, place, quantity = reading.key.split(".")
        if np.isfinite(value):
            found[kind][int(place)][quantity] = float(value)
    return found


class _boxes:
    """The boxes of tests, by kind and place, with what members let expect."""

    def __init__(self, case: Case, tables: Mapping[str, Sequence[Mapping[str, Any]]]) -> None:
        # predicted first, so that what meters are off is that at what they will show
        typical = predict(case, readings_of(Readings.model_validate(tables)))[:, 0]
        readings = readings_of(Readings.model_validate(_filled(tables, typical)))
        members = case.drawn if takes_block(case.design) else case.drawn.first(FEW, frozenset())
        drawn, own = predict(members, readings), _TO_95 * np.sqrt(np.diag(covariance(case, readings)))
        known = np.isfinite(drawn).mean(axis=1) > 0.95
        low, high = np.full((2, len(readings)), np.nan)
        ends = np.nanquantile(drawn[known], (0.05, 0.95), axis=1)
        low[known], high[known] = typical[known] + np.array([[-1.0], [1.0]]) * np.hypot(
            ends - typical[known], own[known]
        )
        self._boxes = [
            Box(words=reading.words, reading=reading, expected=float(a), low=float(b), high=float(c))
            for reading, a, b, c in zip(readings, typical, low, high, strict=True)
        ]

    def __call__(self, kind: str, place: int = 0) -> tuple[Box, ...]:
        """Return those of one test."""
        begin = f"{kind}.{place}."
        return tuple(box for box in self._boxes if box.reading is not None and box.reading.key.startswith(begin))


def boxes_of(steps: Protocol) -> Iterator[Box]:
    """Yield all boxes in their order."""
    for step in (*steps.before, *steps.after):
        yield from step.boxes
