"""The heat network at one moment: the modes of its small changes, and a step in time from there."""

from dataclasses import dataclass
from math import factorial

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.heat.network import Network
from fem.heat.phases import Phase

_SERIES = [1.0 / factorial(4 + j) for j in range(12)]
"""Of the fourth function in `phi`, to the last digit within 0.5 of zero."""


def phi(z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return phi_1 = (exp(z) - 1)/z and the three after it, phi_(k+1) = (phi_k - 1/k!)/z, at z (...,)."""
    # Near zero that cancels: there the series of the last, and downward to the first.
    small = np.abs(z) < 0.5
    near, far = np.where(small, z, 0.0), np.where(small, 1.0, z)
    fourth = np.full_like(z, _SERIES[-1])
    for coefficient in _SERIES[-2::-1]:
        fourth *= near
        fourth += coefficient
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
    phase
        Place in the sequence of phases.
    start, duration
        [s].
    energy_in, energy_out
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
        """Return the temperatures [K], (..., nodes), at times (...,) since the step began [s]."""
        s = np.asarray(time, dtype=np.float64)[..., None]
        first, _, third, _ = phi(s * self._values)
        modal = s * first * self._rate + 2 * s**3 / self.duration**2 * third * self._bend
        return np.asarray(self._temperatures + modal @ self._vectors.T / self._root)

    @property
    def propagator(self) -> Floats:
        """How a small change at the start arrives at the end, exp(h J), (nodes, nodes) [-]."""
        grown = self._vectors * np.exp(self._values * self.duration)
        return np.asarray((grown @ self._vectors.T) * self._root / self._root[:, None])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Tangent:
    """The network at one moment: heat made and lost with slopes, and the modes of its small changes.

    Notes
    -----
    With f(T) the right side of the network over C, J = f'(Tn) and what is not straight in it,
    N(U) = f(U) - f(Tn) - J (U - Tn), a step is

        U = Tn + h phi_1(h J) f(Tn),     T(n+1) = U + 2 h phi_3(h J) N(U),

    the two-stage exponential Rosenbrock method of order 3; its last term is its own difference to order 2, and the
    error told. Within the step, N going with the square of time s,

        T(s) = Tn + s phi_1(s J) f(Tn) + 2 s^3/h^2 phi_3(s J) N(U),

    whose integral, h^2 (phi_2 f + 2 phi_4 N), books the heat. C^(1/2) J C^(-1/2) is symmetric: real eigenvalues give
    all functions. Exact where losses and cooling are straight in temperature. M. Hochbruck and A. Ostermann, Acta
    Numerica 19 (2010) 209-286 (coefficients from memory; the tests measure the order).
    """

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


def tangent(network: Network, phase: Phase, now: Floats) -> Tangent:
    """Return the network's tangent at temperatures (nodes,) [K]."""
    root = np.sqrt(network.capacity)
    made, lost = network.losses(phase, now), network.cooling(now)
    scaled = np.diag((made[1] - lost[1]) / network.capacity) - network.laplacian / np.outer(root, root)
    values, vectors = np.linalg.eigh(scaled)
    return Tangent(
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
