"""March the heat network through time, in steps that are exact for constant conductances."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import factorial, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from fem.arrays import Floats
from fem.errors import TooHot
from fem.heat.network import CEILING, Network, Phase

TOLERANCE = 0.02
"""Error allowed per step [K]."""

_SERIES = [1.0 / factorial(4 + j) for j in range(16)]
"""Of the fourth function in `phi`, to the last digit within 1 of zero."""


def phi(z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return (exp(z) - 1)/z and the three functions after it: phi_(k+1) = (phi_k - 1/k!)/z."""
    # Near zero that cancels: there the series of the last, and downward to the first.
    small = np.abs(z) < 1
    near, far = np.where(small, z, 0.0), np.where(small, 1.0, z)
    fourth = np.full_like(z, _SERIES[-1])
    for coefficient in _SERIES[-2::-1]:
        fourth = fourth * near + coefficient
    third = near * fourth + 1 / 6
    second = near * third + 1 / 2
    first = near * second + 1
    if small.all():
        return first, second, third, fourth
    far_first = np.expm1(far) / far
    far_second = (far_first - 1) / far
    far_third = (far_second - 1 / 2) / far
    return (
        np.where(small, first, far_first),
        np.where(small, second, far_second),
        np.where(small, third, far_third),
        np.where(small, fourth, (far_third - 1 / 6) / far),
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Step:
    """Hold one accepted step; `at` gives any moment within it.

    Parameters
    ----------
    phase : int
        Place in the sequence of phases.
    start, duration : float
        [s].
    energy_in, energy_out : float
        Heat made and heat given off within the step [J].
    """

    phase: int
    start: float
    duration: float
    energy_in: float
    energy_out: float
    _temperatures: Floats
    _root: Floats
    _values: Floats
    _vectors: Floats
    _rate: Floats
    _bend: Floats

    def at(self, time: ArrayLike) -> Floats:
        """Return the temperatures [K], (..., nodes), at times since the step began [s]."""
        s = np.asarray(time, dtype=np.float64)[..., None]
        first, _, third, _ = phi(s * self._values)
        modal = s * first * self._rate + 2 * s**3 / self.duration**2 * third * self._bend
        return np.asarray(self._temperatures + modal @ self._vectors.T / self._root)

    @property
    def propagator(self) -> Floats:
        """How a small change at the start arrives at the end, (nodes, nodes) [-]."""
        grown = self._vectors * np.exp(self._values * self.duration)
        return np.asarray((grown @ self._vectors.T) * self._root / self._root[:, None])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Tangent:
    """The network at one moment: heat made and lost with slopes, and the modes of its small changes."""

    network: Network
    phase: Phase
    now: Floats
    root: Floats
    made: tuple[Floats, Floats]
    lost: tuple[Floats, Floats]
    values: Floats
    vectors: Floats
    rate: Floats

    def step(self, h: float, which: int, clock: float) -> tuple[Step, float]:
        """Return a step of h [s] from this moment, and the error it shows [K]."""
        (made, made_slope), (lost, lost_slope) = self.made, self.lost
        first, second, third, fourth = phi(h * self.values)
        trial = self.now + self.vectors @ (h * first * self.rate) / self.root
        moved = trial - self.now
        made_bend = self.network.losses(self.phase, trial)[0] - made - made_slope * moved
        lost_bend = self.network.cooling(trial)[0] - lost - lost_slope * moved
        bend = self.vectors.T @ ((made_bend - lost_bend) / self.root)
        correction = self.vectors @ (2 * h * third * bend) / self.root
        # Time integral of the temperatures over their beginning.
        over = self.vectors @ (h**2 * (second * self.rate + 2 * fourth * bend)) / self.root
        step = Step(
            phase=which,
            start=clock,
            duration=h,
            energy_in=float(np.sum(made * h + made_slope * over + made_bend * h / 3)),
            energy_out=float(np.sum(lost * h + lost_slope * over + lost_bend * h / 3)),
            _temperatures=self.now,
            _root=self.root,
            _values=self.values,
            _vectors=self.vectors,
            _rate=self.rate,
            _bend=bend,
        )
        return step, float(np.abs(correction).max())


def _tangent(network: Network, phase: Phase, now: Floats) -> _Tangent:
    root = np.sqrt(network.capacity)
    made, lost = network.losses(phase, now), network.cooling(now)
    scaled = np.diag((made[1] - lost[1]) / network.capacity) - network.laplacian / np.outer(root, root)
    values, vectors = np.linalg.eigh(scaled)
    return _Tangent(
        network=network,
        phase=phase,
        now=now,
        root=root,
        made=made,
        lost=lost,
        values=values,
        vectors=vectors,
        rate=vectors.T @ ((made[0] - lost[0] - network.laplacian @ now) / root),
    )


def steps(
    network: Network, phases: Sequence[Phase], start: ArrayLike, *, tolerance: float = TOLERANCE
) -> Iterator[Step]:
    """Yield the steps through a sequence of phases.

    Parameters
    ----------
    network : Network
    phases : sequence of Phase
        Finite durations.
    start : (nodes,) array
        Temperatures at the beginning [K].
    tolerance : float
        Error allowed per step [K].

    Yields
    ------
    Step

    Raises
    ------
    TooHot
        If a node passes 900 K, where the data end; the step up to there is yielded before.
    ValueError
        If a duration is not finite, the start has another shape or the tolerance is not above 0.

    Notes
    -----
    Two-stage exponential Rosenbrock method of order 3, its own difference to order 2 controlling the step: M. Hochbruck
    and A. Ostermann, Acta Numerica 19 (2010) 209-286 (coefficients from memory; the tests measure the order). Scaled by
    the root of the capacities the tangent is symmetric, so its functions come from real eigenvalues. Exact where
    cooling and losses are linear in temperature.
    """
    now = np.array(start, dtype=np.float64)
    if now.shape != (len(network.nodes),):
        msg = f"{len(network.nodes)} start temperatures expected, got shape {now.shape}"
        raise ValueError(msg)
    if not tolerance > 0:
        msg = f"tolerance must be above 0, got {tolerance!r}"
        raise ValueError(msg)
    if not now.max() <= CEILING:
        raise TooHot(network.names[int(np.argmax(now))], CEILING, 0.0, now)
    clock = 0.0
    for which, phase in enumerate(phases):
        if not isfinite(phase.duration):
            msg = f"phase {which} needs a finite duration, got {phase.duration!r}"
            raise ValueError(msg)
        left = h = phase.duration
        while left > 0:
            tangent = _tangent(network, phase, now)
            # A growing mode must not run off within one trial.
            h = min(h, left, 2.0 / max(float(tangent.values[-1]), 1e-30))
            while True:
                step, error = tangent.step(h, which, clock)
                growth = 0.9 * (tolerance / max(error, 1e-12)) ** (1 / 3)
                if error <= tolerance:
                    break
                h *= max(growth, 0.05)
            end = step.at(h)
            if end.max() > CEILING:
                # What happened on the way there is still good: yield it up to the end of the data.
                last = _up_to_the_ceiling(tangent, step)
                yield last
                end = last.at(last.duration)
                raise TooHot(network.names[int(np.argmax(end))], CEILING, clock + last.duration, end)
            yield step
            now = end
            clock += h
            left -= h
            if left <= 1e-12 * phase.duration:
                break
            h *= min(growth, 5.0)


def _up_to_the_ceiling(tangent: _Tangent, step: Step) -> Step:
    def excess(time: float) -> float:
        return float(step.at(time).max()) - CEILING

    return tangent.step(float(brentq(excess, 0.0, step.duration)), step.phase, step.start)[0]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HeatRun:
    """Hold temperatures over time.

    Parameters
    ----------
    names : tuple of str
        Of the nodes.
    times : (n,) array
        [s], from 0.
    temperatures : (n, nodes) array
        [K].
    phases : (n,) array
        Place of the phase that ends at or holds each moment.
    energy_in, energy_out, energy_stored : float
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
    network : Network
    phases : sequence of Phase
        At least one, of finite duration.
    start : (nodes,) array, optional
        [K]; left out, ambient.
    tolerance : float
        Error allowed per step [K].
    samples : int
        Moments kept per step [-], >= 1.

    Returns
    -------
    HeatRun

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
