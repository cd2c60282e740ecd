"""March the heat network through time, in steps that are exact for constant conductances."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import eigh

from fem.errors import OutOfRange
from fem.lumped.heat import CEILING, Network, Phase

Floats = NDArray[np.float64]

TOLERANCE = 0.02
"""Error allowed per step [K]."""

_SERIES = np.array([1.0, 1.0, 2.0, 6.0, 24.0])


def _phi(z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return (exp(z) - 1)/z and the three functions after it: phi_(k+1) = (phi_k - 1/k!)/z."""
    small = np.abs(z) < 1
    safe = np.where(small, 1.0, z)
    found = [np.exp(z)]
    for k in range(4):
        term = np.full_like(z, 1.0 / (_SERIES[k] * (k + 1)))
        series = term.copy()
        near = np.where(small, z, 0.0)
        for j in range(1, 18):
            term = term * near / (k + 1 + j)
            series = series + term
        found.append(np.where(small, series, (found[-1] - 1 / _SERIES[k]) / safe))
    return found[1], found[2], found[3], found[4]


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
        first, _, third, _ = _phi(s * self._values)
        modal = s * first * self._rate + 2 * s**3 / self.duration**2 * third * self._bend
        return np.asarray(self._temperatures + modal @ self._vectors.T / self._root)

    @property
    def propagator(self) -> Floats:
        """How a small change at the start arrives at the end, (nodes, nodes) [-]."""
        grown = self._vectors * np.exp(self._values * self.duration)
        return np.asarray((grown @ self._vectors.T) * self._root / self._root[:, None])


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
    OutOfRange
        If a node passes 900 K, where the data end.
    ValueError
        If a duration is not finite, the start has another shape or the tolerance is not above 0.

    Notes
    -----
    Two-stage exponential Rosenbrock method of order 3, its own difference to order 2 controlling the step: M. Hochbruck
    and A. Ostermann, Acta Numerica 19 (2010) 209-286, section 2.4. Scaled by the root of the capacities the tangent is
    symmetric, so its functions come from real eigenvalues. Exact where cooling and losses are linear in temperature.
    """
    now = np.array(start, dtype=np.float64)
    if now.shape != (len(network.nodes),):
        msg = f"{len(network.nodes)} start temperatures expected, got shape {now.shape}"
        raise ValueError(msg)
    if not tolerance > 0:
        msg = f"tolerance must be above 0, got {tolerance!r}"
        raise ValueError(msg)
    root = np.sqrt(network.capacity)
    links = -network.laplacian / np.outer(root, root)
    clock = 0.0
    for which, phase in enumerate(phases):
        if not isfinite(phase.duration):
            msg = f"phase {which} needs a finite duration, got {phase.duration!r}"
            raise ValueError(msg)
        left = h = phase.duration
        while left > 0:
            made, made_slope = network.losses(phase, now)
            lost, lost_slope = network.cooling(now)
            values, vectors = eigh(links + np.diag((made_slope - lost_slope) / network.capacity), check_finite=False)
            rate = vectors.T @ ((made - lost - network.laplacian @ now) / root)
            # A growing mode must not run off within one trial.
            h = min(h, left, 2.0 / max(float(values[-1]), 1e-30))
            while True:
                first, second, third, fourth = _phi(h * values)
                trial = now + vectors @ (h * first * rate) / root
                moved = trial - now
                made_bend = network.losses(phase, trial)[0] - made - made_slope * moved
                lost_bend = network.cooling(trial)[0] - lost - lost_slope * moved
                bend = vectors.T @ ((made_bend - lost_bend) / root)
                correction = vectors @ (2 * h * third * bend) / root
                error = float(np.abs(correction).max())
                growth = 0.9 * (tolerance / max(error, 1e-12)) ** (1 / 3)
                if error <= tolerance:
                    break
                h *= max(growth, 0.05)
            mean = vectors @ (h**2 * second * rate + 2 * h**2 * fourth * bend) / root
            yield Step(
                phase=which,
                start=clock,
                duration=h,
                energy_in=float(np.sum(made * h + made_slope * mean + made_bend * h / 3)),
                energy_out=float(np.sum(lost * h + lost_slope * mean + lost_bend * h / 3)),
                _temperatures=now,
                _root=root,
                _values=values,
                _vectors=vectors,
                _rate=rate,
                _bend=bend,
            )
            now = trial + correction
            if now.max() > CEILING:
                name = network.names[int(np.argmax(now))]
                msg = f"{name} passes {CEILING:g} K after {clock + h:.3g} s; no data beyond: give less current or time"
                raise OutOfRange(msg)
            clock += h
            left -= h
            if left <= 1e-12 * phase.duration:
                break
            h *= min(growth, 5.0)


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
    OutOfRange, ValueError
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
