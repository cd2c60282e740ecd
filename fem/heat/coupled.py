"""Repeated bursts of a machine whose currents fall as it warms up: the steady cycle, and the duty it allows."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, of_each
from fem.circuit.equivalent import Circuit
from fem.errors import NotConverged, TooHot
from fem.heat.cycle import CLOSED, SteadyCycle, steady_cycles
from fem.heat.duty import allowed_duties
from fem.heat.network import CEILING, Network
from fem.heat.phases import Carries, Course, Phase
from fem.heat.settled import check_ways_out
from fem.heat.share import Duty

Flow = Callable[[Circuit], Phase]
"""Currents and core loss during a burst, of a circuit with its resistances as they then are; for any duration.

Of a block of machines the circuit's numbers, and those of what flows, are arrays with an entry for each."""

_CLOSE = 1e-4
_ROUGH = 1.0
"""How close a cycle need come while its current is not yet known [K]."""
_PASSES = 40


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HotCycle:
    """Hold the steady cycle with the currents of the warm machine.

    Parameters
    ----------
    cycle
        Into which the machine settles.
    circuit
        At the mean of the temperatures at the beginning and at the peaks of the bursts; of a block that of all.
    on
        During bursts.
    cold
        During the first burst of the cold machine: the highest currents.
    """

    cycle: SteadyCycle
    circuit: Circuit
    on: Phase
    cold: Phase


def hot_cycles(
    circuit: Circuit,
    network: Network,
    flow: Flow,
    phases: Callable[[Phase], Sequence[Phase]],
    *,
    now: float,
) -> list[HotCycle | TooHot]:
    """Find the steady cycles of machines side by side, resistances and currents following the temperatures.

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

    Returns
    -------
    list
        Of each machine; where a part would settle above 900 K however much its current falls on the way, that.

    Raises
    ------
    NotConverged
        If a current does not settle within 1e-4, or as `flow` and `steady_cycles`.

    Notes
    -----
    A fixed point, T = (start + peak)/2 of the cycle that `flow` of the circuit at T drives: within a burst the current
    is held at its value for the mean of the temperatures at its beginning and its end. More heat means more resistance,
    which means less current, so plain repetition settles. Where a machine would get too hot with a current, it is tried
    with that of a machine half way to 900 K, and from there with half steps. The cold machine's currents, held
    throughout, give the bound to keep to.
    """
    lumps = network.lumps.block
    check_ways_out(lumps)
    at = lumps.at_ambient()
    on = cold = flow(_warm(circuit, network, at, now))
    guess, change, share = at.copy(), np.ones(len(at)), np.ones(len(at))
    rough = np.ones(len(at), dtype=bool)
    found: dict[int, SteadyCycle | TooHot] = {}
    for _ in range(_PASSES):
        going = np.array([i for i in range(len(at)) if i not in found], dtype=np.intp)
        if not going.size:
            break
        course = Course.of(phases(on), len(at)).take(going)
        closed = _ROUGH if rough[going].all() else CLOSED
        trials = steady_cycles(lumps.take(going), course, guess[going], closed=closed)
        for i, trial in zip(going.tolist(), trials, strict=True):
            if isinstance(trial, TooHot):
                if float((CEILING - at[i]).max()) < 1.0:
                    found[i] = trial
                share[i], change[i], at[i] = 0.5, 1.0, at[i] + 0.5 * (CEILING - at[i])
            elif change[i] < _CLOSE and closed == CLOSED:
                found[i] = trial
            else:
                guess[i] = trial.start
                at[i] += share[i] * (0.5 * (trial.start + trial.peak) - at[i])
                change[i] = 0.0
        before, on = on, flow(_warm(circuit, network, at, now))
        changes = _changes(before, on, len(at)) / share
        change = np.where(change < 1.0, changes, 1.0)
        rough = change > 100 * _CLOSE
    else:
        what, tried = "current of the warm machine", f"{_PASSES} passes"
        raise NotConverged(what, residual=float(change.max()), tolerance=_CLOSE, tried=tried)
    warm, many = _warm(circuit, network, at, now), len(at)
    return [
        end
        if isinstance(end := found[i], TooHot)
        else HotCycle(cycle=end, circuit=warm, on=on.member(i), cold=cold.member(i))
        for i in range(many)
    ]


def _warm(circuit: Circuit, network: Network, temperatures: Floats, now: float) -> Circuit:
    """Return the circuit at temperatures (m, nodes); of one network with plain numbers."""
    return circuit_at(circuit, network, temperatures.reshape(network.capacity.shape), now)


