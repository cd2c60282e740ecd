"""The secondary with nothing connected."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.assumptions import assumed
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.stations.section import Station
from fem.quantity import of
from fem.trust.caution import Caution, Danger

TOUCH_VOLTAGE = assumed("touch voltage").typical
"""A.c. voltage [V] up to which bare parts may be touched where dry."""


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenCircuit:
    """The secondary with nothing connected."""

    secondary_voltage_rms: float = of("V", "secondary voltage without load, r.m.s.")


def open_circuit(case: Case) -> OpenCircuit:
    """Return the voltage of the secondary without load."""
    return OpenCircuit(secondary_voltage_rms=case.at_idle.secondary_voltage_rms)


def _cautions(case: Case, found: OpenCircuit) -> Iterator[Caution]:
    voltage = found.secondary_voltage_rms
    if voltage > TOUCH_VOLTAGE:
        limit = f"{TOUCH_VOLTAGE:g} V a.c."
        text = f"The secondary stands at {brief(voltage)} V: above {limit} bare ends must not be touched."
        yield Caution(about="touch", text=text, danger=Danger.KILLS)


OPEN_CIRCUIT = Station(
    key="open_circuit",
    result=OpenCircuit,
    compute=open_circuit,
    banded=("secondary_voltage_rms",),
    cautions=_cautions,
)
