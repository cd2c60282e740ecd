"""One machine, one work piece, one burst: what the library follows many of side by side, each by itself."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf, pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.constants import MU0
from fem.errors import TooHot
from fem.heat import burst as bursts
from fem.heat.counting import count_cycles
from fem.heat.coupled import Flow, HotCycle, Repeated, hot_cycles, hot_duties
from fem.heat.cycle import SteadyCycle, steady_cycles
from fem.heat.duty import allowed_duties
from fem.heat.levels import cool_down_times
from fem.heat.march import March
from fem.heat.network import Network
from fem.heat.phases import Course, Phase
from fem.heat.settled import check_ways_out
from fem.heat.settled import settle as settled_at
from fem.heat.share import Duty, known
from fem.heat.tangent import Step
from fem.work.burst import Burst, settled, settling, side_by_side
from fem.work.chain import WorkPiece
from fem.work.course import Failed
from fem.work.feed import Feed, feed_of
from fem.work.feeding import FedBurst, fed_side_by_side
from fem.work.line import Source
from fem.work.run import HeatingRun, Settled
from fem.work.warmer import Machine


def burst(network: Network, phase: Phase) -> bursts.Burst:
    return bursts.bursts(network, [phase])[0]


def allowed_duty(
    network: Network, on: Phase, period: float | None = None, *, off: Phase | None = None, **more: Any
) -> Duty:
    flow, pause = on.flow, (off or Phase(duration=1.0)).flow
    return known(allowed_duties(network.lumps.block, lambda _: flow, period=period, off=pause, **more)[0])


def hot_duty(circuit: Circuit, network: Network, repeated: Repeated, **more: Any) -> Duty:
    return known(hot_duties(circuit, network, [repeated], **more)[0][0])


def steady_cycle(network: Network, phases: Sequence[Phase], *, count: bool = True, **more: Any) -> SteadyCycle:
    """Return the steady cycle; with the cycles counted that it takes from cold, which takes long."""
    lumps, course = network.lumps.block, Course.of(phases, 1)
    check_ways_out(lumps)
    found = steady_cycles(lumps, course, **more)[0]
    if isinstance(found, TooHot):
        raise found
    return replace(found, cycles=count_cycles(lumps, course, found, **more)) if count else found


def whole(run: HeatingRun | Failed) -> HeatingRun:
    if isinstance(run, HeatingRun):
        return run
    raise run


def heat(piece: WorkPiece, line: Source, **more: Any) -> HeatingRun:
    return whole(side_by_side([Burst(piece=piece, line=line, **more)])[0])


def settle(piece: WorkPiece, line: Source, **more: Any) -> Settled:
    return settled(whole(side_by_side([settling(piece, line, **more)])[0]))


def fed_burst(
    piece: WorkPiece, circuit: Circuit, network: Network, *, now: float, feed: Feed | None = None, **more: Any
) -> tuple[HeatingRun, FedBurst]:
    """Follow work and machine through a burst, the whole machine at `now` at the beginning."""
    feed = feed or feed_of(piece, circuit, network, now=now)
    machine = Machine(feed=feed, circuit=circuit, network=network, now=now)
    (found,) = fed_side_by_side([Burst(piece=piece, line=machine, frequency=circuit.frequency, **more)])
    if not isinstance(found, tuple):
        raise found
    run, fed = found
    assert fed is not None
    return run, fed


def lead_field(current: float, distance: float, spacing: float = inf) -> float:
    """Return the largest flux density [T] at a distance from the nearer of two leads: mu0 I/(2 pi) d/(r_1 r_2).

    r_2 is at least r_1, and d - r_1 between the leads; any text on electromagnetism, from memory.
    """
    share = 1.0 if spacing == inf else spacing / max(distance, spacing - distance)
    return MU0 * current / (2 * pi * distance) * share


def first_limit(network: Network, phases: Sequence[Phase], start: ArrayLike) -> tuple[float, str] | None:
    return bursts.first_limits(network, phases, start)[0]


def steady_state(network: Network, phase: Phase) -> Floats:
    found, beyond = settled_at(network.lumps.block, phase.flow[:, None])
    for end in beyond.values():
        raise end
    return np.asarray(found[0])


def cool_down_time(
    network: Network, start: ArrayLike, target: float, *, off: Phase | None = None, **more: Any
) -> float:
    first = np.array(start, dtype=np.float64)[None]
    return float(cool_down_times(network.lumps.block, first, target, off=off or Phase(duration=1.0), **more)[0])


def hot_cycle(
    circuit: Circuit, network: Network, flow: Flow, phases: Callable[[Phase], Sequence[Phase]], **more: Any
) -> HotCycle:
    found = hot_cycles(circuit, network, flow, phases, **more)[0]
    if isinstance(found, TooHot):
        raise found
    return found


def steps(network: Network, phases: Sequence[Phase], start: ArrayLike, **more: Any) -> Iterator[Step]:
    """Yield the steps through a sequence of phases, without the leading axis; TooHot at the data's end."""
    walk = March(network.lumps.block, Course.of(phases, 1), np.array(start, dtype=np.float64)[None], **more)
    for step in walk:
        yield step.take(0)
    for end in walk.beyond.values():
        raise end


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HeatRun:
    """Temperatures (n, nodes) [K] at times (n,) [s], from 0, with the phase that ends at or holds each moment [J]."""

    names: tuple[str, ...]
    times: Floats
    temperatures: Floats
    phases: NDArray[np.int64]
    energy_in: float
    energy_out: float
    energy_stored: float

    def of(self, name: str) -> Floats:
        return self.temperatures[:, self.names.index(name)]


def march(
    network: Network, phases: Sequence[Phase], start: ArrayLike | None = None, *, samples: int = 4, **more: Any
) -> HeatRun:
    """Follow the temperatures through a sequence of phases, so many samples a step."""
    first = network.at_ambient() if start is None else np.array(start, dtype=np.float64)
    times, temperatures, places = [np.zeros(1)], [first[None, :]], [np.zeros(1, dtype=np.int64)]
    energy_in = energy_out = 0.0
    for step in steps(network, phases, first, **more):
        inside = step.duration * np.arange(1, samples + 1) / samples
        times.append(step.start + inside)
        temperatures.append(step.at(inside))
        places.append(np.full(samples, step.phase, dtype=np.int64))
        made, lost = step.energies
        energy_in, energy_out = energy_in + float(made), energy_out + float(lost)
    together = np.concatenate(temperatures)
    return HeatRun(
        names=network.names,
        times=np.concatenate(times),
        temperatures=together,
        phases=np.concatenate(places),
        energy_in=energy_in,
        energy_out=energy_out,
        energy_stored=float(network.capacity @ (together[-1] - together[0])),
    )
