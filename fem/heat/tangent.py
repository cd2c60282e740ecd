"""Heat networks at one moment: the modes of their small changes, and a step in time of each from there."""

from dataclasses import dataclass, replace
from math import factorial
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers
from fem.heat.lumps import Lumps, times

_SERIES = np.array([1.0 / factorial(4 + j) for j in range(12)])
"""Of the fourth function in `phi`, to the last digit within 0.5 of zero."""


def phi(z: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return phi_1 = (exp(z) - 1)/z and the three after it, phi_(k+1) = (phi_k - 1/k!)/z, at z (...,)."""
    # Near zero that cancels: there the series of the last, and downward to the first.
    small = np.abs(z) < 0.5
    near = np.where(small, z, 0.0)
    powers = np.repeat(near[..., None], len(_SERIES), axis=-1)
    powers[..., 0] = 1.0
    fourth = np.cumprod(powers, axis=-1, out=powers) @ _SERIES
    third = near * fourth + 1 / 6
    second = near * third + 1 / 2
    first = near * second + 1
    if small.all():
        return first, second, third, fourth
    far = np.where(small, 1.0, z)
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
class Tangent:
    """Networks at one moment: heat made and lost with slopes, and the modes of small changes; m members side by side.

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

    lumps: Lumps
    flow: Floats
    now: Floats
    root: Floats
    made: tuple[Floats, Floats]
    lost: tuple[Floats, Floats]
    values: Floats
    vectors: Floats
    rate: Floats

    def step(self, h: Floats, members: Integers, phase: Integers, start: Floats) -> "Step":
        """Return a step of h (m,) [s] from this moment, with the errors that it shows; see `Step`."""
        (made, made_slope), (lost, lost_slope) = self.made, self.lost
        long = h[:, None]
        first, _, third, _ = phi(long * self.values)
        moved = times(self.vectors, long * first * self.rate) / self.root
        trial = self.now + moved
        made_bend = self.lumps.losses(self.flow, trial)[0] - made - made_slope * moved
        lost_bend = self.lumps.cooling(trial)[0] - lost - lost_slope * moved
        bend = times(self.vectors.swapaxes(-1, -2), (made_bend - lost_bend) / self.root)
        correction = times(self.vectors, 2 * long * third * bend) / self.root
        return Step(
            members=members,
            phase=phase,
            start=start,
            duration=h,
            end=trial + correction,
            error=np.abs(correction).max(axis=-1),
            temperatures=self.now,
            root=self.root,
            values=self.values,
            vectors=self.vectors,
            rate=self.rate,
            bend=bend,
            made=np.stack([made, made_slope, made_bend]),
            lost=np.stack([lost, lost_slope, lost_bend]),
        )

    def take(self, members: Any) -> Self:
        """Return the tangents of some members, by their places or by a mask."""
        rows = {name: getattr(self, name)[members] for name in ("now", "root", "values", "vectors", "rate")}
        made, lost = (tuple(one[members] for one in pair) for pair in (self.made, self.lost))
        return replace(self, lumps=self.lumps.take(members), flow=self.flow[:, members], made=made, lost=lost, **rows)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Step:
    """Hold a step of each of m members of a block, or of one without the leading axis; `at` gives any moment within.

    Parameters
    ----------
    members
        (m,) whose they are.
    phase
        (m,) place in the sequence of phases.
    start, duration
        (m,) [s].
    end
        (m, nodes) temperatures at the end [K].
    error
        (m,) that the step shows [K].
    """

    members: Integers
    phase: Integers
    start: Floats
    duration: Floats
    end: Floats
    error: Floats
    temperatures: Floats
    root: Floats
    values: Floats
    vectors: Floats
    rate: Floats
    bend: Floats
    made: Floats
    lost: Floats

    def at(self, time: ArrayLike) -> Floats:
        """Return the temperatures [K], (m, k, nodes) or (m, nodes), at times (m, k) or (m,) since it began [s]."""
        s = np.asarray(time, dtype=np.float64)[..., None]
        if s.ndim == self.values.ndim:
            return np.asarray(self.at(s)[..., 0, :])
        first, _, third, _ = phi(s * self.values[..., None, :])
        square = (self.duration**2)[..., None, None]
        modal = s * first * self.rate[..., None, :] + 2 * s**3 / square * third * self.bend[..., None, :]
        moved = modal @ self.vectors.swapaxes(-1, -2) / self.root[..., None, :]
        return np.asarray(self.temperatures[..., None, :] + moved)

    def take(self, members: Any) -> Self:
        """Return the steps of some members by their places or by a mask; of a single place that one's."""
        kept = {name: getattr(self, name)[members] for name in self.__slots__ if name not in ("made", "lost")}
        return type(self)(**kept, made=self.made[:, members], lost=self.lost[:, members])

    @property
    def propagator(self) -> Floats:
        """How a small change at the start arrives at the end, exp(h J), (m, nodes, nodes) [-]."""
        grown = self.vectors * np.exp(self.values * self.duration[..., None])[..., None, :]
        changed = grown @ self.vectors.swapaxes(-1, -2)
        return np.asarray(changed * self.root[..., None, :] / self.root[..., :, None])

    @property
    def energies(self) -> tuple[Floats, Floats]:
        """Heat made and heat given off within the step, (m,) each [J]."""
        h = self.duration[..., None]
        _, second, _, fourth = phi(h * self.values)
        # Time integral of the temperatures over their beginning.
        over = times(self.vectors, h**2 * (second * self.rate + 2 * fourth * self.bend)) / self.root
        made, lost = (
            (one * h + slope * over + bend * h / 3).sum(axis=-1) for one, slope, bend in (self.made, self.lost)
        )
        return made, lost


def tangent(lumps: Lumps, flow: Floats, now: Floats) -> Tangent:
    """Return the tangent of a block at temperatures (m, nodes) [K].

    Parameters
    ----------
    lumps
        With a leading axis.
    flow
        (3, m, 1) as `Phase.flow`.
    now
        (m, nodes) [K].
    """
    root = lumps.root
    made, lost = lumps.losses(flow, now), lumps.cooling(now)
    scaled = lumps.joined.copy()
    diagonal = np.arange(now.shape[-1])
    scaled[:, diagonal, diagonal] += (made[1] - lost[1]) / lumps.capacity
    values, vectors = np.linalg.eigh(scaled)
    flowing = (made[0] - lost[0] - lumps.through(now)) / root
    return Tangent(
        lumps=lumps,
        flow=flow,
        now=now,
        root=root,
        made=made,
        lost=lost,
        values=values,
        vectors=vectors,
        rate=times(vectors.swapaxes(-1, -2), flowing),
    )
