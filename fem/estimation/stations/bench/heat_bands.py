"""Bands of what the machine's parts stand: all that is in doubt, drawn together, marched side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, nan
from typing import TYPE_CHECKING

import numpy as np

from fem.arrays import Floats, Number
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.design.load import RectifierKind
from fem.errors import NotConverged, TooHot
from fem.estimation.case import Case
from fem.estimation.inputs.heat import heat_network
from fem.estimation.inputs.working import SHORT, Working, working_of
from fem.estimation.once import attempt, once
from fem.estimation.stations.bench.bursts import limit_phases
from fem.estimation.stations.bench.machine import Machine
from fem.heat.burst import first_limits
from fem.heat.coupled import Flow, Repeated, circuit_at, hot_cycles, hot_duties
from fem.heat.levels import LONGEST, cool_down_times
from fem.heat.march import March
from fem.heat.phases import Course, Phase, joined, phase_idle, phase_loaded
from fem.heat.settled import settle
from fem.heat.share import Duty as AllowedDuty
from fem.quantity import Band, Unknown
from fem.roots import root
from fem.trust.bands import band_of
from fem.trust.draws import Draws

if TYPE_CHECKING:
    from fem.estimation.stations.bench.heating import Heating

_ALIKE = 0.08
"""How much currents of stretches that are marched as one may differ [-]: coarser than of one machine."""
_NEVER = "in which no part gets to its limit"
_RUN_AWAY = "in which it settles beyond 627 degC or nowhere"
_HELD = ("core.", "windings.", "contact.", "jaws.", "work.", "model.contact")
"""Doubts, by how their names begin, that are not in these bands or hardly count."""
_NOT_HELD = ("core.stacking_factor", "core.joint_gap", "windings.spacing")

_OF_WORK, _INTO_LOAD = ("burst.", "duty.", "joints."), "duty.allowed_share_with_load"
"""Numbers that the work enters, where there is any, and one that it does not."""

_SHORT, _OF_CORE = ("shorted.longest", "loaded.longest"), ("core.", "steel.", "loss.", "model.idle", "model.field")
"""Numbers of bursts so short that the core's losses do not count, and the doubts of these."""
SOME = 64
"""Draws that are marched: 32 leave some bands a fifth too wide, 48 one a fifth too narrow, 128 are no better."""

_WARMTHS = (0.0, 40.0, 130.0, 600.0)
"""Above the room, at which a flow is tabulated [K]."""

Values = Mapping[str, Floats]
"""Numbers of all draws (n,), by their attribute."""


def heat_bands(case: Case, found: Heating) -> dict[str, Band | Unknown]:
    """Return the bands of bursts, duties and temperatures by attribute, of what is known."""
    if case.design.fitted_shunt is not None:
        return {}
    draws = case.drawn.first(SOME, frozenset()).given
    assert draws is not None
    members = Members(case=case, draws=draws.draws)
    bands: dict[str, Band | Unknown] = {}
    for names, compute, beyond in members.kinds(found):
        values = attempt(compute)
        if isinstance(values, Unknown):
            bands |= dict.fromkeys(names, values)
            continue
        for name in names:
            why = members.why if name.startswith(_OF_WORK) and name != _INTO_LOAD else ""
            among = [doubt for doubt in members.among if not (name in _SHORT and doubt.startswith(_OF_CORE))]
            bands[name] = band_of(values[name], members.draws, why=why, among=among, beyond=beyond)
    return bands


def _loop(circuit: Circuit) -> Number:
    """Return the resistance in the secondary's loop [ohm]."""
    ratio = circuit.secondary_turns / circuit.primary_turns
    return circuit.secondary_resistance + circuit.lead_resistance + circuit.primary_resistance * ratio**2


def _wanted(kind: Repeated, found: AllowedDuty | NotConverged) -> float:
    """Return the share or the period [s] of a draw; no number where it is not found."""
    if isinstance(found, NotConverged):
        return nan
    return found.period if kind.on_time else found.share


def _squares(phase: Phase) -> Floats:
    """Return 1/I^2 of both currents, and the core loss, (3, n)."""
    rows = phase.primary_current**-2.0, phase.secondary_current**-2.0, phase.core_loss
    return np.stack(np.broadcast_arrays(*rows))


