"""The bursts into a work piece that an estimate asks for, followed side by side, each once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from fem.design.work_piece import WorkPieceDescription
from fem.estimation.inputs.work import work_of
from fem.estimation.inputs.working import burst_flow, flow_bursts
from fem.heat.coupled import Flow
from fem.work.burst import Burst, settled, settling
from fem.work.course import Failed
from fem.work.feed import Warm
from fem.work.feeding import FedBurst, fed_side_by_side
from fem.work.run import HeatingRun, Settled
from fem.work.warmer import Machine


@dataclass(frozen=True, slots=True)
class Asked:
    """Say which bursts: of a machine that warms, left on until nothing changes, of machines held as warm as they are.

    Parameters
    ----------
    what
        "fed", "left on" or "flow".
    duration, switch_off
        Of fed bursts and flows [s]; the cooling after it of fed ones.
    """

    what: str
    duration: float = 0.0
    switch_off: float | None = None


LEFT_ON = Asked("left on")


@dataclass(frozen=True, eq=False)
class Bursts:
    """Bursts of one machine into one work piece, cold at first.

    Parameters
    ----------
    given
        The work piece.
    machine
        As warm as it is at first.
    ahead
        What is sure to be asked for: that is followed at once, side by side; anything else when it is asked for.

    Notes
    -----
    What is asked for and fails raises what `Failed` says, every time.
    """

    given: WorkPieceDescription
    machine: Machine
    ahead: tuple[Asked, ...]
    _found: dict[Asked, list[tuple[HeatingRun, FedBurst | None] | Failed]] = field(default_factory=dict, init=False)

    @property
    def warm(self) -> Warm:
        """The machine if it stays as warm as it is at first, as a load line."""
        return Warm(feed=self.machine.feed, rise=self.machine.course[1])

    def fed(self, duration: float, switch_off: float | None = None) -> tuple[HeatingRun, FedBurst]:
        """Return a burst, and the cooling after it, with the machine warming as it goes; times [s]."""
        ((run, fed),) = self._of(Asked("fed", duration, switch_off))
        assert fed is not None
        return run, fed

    def left_on(self) -> Settled:
        """Return what the work comes to with the current left on, from a machine that stays as warm as it is."""
        ((run, _),) = self._of(LEFT_ON)
        return settled(run)

    def flow(self, duration: float) -> Flow:
        """Return what machines of any warmth drive into bursts of a length [s], see `burst_flow`."""
        return burst_flow(self.machine.feed, [run for run, _ in self._of(Asked("flow", duration))])

    def _of(self, asked: Asked) -> list[tuple[HeatingRun, FedBurst | None]]:
        if asked not in self._found:
            follow_together([self], asked)
        told = []
        for one in self._found[asked]:
            if isinstance(one, Exception):
                raise one
            told.append(one)
        return told

    def _bursts(self, asked: Asked) -> list[Burst]:
        piece, start, feed = work_of(self.given), self.given.ambient, self.machine.feed
        frequency = feed.circuit.frequency
        if asked.what == "flow":
            return flow_bursts(piece, feed, duration=asked.duration, start_temperature=start)
        if asked.what == "left on":
            return [settling(piece, self.warm, start_temperature=start, frequency=frequency)]
        burst = Burst(
            piece=piece,
            line=self.machine,
            duration=asked.duration,
            switch_off=asked.switch_off,
            start_temperature=start,
            frequency=frequency,
        )
        return [burst]


def follow_together(many: Sequence[Bursts], *asked: Asked) -> None:
    """Follow what is sure to be asked for of several machines, and what else is named, in as few blocks as may be.

    A block of ten machines takes little longer than one: what a lone one takes is mostly the calls of its rounds.
    """
    alike: dict[object, list[tuple[Bursts, Asked]]] = {}
    for one in many:
        lumps = tuple(node.name for node in one.machine.network.nodes)
        wanted = dict.fromkeys((*one.ahead, *asked))
        alike.setdefault(lumps, []).extend((one, each) for each in wanted if each not in one._found)
    for block in alike.values():
        each = [one._bursts(what) for one, what in block]
        runs = iter(fed_side_by_side([burst for bursts in each for burst in bursts]))
        for (one, what), bursts in zip(block, each, strict=True):
            one._found[what] = [next(runs) for _ in bursts]
