"""Measurements that can be made on a machine: with what, how safely, and the tests that they are as readings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.stations.states.reduced_voltage import reduced_voltage_test
from fem.readings.conditions import Coil, Instruments, Test
from fem.readings.described import Readings
from fem.readings.reading import Reading, readings_of

LAMPS = (25.0, 40.0, 60.0, 100.0, 150.0, 200.0, 300.0, 500.0)
"""Ratings of incandescent and halogen lamps [W]: common practice, no source."""
COIL_TURNS = 10
"""Of the search coil [-]: its volts are then some volts, which any meter shows."""
SHARES = (1 / 3, 2 / 3, 1.0)
"""Of the mains, at which the no-load points are taken [-]: gaps tell below the knee, the steel about it."""
AMMETER = 10.0
"""What a multimeter's ampere range takes [A]: common practice, no source."""
WOUND = {"secondary_volts", "joined", "joint_drop", "burst"}
"""Kinds of test that need the new winding."""
FOUR_WIRES = 5.0
"""Resistance below which two wires tell little [ohm]."""
DEAD = "Unplugged, and the plug where you see it."
CLAMPED = "a clamp round one lead, nothing of steel within its loop"


def usual(case: Case) -> Instruments:
    """Return what a small shop has where nobody tells (common practice, no source), with a lamp that suits."""
    volts, idle = case.design.mains.voltage, case.at_idle.current_rms
    lamp = next((watts for watts in LAMPS if watts / volts >= 0.9 * idle), LAMPS[-1])
    return Instruments(multimeter=True, clamp=600.0, wattmeter=True, variable_transformer=True, heater=True, lamp=lamp)


class Danger(Enum):
    """What a measurement can do to who makes it, the least first."""

    NONE = "unplugged"
    LIVE = "mains live, kills"
    HOT = "mains live, kills; lead ends hot, burn"
    FULL = "mains live, kills; full amperes: burns, arcs, may open the breaker"


@dataclass(frozen=True, kw_only=True, eq=False)
class Measurement:
    """One measurement.

    Parameters
    ----------
    name, title, how
        What it is in few words; the step it belongs to, and how that is done safely.
    danger, minutes
        What it can do, and how long it takes with all that is laid out for it (common practice, no source).
    tests
        By kind of test as in `Readings`, the readings not yet known (1, or nothing where they are what it is about).
    """

    name: str
    title: str
    how: str
    danger: Danger
    minutes: float
    tests: tuple[tuple[str, Test], ...]

    @property
    def wound(self) -> bool:
        """Whether it needs the new winding."""
        kind, test = self.tests[0]
        return kind in WOUND or getattr(test, "winding", None) is Coil.SECONDARY


def measurements(case: Case, has: Instruments) -> Iterator[Measurement]:
    """Yield what can be measured on a machine with what there is, in the order in which it is safest.

    Parameters
    ----------
    case
        One design, or a member alone.

    Raises
    ------
    NotConverged, OutOfRange
        If its states cannot be solved.
    """
    yield from _dead(case, has)
    yield from _nothing_connected(case, has)
    yield from _joined(case, has)
    work = case.design.work_piece
    if work is not None and case.ring is None:
        on = brief(case.burst_time or work.duration)
        yield _made(
            "a burst into the work",
            "A burst into the work",
            f"From a cold machine, in goggles and gloves, all else clear of the bench, for {on} s by a stop watch, or "
            "until it glows, flows or parts. A film of it tells the times best.",
            Danger.FULL,
            30,
            burst=[{"duration": f"{on} s", "to_dull_red": 1.0, "to_flow": 1.0}],
        )


def _made(name: str, title: str, how: str, danger: Danger, minutes: float, **tables: Iterable[Any]) -> Measurement:
    tests = tuple(
        (kind, Readings.model_fields[kind].annotation.__args__[0].model_validate(table))  # type: ignore[union-attr]
        for kind, each in tables.items()
        for table in each
    )
    return Measurement(name=name, title=title, how=how, danger=danger, minutes=minutes, tests=tests)