@dataclass(frozen=True, kw_only=True, eq=False)
class Members:
    """A design's first draws as machines side by side."""

    case: Case
    draws: Draws

    @property
    def among(self) -> list[str]:
        """Names of the doubts that count."""
        names = [doubt.name for doubt in self.draws.doubts]
        return [name for name in names if name in _NOT_HELD or not name.startswith(_HELD)]

    @property
    def why(self) -> str:
        """What is not in it."""
        return "" if self.case.design.work_piece is None else "without what is in doubt of the work"

    @once
    def few(self) -> Case:
        """The drawn design."""
        return self.case.drawn.first(len(self.draws), frozenset())

    @once
    def machine(self) -> Machine:
        """The machines in their rooms."""
        room = self.case.room + self.draws["heat.ambient"]
        return Machine(case=self.few, network=heat_network(self.few, room, self.draws.__getitem__))

    @once
    def pause(self) -> Phase:
        """Between two bursts."""
        return self.steady(self.few.pause)

    def steady(self, phase: Phase) -> Phase:
        """Return a phase with the mean in place of draws that have no state, whose results are not told."""
        names = ("primary_current", "secondary_current", "core_loss")
        columns = {name: np.asarray(getattr(phase, name), dtype=np.float64) for name in names}
        return replace(phase, **{n: np.where(np.isnan(c), np.nanmean(c), c) for n, c in columns.items()})

    def told(self, values: Number) -> Floats:
        """Return values with no number where a draw has no state."""
        return np.where(np.isfinite(self.few.at_idle.current_rms), values, np.nan)

    def by_part(self, name: str, temperatures: Floats) -> dict[str, Floats]:
        """Return temperatures (n, nodes) by part, all joints together as such."""
        parts, joints = np.array(self.machine.network.parts), self.machine.joints
        found = {part: temperatures[:, parts == part].max(axis=1) for part in dict.fromkeys(parts.tolist())}
        if joints:
            found["joints"] = np.max([found[joint] for joint in joints], axis=0)
        return {f"{name}.{part}": self.told(values) for part, values in found.items()}

    def flow(self) -> Flow:
        """Return what flows in bursts of the duty; into work as into the resistance that takes as much from cold."""
        if self.case.design.work_piece is None:
            return self.tabulated(self.few.flow())
        ohms = self.as_resistance
        return self.tabulated(lambda circuit: phase_loaded(loaded(circuit, ohms), 1.0))

    def tabulated(self, flow: Flow) -> Flow:
        """Return a flow's cubics in 1/I^2, and of the core's loss, through four warmths of each machine.

        Over the resistance in the secondary's loop, where a warmer primary counts by its turns: as `Feed` does.
        """
        network, now = self.machine.network, self.case.design.temperature
        circuits = [circuit_at(self.few.circuit, network, network.at_ambient() + rise, now) for rise in _WARMTHS]
        at = [self.steady(flow(circuit)) for circuit in circuits]
        knots, told = np.array([_loop(circuit) for circuit in circuits]), np.array([_squares(phase) for phase in at])

        def cubic(circuit: Circuit) -> Phase:
            ohms = _loop(circuit)
            found: Floats = np.zeros(told.shape[1:])
            for k, knot in enumerate(knots):
                others = np.delete(knots, k, axis=0)
                found = found + told[k] * np.prod((ohms - others) / (knot - others), axis=0)
            currents = found[:2] ** -0.5
            core = np.maximum(found[2], 0.0)
            return Phase(duration=1.0, primary_current=currents[0], secondary_current=currents[1], core_loss=core)

        return cubic

    @once
    def as_resistance(self) -> float:
        """The resistance into which the cold machine drives what it drives into the work, r.m.s. over its burst."""
        cold = Machine(case=self.case, network=self.case.network).cold_circuit
        wanted = float(self.case.flow()(cold).secondary_current)

        def excess(ohms: float) -> float:
            return wanted / float(loaded(cold, ohms).secondary_current_rms) - 1

        if excess(0.0) >= 0:  # a ring's own resistance is in the circuit: with more current than that nothing is added
            return 0.0
        high = 1e-3
        while excess(high) < 0:
            high *= 2
        return float(root(excess, 0.0, high, rtol=1e-9))

    @once
    def more(self) -> Phase:
        """Currents and core loss of the draws' bursts into the work, over those of the design [-]."""
        circuit = self.case.circuit
        own, each = (phase_loaded(loaded(one, self.as_resistance), 1.0) for one in (circuit, self.few.circuit))
        names = ("primary_current", "secondary_current", "core_loss")
        return self.steady(Phase(duration=1.0, **{n: getattr(each, n) / getattr(own, n) for n in names}))

    def scaled(self, phases: Sequence[Phase]) -> list[Phase]:
        """Return the phases of a burst into the work as each draw has them."""
        more, names = self.more, ("primary_current", "secondary_current", "core_loss")
        return [replace(p, **{n: getattr(p, n) * getattr(more, n) for n in names}) for p in phases]

    @property
    def start(self) -> Floats:
        """Temperatures of the whole machine before the burst into the work, (n, nodes) [K]."""
        kelvin = self.case.design.temperature + self.draws["temperature"]
        return np.repeat(kelvin[:, None], len(self.machine.network.nodes), axis=1)

    def kinds(self, found: Heating) -> Iterator[tuple[list[str], Callable[[], Values], str]]:
        """Yield names of what is known, how they are computed, and what is never reached."""
        load = self.case.design.load
        straight = load is None or load.rectifier is RectifierKind.NONE
        if found.shorted and found.shorted.longest:
            yield ["shorted.longest"], lambda: self.longest("shorted.longest", SHORT), _NEVER
        if straight and load is not None and found.loaded and found.loaded.longest:
            yield ["loaded.longest"], lambda: self.longest("loaded.longest", working_of(load)), _NEVER
        if found.burst:
            named = [f"burst.temperatures.{part}" for part in found.burst.temperatures]
            yield named, self.ends, _RUN_AWAY
            if found.burst.longest:
                yield ["burst.longest"], self.work_longest, _NEVER
        if found.idle and found.idle.temperatures:
            yield [f"idle.temperatures.{part}" for part in found.idle.temperatures], self.idle, _RUN_AWAY
        duty = found.duty
        if not duty or not (straight or self.case.design.work_piece is not None):
            return
        names = ["duty.allowed_share", "duty.shortest_period", *(["duty.allowed_share_with_load"] * straight)]
        kinds = [name for name in names if not isinstance(getattr(duty, name.partition(".")[2]), Unknown)]
        yield kinds, lambda: self.duties(kinds), "in which not one such burst in two days keeps to the limits"
        if duty.peak_temperatures:
            temperatures = [f"duty.peak_temperatures.{part}" for part in duty.peak_temperatures]
            groups = [f"joints.{group}.temperature" for group in found.joints or {}]
            cool = [] if isinstance(duty.cool_down, Unknown) else ["duty.cool_down"]
            yield [*temperatures, *groups, *cool], lambda: self.cycle(duty.cool_down_to), _RUN_AWAY

    def longest(self, name: str, working: Working) -> Values:
        """Return when the first part reaches its limit in one burst from cold [s]."""
        phase, network = self.steady(self.machine.cold(working)).lasting(LONGEST), self.machine.network
        return self._limits(name, first_limits(network, [phase], network.at_ambient()))

    def work_longest(self) -> Values:
        """Return the same of the burst into the work, left on."""
        phases = self.scaled(joined(limit_phases(self.case), within=_ALIKE))
        return self._limits("burst.longest", first_limits(self.machine.network, phases, self.start))

    def _limits(self, name: str, reached: Sequence[tuple[float, str] | None]) -> Values:
        return {name: self.told(np.array([inf if one is None else one[0] for one in reached]))}

    def ends(self) -> Values:
        """Return temperatures at the end of the burst into the work [K]."""
        assert self.case.fed is not None
        phases, lumps, now = (
            self.scaled(joined(self.case.fed.phases, within=_ALIKE)),
            self.machine.network.lumps,
            self.start,
        )
        walk = March(lumps, Course.of(phases, len(now)), now)
        for step in walk:
            now[step.members] = step.end
        now[list(walk.beyond)] = inf
        return self.by_part("burst.temperatures", now)

    def idle(self) -> Values:
        """Return temperatures plugged in for good with nothing connected [K]."""
        settled, beyond = settle(self.machine.network.lumps, self.steady(phase_idle(self.few.at_idle, 1.0)).flow)
        settled[list(beyond)] = inf
        return self.by_part("idle.temperatures", settled)

    def duties(self, names: Sequence[str]) -> Values:
        """Return the largest shares and the least period of repeated bursts [-], [s]."""
        duty = self.case.design.duty
        assert duty is not None
        flow, off, period = self.flow(), self.pause, duty.on_time + duty.off_time
        kinds = {
            "duty.allowed_share": Repeated(flow=flow, off=off, period=period),
            "duty.shortest_period": Repeated(flow=flow, off=off, on_time=duty.on_time),
        }
        if "duty.allowed_share_with_load" in names:
            kinds["duty.allowed_share_with_load"] = Repeated(
                flow=self.tabulated(self.few.load_flow()), off=off, period=period
            )
        asked = [kinds[name] for name in names]
        found = hot_duties(self.few.circuit, self.machine.network, asked, now=self.case.design.temperature)
        return {
            name: self.told([_wanted(kind, one) for one in duties])
            for name, kind, duties in zip(names, asked, found, strict=True)
        }

    def cycle(self, cool_to: float) -> Values:
        """Return peaks of the steady cycle by part [K], and how long they take to cool down [s]."""
        duty, network = self.case.design.duty, self.machine.network
        assert duty is not None
        lasts, off = duty.on_time, self.pause

        def phases(on: Phase) -> Sequence[Phase]:
            return (on.lasting(lasts), off)

        found = hot_cycles(self.few.circuit, network, self.flow(), phases, now=self.case.design.temperature)
        peaks = np.array([np.full(len(network.nodes), inf) if isinstance(f, TooHot) else f.cycle.peak for f in found])
        named = self.by_part("duty.peak_temperatures", peaks)
        bare = network.parts
        groups = {
            f"joints.{group}.temperature": self.told(peaks[:, bare.index(group)]) for group in self.machine.joints
        }
        known = np.isfinite(peaks).all(axis=1) & (cool_to > network.lumps.ambient[:, 0])
        cool = np.full(len(peaks), inf)
        off_now = Phase(duration=1.0)
        cool[known] = cool_down_times(network.lumps.take(known), peaks[known], cool_to, off=off_now)
        return {**named, **groups, "duty.cool_down": self.told(cool)}
