"""The secondary with nothing connected."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.estimation.case import Case
from fem.estimation.stations.section import Station
from fem.quantity import of
from fem.trust.caution import Caution
from fem.trust.live import touch


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenCircuit:
    """The secondary with nothing connected."""

    secondary_voltage_rms: float = of("V", "no-load volts of the secondary, r.m.s.")

    FORMULAS = """
    <fem.circuit.steady.idle.secondary_voltage>
    secondary_voltage_rms: `job.windings.secondary.turns` times `saturation.volts_per_turn_V` times what of the flux the
        secondary links, `leakage.coupling` [Faraday's law]
    """


def open_circuit(case: Case) -> OpenCircuit:
    """Return the voltage of the secondary without load."""
    return OpenCircuit(secondary_voltage_rms=case.at_idle.secondary_voltage_rms)


def _cautions(case: Case, found: OpenCircuit) -> Iterator[Caution]:
    return touch(found.secondary_voltage_rms)


OPEN_CIRCUIT = Station(
    key="open_circuit",
    result=OpenCircuit,
    compute=open_circuit,
    banded=("secondary_voltage_rms",),
    cautions=_cautions,
)
