"""Measurements that can be made on a machine: with what, how safely, and the tests that they are as readings."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.stations.states.reduced_voltage import reduced_voltage_test
from fem.readings.conditions import Coil, Instruments, Test
from fem.readings.described import Readings
from fem.readings.reading import Reading, readings_of
from geometries.described.tables import table_rows

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
FOUR_WIRES, LEAST_VOLTS = 5.0, 1e-3
"""Resistance below which two wires tell little, and volts of four below which these do [ohm], [V]."""
DEAD = "Unplugged, and the plug where you see it."
NOTHING: Mapping[str, object] = {}


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
    name, title, how, off
        What it is in few words; the step it belongs to, and how that is done safely; what a reading beyond means.
    danger, minutes
        What it can do, and how long it takes with all that is laid out for it (common practice, no source).
    tests
        By kind of test as in `Readings`, the readings not yet known (1, or nothing where they are what it is about).
    """

    name: str
    title: str
    how: str
    off: str
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
        yield _made("burst", {"seconds": on}, burst=[{"duration": f"{on} s", "to_dull_red": 1.0, "to_flow": 1.0}])


def _made(key: str, said: Mapping[str, object] = NOTHING, **tables: Iterable[Any]) -> Measurement:
    """Return a measurement by its row of measurements.csv, and what its words say; and its tests as a file has them."""
    name, step, danger, minutes, how, off = _rows()[key]
    kinds = {kind: Readings.model_fields[kind].annotation.__args__[0] for kind in tables}  # type: ignore[union-attr]
    return Measurement(
        name=name.format_map(said),
        title=step.format_map(said),
        how=how.format_map(said),
        off=off,
        danger=Danger[danger],
        minutes=float(minutes),
        tests=tuple((kind, kinds[kind].model_validate(table)) for kind, each in tables.items() for table in each),
    )


@cache
def _rows() -> dict[str, list[str]]:
    """Return the words of all measurements by key."""
    return {row.pop("key"): list(row.values()) for row in map(dict, table_rows("fem.readings", "measurements.csv"))}


def _dead(case: Case, has: Instruments) -> Iterator[Measurement]:
    if has.multimeter:
        yield _made("ohms", resistance=[{"winding": "primary", "method": "two-wire", "resistance": 1.0}])
    for name in ("primary", "secondary") if has.multimeter and has.direct_current else ():
        ohms, amperes = float(getattr(case.windings, name).resistance), has.direct_current or 0.0
        if ohms < FOUR_WIRES and ohms * amperes > LEAST_VOLTS and (name == "primary" or case.ring is None):
            read = {"method": "volts-and-amperes", "voltage": ohms * amperes, "current": amperes}
            yield _made("direct", {"winding": name, "amperes": brief(amperes)}, resistance=[{"winding": name, **read}])


def _nothing_connected(case: Case, has: Instruments) -> Iterator[Measurement]:
    if not has.multimeter:
        return
    mains, variable = case.design.mains.voltage, has.variable_transformer
    volts = [_rounded(share * mains) for share in SHARES]
    lamp: dict[str, Any] = {"lamp": has.lamp, "primary_voltage": 1.0}
    said: dict[str, object] = {"lamp": f"{has.lamp:g}", "turns": COIL_TURNS}
    if has.lamp:
        yield _made("lamp", said, no_load=[lamp | {"current": 1.0}])
    if variable or has.lamp:
        supply = f"{volts[0]:g} V of a variable transformer, from zero upwards, no hands on: it does not isolate"
        said["supply"] = supply if variable else f"the mains through the lamp of {has.lamp:g} W, no hands on"
        fed = {"primary_voltage": f"{volts[0]:g} V"} if variable else lamp
        yield _made("coil", said, search_coil=[fed | {"turns": COIL_TURNS, "voltage": 1.0}])
    said["supply"] = "On a variable transformer from zero upwards, all" if variable else "Straight on the mains, all"
    watts = {"power": 1.0} if has.wattmeter else {}
    for at in volts if variable else volts[-1:]:
        if not (at == volts[-1] and case.at_idle.current_rms >= AMMETER):
            read = {"primary_voltage": f"{at:g} V", "current": 1.0} | ({} if variable else {"supply": "mains"}) | watts
            yield _made("idle", said | {"volts": f"{at:g}"}, no_load=[read])
    under = {"loaded_voltage": 1.0, "current": f"{brief(2000 / mains, 2)} A"} if has.heater else {}
    heater = ", then under a heater of some 2 kW with its amperes by a clamp" if has.heater else ""
    yield _made("socket", {"heater": heater}, mains=[{"idle_voltage": 1.0} | under])
    if case.ring is None and (variable or has.lamp):
        fed = {"primary_voltage": f"{volts[-1]:g} V"} if variable else lamp
        yield _made("open", secondary_volts=[fed | {"voltage": 1.0}])


def _joined(case: Case, has: Instruments) -> Iterator[Measurement]:
    """Yield what is measured with the lead ends joined."""
    clamp = has.clamp or 0.0
    if has.variable_transformer:
        short = reduced_voltage_test(case.design, case.circuit)
        at, amperes = brief(short.primary_voltage_rms, 2), short.secondary_current_rms
        # the clamp's range, which the secondary needs, is too coarse for the primary
        read = {"primary_current": 1.0} if has.multimeter and short.primary_current_rms < AMMETER else {}
        read |= {"power": 1.0} if has.wattmeter else {}
        tables: list[dict[str, Any]] = [read] if read else []
        tables += [{"clamp_range": clamp, "secondary_current": 1.0}] if amperes < clamp else []
        if tables:
            said = {"volts": at, "most": brief(2 * short.primary_current_rms, 2)}
            yield _made("joined", said, joined=[{"primary_voltage": f"{at} V"} | table for table in tables])
        if has.multimeter and case.design.leads is not None:
            yield _made("drop", joint_drop=[{"current": f"{brief(amperes, 2)} A", "voltage": 1.0}])
    elif has.multimeter and has.lamp:
        read = {"lamp": has.lamp, "primary_voltage": 1.0, "primary_current": 1.0}
        yield _made("lamp joined", {"lamp": f"{has.lamp:g}"}, joined=[read])
    full = {f"{one}_current": getattr(case.shorted, f"{one}_current_rms") for one in ("primary", "secondary")}
    if found := [key for key, value in full.items() if value < clamp]:
        yield _made("full", joined=[{"clamp_range": clamp, key: 1.0} for key in found])


def _rounded(volts: float) -> float:
    """Return volts to 5 V, as one sets them."""
    return max(5.0 * round(volts / 5.0), 5.0)


def as_readings(described: Readings, each: Iterable[Measurement]) -> tuple[Readings, list[list[str]]]:
    """Return readings with those of measurements behind what was read, and each one's keys such as "no_load.3"."""
    tests: Mapping[str, list[Test]] = {
        name: list(getattr(described, name)) for name in Readings.model_fields if name not in Readings.NO_TESTS
    }
    keys: list[list[str]] = []
    for one in each:
        keys.append([])
        for kind, test in one.tests:
            keys[-1].append(f"{kind}.{len(tests[kind])}")
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
