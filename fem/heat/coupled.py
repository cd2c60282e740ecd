"""Repeated bursts of a machine whose currents fall as it warms up: the steady cycle, and the duty it allows."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from fem.circuit.equivalent import Circuit
from fem.errors import NotConverged, TooHot
from fem.heat.cycle import SteadyCycle, steady_cycle
from fem.heat.duty import Duty, allowed_duty
from fem.heat.march import TOLERANCE
from fem.heat.network import CEILING, Network, Node
from fem.heat.phases import Carries, Phase

Flow = Callable[[Circuit], Phase]
"""Currents and core loss during a burst, of a circuit with its resistances as they then are; for any duration."""

_CLOSE = 1e-4
_PASSES = 40


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HotCycle:
    """Hold the steady cycle with the currents of the warm machine.

    Parameters
    ----------
    cycle
        Into which the machine settles.
    circuit
        At the mean of the temperatures at the beginning and at the peaks of the bursts.
    on
        During bursts.
    cold
        During the first burst of the cold machine: the highest currents.
    """

    cycle: SteadyCycle
    circuit: Circuit
    on: Phase
    cold: Phase


def hot_cycle(
    circuit: Circuit,
    network: Network,
    flow: Flow,
    phases: Callable[[Phase], Sequence[Phase]],
    *,
    now: float,
    tolerance: float = TOLERANCE,
    count: bool = True,
) -> HotCycle:
    """Find the steady cycle of bursts, resistances and currents following the temperatures.

    Parameters
    ----------
    circuit
        With its resistances at `now`.
    network
        As `machine_network`.
    flow
        What flows during a burst; see `Flow`.
    phases
        Makes one cycle, such as a burst and a pause, from what flows.
    now
        Temperature of the circuit's resistances [K].
    tolerance
        Error allowed per step of the march [K].
    count
        Whether to count the cycles it takes from cold, see `steady_cycle`; of pulse trains that takes seconds.

    Raises
    ------
    TooHot
        If a part would settle above 900 K however much its current falls on the way.
    NotConverged
        If the current does not settle within 1e-4, or as `flow` and `steady_cycle`.

    Notes
    -----
    A fixed point, T = (start + peak)/2 of the cycle that `flow` of the circuit at T drives: within a burst the current
    is held at its value for the mean of the temperatures at its beginning and its end. More heat means more resistance,
    which means less current, so plain repetition settles. Where a machine would get too hot with a current, it is tried
    with that of a machine half way to 900 K, and from there with half steps. The cold machine's currents, held
    throughout, give the bound to keep to.
    """
    at = network.at_ambient()
    warm = circuit_at(circuit, network, at, now)
    on = cold = flow(warm)
    guess, change, share = at, 1.0, 1.0
    for _ in range(_PASSES):
        try:
            cycle = steady_cycle(network, phases(on), guess=guess, tolerance=tolerance, count=count and change < _CLOSE)
        except TooHot:
            if float((CEILING - at).max()) < 1.0:
                raise
            share, change, at = 0.5, 1.0, at + 0.5 * (CEILING - at)
            warm = circuit_at(circuit, network, at, now)
            on = flow(warm)
            continue
        if change < _CLOSE:
            return HotCycle(cycle=cycle, circuit=warm, on=on, cold=cold)
        guess = cycle.start
        at = at + share * (0.5 * (cycle.start + cycle.peak) - at)
        before, warm = on, circuit_at(circuit, network, at, now)
        on = flow(warm)
        change = _change(before, on) / share
    what, tried = "current of the warm machine", f"{_PASSES} passes"
    raise NotConverged(what, residual=change, tolerance=_CLOSE, tried=tried)


def hot_duty(
    circuit: Circuit,
    network: Network,
    flow: Flow,
    *,
    period: float | None = None,
    on_time: float | None = None,
    off: Phase,
    now: float,
    tolerance: float = TOLERANCE,
) -> Duty:
    """Find the duty that a machine allows with the currents it has when it is as warm as that duty makes it.

    Parameters
    ----------
    circuit, network, flow, now, tolerance
        As `hot_cycle`.
    period, on_time
        One of them, see `allowed_duty` [s].
    off
        The pause; its duration is replaced.

    Raises
    ------
    NotConverged
        If the current does not settle within 1e-4, or as `flow` and `allowed_duty`.
    ValueError
        As `allowed_duty`.

    Notes
    -----
    At the duty allowed some part is at its limit whatever the current, so the temperatures, and with them the currents,
    hardly change from pass to pass.
    """
    on = flow(circuit_at(circuit, network, network.at_ambient(), now))
    change = 1.0
    near: Duty | None = None
    for _ in range(_PASSES):
        found = allowed_duty(network, on, period, on_time=on_time, off=off, tolerance=tolerance, near=near)
        if found.cycle is None or change < _CLOSE:
            return found
        near = found
        before, on = on, flow(circuit_at(circuit, network, 0.5 * (found.cycle.start + found.cycle.peak), now))
        change = _change(before, on)
    what, tried = "current at the duty allowed", f"{_PASSES} passes"
    raise NotConverged(what, residual=change, tolerance=_CLOSE, tried=tried)


def _change(before: Phase, after: Phase) -> float:
    """Return the larger relative change of the two currents [-]."""
    pairs = ((before.primary_current, after.primary_current), (before.secondary_current, after.secondary_current))
    return max(abs(new / old - 1) for old, new in pairs if old > 0)


def circuit_at(circuit: Circuit, network: Network, temperatures: ArrayLike, now: float) -> Circuit:
    """Return the circuit with windings and leads at the network's temperatures.

    Parameters
    ----------
    circuit
        Resistances at one temperature.
    network
        As `machine_network`; resistance held in nodes fixes how leads and joints share.
    temperatures
        (nodes,) [K].
    now
        Temperature of the circuit's resistances [K].

    Notes
    -----
    R(T) = R(now) (f + (F - 1)/f) over the same at now, f = 1 + alpha (T - T0) the straight line of IEC 60028 and F the
    a.c. factor at T0, as `Network` has it: the heat of the lumps is that of the circuit's resistances. Currents of a
    cold circuit are the highest: use them for a bound, these for the state a hot machine works in.
    """
    hot: dict[str, float] = dict(zip(network.names, np.asarray(temperatures).tolist(), strict=True))

    def ohms(node: Node, temperature: float) -> float:
        factor = 1 + node.temperature_coefficient * (temperature - node.reference_temperature)
        return node.resistance * (factor + (node.ac_factor - 1) / factor)

    def ratio(*nodes: Node) -> float:
        cold = sum(ohms(n, now) for n in nodes)
        return sum(ohms(n, hot[n.name]) for n in nodes) / cold if cold > 0 else 1.0

    by_name = {n.name: n for n in network.nodes}
    wound = [n for n in network.nodes if n.name == "secondary"]
    outside = [n for n in network.nodes if n.carries is Carries.SECONDARY and n not in wound]
    return replace(
        circuit,
        primary_resistance=circuit.primary_resistance * ratio(by_name["primary"]),
        secondary_resistance=circuit.secondary_resistance * ratio(*wound),
        lead_resistance=circuit.lead_resistance * ratio(*outside),
    )
