"""One machine, one work piece, one burst: what the library follows many of side by side, each by itself."""

from collections.abc import Sequence
from dataclasses import replace
from math import inf, pi
from typing import Any

from fem.circuit.equivalent import Circuit
from fem.constants import MU0
from fem.errors import TooHot
from fem.heat import burst as bursts
from fem.heat.counting import count_cycles
from fem.heat.coupled import Repeated, hot_duties
from fem.heat.cycle import SteadyCycle, steady_cycles
from fem.heat.duty import allowed_duties
from fem.heat.network import Network
from fem.heat.phases import Course, Phase
from fem.heat.settled import check_ways_out
from fem.heat.share import Duty, known
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