def _dead(case: Case, has: Instruments) -> Iterator[Measurement]:
    if has.multimeter:
        yield _made(
            "resistance of the primary, two wires",
            "Resistance of the primary, cold",
            f"{DEAD} After a night in the room, whose temperature is the winding's. Touch the probes together first "
            f"and note what they show; below {FOUR_WIRES:g} ohm four wires, or volts at a direct ampere, are better.",
            Danger.NONE,
            10,
            resistance=[{"winding": "primary", "method": "two-wire", "resistance": 1.0}],
        )
    if not (has.multimeter and has.direct_current):
        return
    for name in ("primary", "secondary"):
        ohms, amperes = float(getattr(case.windings, name).resistance), has.direct_current
        if ohms < FOUR_WIRES and ohms * amperes > 1e-3 and (name == "primary" or case.ring is None):
            yield _made(
                f"resistance of the {name}, four wires",
                f"Resistance of the {name} by volts and amperes",
                f"{DEAD} {brief(amperes)} A of direct current through the winding, its volts at the winding's own "
                "ends, seconds only. Take the current away slowly: a core gives its energy back as a spike of volts.",
                Danger.NONE,
                20,
                resistance=[
                    {
                        "winding": name,
                        "method": "volts-and-amperes",
                        "voltage": ohms * amperes,
                        "current": amperes,
                    }
                ],
            )


def _nothing_connected(case: Case, has: Instruments) -> Iterator[Measurement]:
    mains = case.design.mains.voltage
    volts = [_rounded(share * mains) for share in SHARES]
    lamp: dict[str, Any] = {"lamp": has.lamp, "primary_voltage": 1.0}
    if has.multimeter and has.lamp:
        yield _made(
            "no load behind a lamp",
            "First time on the mains: through a lamp",
            f"An incandescent lamp of {has.lamp:g} W in series, no hands on: connect unplugged, then switch on from a "
            "distance. A sound primary takes most of the volts; a lamp as bright as alone, with next to nothing across "
            "the primary, means shorted turns: switch off.",
            Danger.LIVE,
            15,
            no_load=[lamp | {"current": 1.0}],
        )
    fed = {"primary_voltage": f"{volts[0]:g} V"} if has.variable_transformer else lamp
    if has.multimeter and (has.variable_transformer or has.lamp):
        supply = f"{volts[0]:g} V of a variable transformer, from zero upwards, no hands on: it does not isolate"
        if not has.variable_transformer:
            supply = f"the mains through the lamp of {has.lamp:g} W, no hands on"
        yield _made(
            "search coil",
            "Search coil",
            f"{DEAD} {COIL_TURNS} turns of thin insulated wire round the primary's leg. Then on {supply}. Turns of the "
            f"primary = {COIL_TURNS} x its volts / the coil's.",
            Danger.LIVE,
            20,
            search_coil=[fed | {"turns": COIL_TURNS, "voltage": 1.0}],
        )
    watts = {"power": 1.0} if has.wattmeter else {}
    for at in volts if has.variable_transformer else volts[-1:]:
        on_mains = {} if has.variable_transformer else {"supply": "mains"}
        read = {"primary_voltage": f"{at:g} V", **on_mains, "current": 1.0, **watts}
        if has.multimeter and not (at == volts[-1] and case.at_idle.current_rms >= AMMETER):
            yield _made(
                f"no load at {at:g} V",
                "No load at rising volts" if has.variable_transformer else "No load on the mains",
                ("On a variable transformer from zero upwards, all" if has.variable_transformer else "All")
                + " other ends insulated and apart, no hands on. Stop where the amperes run away. Volts at the "
                "primary's own ends, read together with the amperes.",
                Danger.LIVE,
                10,
                no_load=[read],
            )
    if has.multimeter:
        under = {"loaded_voltage": 1.0, "current": f"{brief(2000 / mains, 2)} A"} if has.heater else {}
        yield _made(
            "the socket",
            "The socket",
            "The machine unplugged: volts with nothing on the socket"
            + (", then under a heater of some 2 kW with its amperes by a clamp" if has.heater else "")
            + ". Insulated probes, or a meter that plugs in.",
            Danger.LIVE,
            10,
            mains=[{"idle_voltage": 1.0} | under],
        )
    if has.multimeter and case.ring is None and (has.variable_transformer or has.lamp):
        open_at = {"primary_voltage": f"{volts[-1]:g} V"} if has.variable_transformer else lamp
        yield _made(
            "volts of the secondary, open",
            "Volts of the new secondary",
            "Ends apart and insulated. Through the lamp first, then as above. Insulation once more before that.",
            Danger.LIVE,
            10,
            secondary_volts=[open_at | {"voltage": 1.0}],
        )