@dataclass(frozen=True, kw_only=True, slots=True)
class Repeated:
    """Describe bursts repeated for good whose duty is asked for.

    Parameters
    ----------
    flow
        What flows during a burst; see `Flow`.
    off
        The pause; its duration is replaced.
    period, on_time
        One of them, see `allowed_duties` [s].
    """

    flow: Flow
    off: Phase
    period: float | None = None
    on_time: float | None = None


def hot_duties(
    circuit: Circuit, network: Network, kinds: Sequence[Repeated], *, now: float
) -> list[list[Duty | NotConverged]]:
    """Find the duties that machines allow with the currents they have when they are as warm as that duty makes them.

    Parameters
    ----------
    circuit, network, now
        As `hot_cycles`.
    kinds
        Of bursts, which are all searched side by side.

    Returns
    -------
    list of list
        Of each kind, of each machine; where its duty is not found, that.

    Raises
    ------
    NotConverged, ValueError
        As `flow` and `allowed_duties`.

    Notes
    -----
    At the duty allowed some part is at its limit whatever the current, so the temperatures, and with them the currents,
    hardly change from pass to pass.
    """
    lumps = network.lumps.block
    members = lumps.members

    def spread(values: Floats) -> Floats:
        return np.broadcast_to(values, (3, members))

    def flows(temperatures: Floats) -> Floats:
        warm = np.split(temperatures, len(kinds))
        found = [kind.flow(_warm(circuit, network, at, now)) for kind, at in zip(kinds, warm, strict=True)]
        return np.concatenate([spread(phase.flow[..., 0].reshape(3, -1)) for phase in found], axis=1)

    period, on_time = (
        np.repeat([np.nan if t is None else t for t in row], members)
        for row in ([kind.period for kind in kinds], [kind.on_time for kind in kinds])
    )
    off = np.concatenate([spread(kind.off.flow[..., 0].reshape(3, -1)) for kind in kinds], axis=1)
    everyone = lumps.take(np.tile(np.arange(members), len(kinds)))
    found = allowed_duties(everyone, flows, period=period, on_time=on_time, off=off)
    return [found[begin : begin + members] for begin in range(0, len(found), members)]


def _changes(before: Phase, after: Phase, members: int) -> Floats:
    """Return the larger relative change of the two currents, (m,) [-]."""
    changes = np.zeros(members)
    for name in ("primary_current", "secondary_current"):
        old, new = (np.broadcast_to(getattr(phase, name), members) for phase in (before, after))
        changes = np.maximum(changes, np.where(old > 0, np.abs(new / np.where(old > 0, old, 1.0) - 1), 0.0))
    return changes


def circuit_at(circuit: Circuit, network: Network, temperatures: ArrayLike, now: float) -> Circuit:
    """Return the circuit with windings and leads at the network's temperatures.

    Parameters
    ----------
    circuit
        Resistances at one temperature.
    network
        As `machine_network`; resistance held in nodes fixes how leads and joints share.
    temperatures
        (..., nodes) [K].
    now
        Temperature of the circuit's resistances [K].

    Notes
    -----
    R(T) = R(now) (f + (F - 1)/f) over the same at now, f = 1 + alpha (T - T0) the straight line of IEC 60028 and F the
    a.c. factor at T0, as `Network` has it: the heat of the lumps is that of the circuit's resistances. Currents of a
    cold circuit are the highest: use them for a bound, these for the state a hot machine works in.
    """
    primary, secondary, alpha, reference, extra, _ = network.lumps.copper
    ohms = primary + secondary

    def total(kelvin: Floats | float, own: Any) -> Any:
        factor = 1 + alpha * (kelvin - reference)
        return ((ohms * (factor + extra / factor)) * own).sum(axis=-1)

    def ratio(own: Any) -> Any:
        cold = total(now, own)
        with np.errstate(divide="ignore", invalid="ignore"):
            return of_each(np.where(cold > 0, total(np.asarray(temperatures), own) / cold, 1.0))

    names = np.array(network.names)
    wound, outside = (
        [names == name for name in ("primary", "secondary")],
        np.array([n.carries is Carries.SECONDARY and n.name != "secondary" for n in network.nodes]),
    )
    return replace(
        circuit,
        primary_resistance=circuit.primary_resistance * ratio(wound[0]),
        secondary_resistance=circuit.secondary_resistance * ratio(wound[1]),
        lead_resistance=circuit.lead_resistance * ratio(outside),
    )
