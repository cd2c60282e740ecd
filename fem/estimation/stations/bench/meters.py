"""What instruments will show, idle, shorted and on switching on."""

from __future__ import annotations

from fem.arrays import Floats
from fem.circuit.steady.meters import Meters, meter_readings
from fem.circuit.time.switch_on import SwitchOn
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station


def meters(case: Case) -> Meters:
    """Return what meters will show."""
    return meter_readings(
        case.circuit,
        case.at_idle,
        case.shorted,
        switch_on=attempt(lambda: _record(case.switched_on)),
        shorted_switch_on=attempt(lambda: _record(case.switched_on_shorted)),
    )


def _record(run: SwitchOn) -> tuple[Floats, Floats]:
    return run.transient.time, run.transient.primary_current


METERS = Station(key="meters", result=Meters, compute=meters, part=Part.METERS)
