"""The machine as lumps of metal in a room, and the currents that warm it from cold."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.estimation.case import Case
from fem.estimation.inputs.working import Working
from fem.heat.coupled import circuit_at
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase


@dataclass(frozen=True, kw_only=True, eq=False)
class Machine:
    """A case and its heat network; what a burst from cold draws is solved once for each thing it works into."""

    case: Case
    network: Network
    _drawn: dict[Working, Phase] = field(default_factory=dict)

    def cold(self, working: Working) -> Phase:
        """Return the currents and the core loss of the machine as warm as the room, for 1 s."""
        if working not in self._drawn:
            self._drawn[working] = working.flow(self.cold_circuit)
        return self._drawn[working]

    @property
    def cold_circuit(self) -> Circuit:
        """The circuit as warm as the room."""
        ambient, now = self.network.at_ambient(), self.case.design.temperature
        return circuit_at(self.case.circuit, self.network, ambient, now)

    def named(self, temperatures: Iterable[float]) -> dict[str, float]:
        """Return temperatures [K] by part."""
        return {name: float(t) for name, t in zip(self.network.names, temperatures, strict=True)}

    def too_hot(self, peaks: Floats) -> tuple[str, ...]:
        """Return the parts whose highest mean temperatures pass their limit of repeated work, or the data's end."""
        return tuple(
            node.name
            for node, peak in zip(self.network.nodes, peaks, strict=True)
            if peak > (CEILING - 1e-6 if node.insulation is None else node.insulation.mean_limit)
        )