def _joined(case: Case, has: Instruments) -> Iterator[Measurement]:
    """Yield what is measured with the lead ends joined."""
    watts = {"power": 1.0} if has.wattmeter else {}
    clamp, amperes = has.clamp or 0.0, 0.0
    if has.variable_transformer:
        short = reduced_voltage_test(case.design, case.circuit)
        amperes, at = short.secondary_current_rms, f"{brief(short.primary_voltage_rms, 2)} V"
        # the clamp's range, which the secondary needs, is too coarse for the primary
        found = {"primary_current": 1.0} if has.multimeter and short.primary_current_rms < AMMETER else {}
        tables = [{"primary_voltage": at, **found, **watts}] if found or watts else []
        tables += [{"primary_voltage": at, "clamp_range": clamp, "secondary_current": 1.0}] if amperes < clamp else []
        if tables:
            limit = f"At most {brief(2 * short.primary_current_rms, 2)} A in the primary: beyond that go back to zero."
            yield _made(
                f"lead ends joined at {at}",
                "Lead ends joined, on reduced volts",
                f"Lead ends bolted together as they will be in use. Variable transformer from zero to {at}, no "
                f"further; {CLAMPED}. {limit} Seconds only.",
                Danger.HOT,
                20,
                joined=tables,
            )
    elif has.multimeter and has.lamp:
        yield _made(
            "lead ends joined behind a lamp",
            "Lead ends joined, through a lamp",
            f"Lead ends bolted together as they will be in use, a lamp of {has.lamp:g} W in series with the primary, "
            "no hands on. It glows as bright as alone.",
            Danger.LIVE,
            15,
            joined=[{"lamp": has.lamp, "primary_voltage": 1.0, "primary_current": 1.0}],
        )
    if amperes and has.multimeter and case.design.leads is not None:
        yield _made(
            "drop across the joints",
            "Drop across the joints",
            "The same state: probe from conductor to conductor across each joint, and add them up.",
            Danger.HOT,
            20,
            joint_drop=[{"current": f"{brief(amperes, 2)} A", "voltage": 1.0}],
        )
    full = {
        "primary_current": case.shorted.primary_current_rms,
        "secondary_current": case.shorted.secondary_current_rms,
    }
    if any(value < clamp for value in full.values()):
        yield _made(
            "lead ends joined on the mains, clamped",
            "Lead ends joined on the mains",
            f"Lead ends bolted together, leads tied down, {CLAMPED}, set to hold its highest. Switched on from a "
            "distance behind the breaker and off again within a second, once; then wait until all is cold.",
            Danger.FULL,
            30,
            joined=[{"clamp_range": clamp, key: 1.0} for key, value in full.items() if value < clamp],
        )


def _rounded(volts: float) -> float:
    """Return volts to 5 V, as one sets them."""
    return max(5.0 * round(volts / 5.0), 5.0)


def as_readings(described: Readings, each: Iterable[Measurement]) -> tuple[Readings, list[list[str]]]:
    """Return readings with those of measurements behind what was read, and each one's keys such as "no_load.3"."""
    tests: Mapping[str, list[Test]] = {
        name: list(getattr(described, name)) for name in Readings.model_fields if name not in Readings.NO_TESTS
    }
    keys = []
    for one in each:
        keys.append(
            [
                f"{kind}.{len(tests[kind]) + sum(k == kind for k, _ in one.tests[:n])}"
                for n, (kind, _) in enumerate(one.tests)
            ]
        )
        for kind, test in one.tests:
            tests[kind].append(test)
    return described.model_copy(update={name: tuple(found) for name, found in tests.items()}), keys


def filled(described: Readings, shows: Floats) -> tuple[Reading, ...]:
    """Return readings whose values are what meters would show (readings,), as far as there is one [SI]."""
    values: dict[str, dict[str, float]] = {}
    for reading, value in zip(readings_of(described), shows, strict=True):
        key = reading.key.rpartition(".")[0]
        if np.isfinite(value) and getattr(reading.test, reading.quantity) is not None:
            values.setdefault(key, {})[reading.quantity] = float(value)
    tests = {
        name: tuple(
            test.model_copy(update=values.get(f"{name}.{place}")) for place, test in enumerate(getattr(described, name))
        )
        for name in Readings.model_fields
        if name not in Readings.NO_TESTS
    }
    return readings_of(described.model_copy(update=tests))
