"""March the heat network through time, in steps that are exact for constant conductances."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats, positive
from fem.errors import TooHot
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase
from fem.heat.tangent import Step, Tangent, tangent
from fem.roots import root

TOLERANCE = 0.02
"""Error allowed per step [K]."""


def steps(
    network: Network, phases: Sequence[Phase], start: ArrayLike, *, tolerance: float = TOLERANCE
) -> Iterator[Step]:
    """Yield the steps through a sequence of phases.

    Parameters
    ----------
    network
        The lumps.
    phases
        Finite durations.
    start
        (nodes,) temperatures at the beginning [K].
    tolerance
        Error allowed per step [K].

    Raises
    ------
    TooHot
        If a node passes 900 K, where the data end; the step up to there is yielded before.
    ValueError
        If a duration is not finite, the start has another shape or the tolerance is not above 0.

    Notes
    -----
    Exponential steps of order 3, see `Tangent`. The next is h = 0.9 h (tolerance/error)^(1/3), at most 5 h; a step with
    too large an error is taken again, and one in which a mode grows lasts two of its time constants at most.

    Machines along a leading axis would need one h for all (the least of theirs), stacked tangents (`eigh` takes them)
    and a mask for those beyond 900 K; losses and cooling take such stacks already.
    """
    now = np.array(start, dtype=np.float64)
    if now.shape != (len(network.nodes),):
        msg = f"{len(network.nodes)} start temperatures expected, got shape {now.shape}"
        raise ValueError(msg)
    positive(tolerance=tolerance)
    if not now.max() <= CEILING:
        raise TooHot(network.parts[int(np.argmax(now))], CEILING, 0.0, now)
    clock = 0.0
    for which, phase in enumerate(phases):
        if not isfinite(phase.duration):
            msg = f"phase {which} needs a finite duration, got {phase.duration!r}"
            raise ValueError(msg)
        left = h = phase.duration
        while left > 0:
            here = tangent(network, phase, now)
            # A growing mode must not run off within one trial.
            h = min(h, left, 2.0 / max(float(here.values[-1]), 1e-30))
            while True:
                step, error = here.step(h, which, clock)
                growth = 0.9 * (tolerance / max(error, 1e-12)) ** (1 / 3)
                if error <= tolerance:
                    break
                h *= max(growth, 0.05)
            end = step.at(h)
            if end.max() > CEILING:
                # What happened on the way there is still good: yield it up to the end of the data.
                last = _up_to_the_ceiling(here, step)
                yield last
                end = last.at(last.duration)
                raise TooHot(network.parts[int(np.argmax(end))], CEILING, clock + last.duration, end)
            yield step
            now = end
            clock += h
            left -= h
            if left <= 1e-12 * phase.duration:
                break
            h *= min(growth, 5.0)


def _up_to_the_ceiling(here: Tangent, step: Step) -> Step:
    def excess(time: float) -> float:
        return float(step.at(time).max()) - CEILING

    return here.step(root(excess, 0.0, step.duration), step.phase, step.start)[0]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HeatRun:
    """Hold temperatures over time.

    Parameters
    ----------
    names
        Of the nodes.
    times
        (n,) [s], from 0.
    temperatures
        (n, nodes) [K].
    phases
        (n,) place of the phase that ends at or holds each moment.
    energy_in, energy_out, energy_stored
        Heat made, given off, and left in the metal [J].
    """

    names: tuple[str, ...]
    times: Floats
    temperatures: Floats
    phases: NDArray[np.int64]
    energy_in: float
    energy_out: float
    energy_stored: float

    def of(self, name: str) -> Floats:
        """Return the temperatures of one node, (n,) [K]."""
        return self.temperatures[:, self.names.index(name)]


def march(
    network: Network,
    phases: Sequence[Phase],
    start: ArrayLike | None = None,
    *,
    tolerance: float = TOLERANCE,
    samples: int = 4,
) -> HeatRun:
    """Follow the temperatures through a sequence of phases.

    Parameters
    ----------
    network
        The lumps.
    phases
        At least one, of finite duration.
    start
        (nodes,) [K]; left out, ambient.
    tolerance
        Error allowed per step [K].
    samples
        Moments kept per step [-], >= 1.

    Raises
    ------
    TooHot, ValueError
        As `steps`; also if there is no phase or no sample.
    """
    if not phases or samples < 1:
        msg = f"at least one phase and one sample are needed, got {len(phases)} and {samples}"
        raise ValueError(msg)
    first = network.at_ambient() if start is None else np.array(start, dtype=np.float64)
    times, temperatures, places = [np.zeros(1)], [first[None, :]], [np.zeros(1, dtype=np.int64)]
    energy_in = energy_out = 0.0
    for step in steps(network, phases, first, tolerance=tolerance):
        inside = step.duration * np.arange(1, samples + 1) / samples
        times.append(step.start + inside)
        temperatures.append(step.at(inside))
        places.append(np.full(samples, step.phase, dtype=np.int64))
        energy_in += step.energy_in
        energy_out += step.energy_out
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
