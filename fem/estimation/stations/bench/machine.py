"""The machine as lumps of metal in a room, and the currents that warm it from cold."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.estimation.case import Case
from fem.estimation.inputs.joints import joints_of
from fem.estimation.inputs.working import Working, working_of
from fem.heat.coupled import circuit_at
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase


@dataclass(frozen=True, kw_only=True, eq=False)
class Machine:
    """A case and its heat network; what a burst from cold draws is solved once for each thing it works into."""

    case: Case
    network: Network
    _drawn: dict[Working, Phase] = field(default_factory=dict)

    @property
    def joints(self) -> tuple[str, ...]:
        """Names of the joints' groups."""
        return tuple(group.name for group in joints_of(self.case.design).groups)

    def cold(self, working: Working) -> Phase:
        """Return the currents and the core loss of the machine as warm as the room, for 1 s."""
        if working not in self._drawn:
            load, circuit = self.case.design.load, self.cold_circuit
            described = load is not None and working == working_of(load)
            self._drawn[working] = working.flow(circuit.coupled_as(self.case.loaded_circuit) if described else circuit)
        return self._drawn[working]

    @property
    def cold_circuit(self) -> Circuit:
        """The circuit as warm as the room."""
        ambient, now = self.network.at_ambient(), self.case.design.temperature
        return circuit_at(self.case.circuit, self.network, ambient, now)

    def named(self, values: Iterable[float], together: Callable[[Iterable[float]], float] = max) -> dict[str, float]:
        """Return temperatures [K], or heats to be summed [J], by part; those of all joints together as "joints"."""
        found = self.network.by_part(values, together)
        joints = [value for part, value in found.items() if part in self.joints]
        return found | ({"joints": together(joints)} if joints else {})

    def too_hot(self, peaks: Floats) -> tuple[str, ...]:
        """Return the parts whose highest mean temperatures pass their limit of repeated work, or the data's end."""
        hot = [
            part
            for node, part, peak in zip(self.network.nodes, self.network.parts, peaks, strict=True)
            if peak > (CEILING - 1e-6 if node.insulation is None else node.insulation.mean_limit)
        ]
        return tuple(dict.fromkeys(hot))
