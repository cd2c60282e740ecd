"""One burst, a train of pulses, or a state left on for good: how long until a part is too hot."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import inf, isfinite

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers
from fem.errors import TooHot
from fem.heat.levels import LONGEST, first_times
from fem.heat.lumps import Lumps, side_by_side
from fem.heat.network import Network, current_densities
from fem.heat.phases import Course, Phase
from fem.heat.settled import settle


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstTime:
    """Hold how long one part that has a limit stands one burst; of several lumps the one that is soonest.

    Parameters
    ----------
    working, once
        Until its mean temperature reaches the limit of repeated work, and that of a single fault [s]; infinite where it
        never does, None where some part is beyond 900 K before, and with it the machine.
    adiabatic_working, adiabatic_once
        The same with no heat escaping, never longer [s].
    current_density
        R.m.s. [A/m^2].
    """

    working: float | None
    once: float | None
    adiabatic_working: float
    adiabatic_once: float
    current_density: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Burst:
    """Hold what one burst does.

    Parameters
    ----------
    parts
        By node, of those with insulation.
    longest
        Until the first part reaches its limit of repeated work, or a part that has none, such as a joint, the end of
        the data at 900 K [s]; infinite where none does.
    limiting
        That part.
    beyond
        Where the data end before all limits are reached.
    """

    parts: Mapping[str, BurstTime]
    longest: float
    limiting: str | None
    beyond: TooHot | None


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Continuous:
    """Hold what one state does when left on for good.

    Parameters
    ----------
    temperatures
        (nodes,) settled [K]; None where a node passes 900 K or never settles.
    over
        Parts that pass their limit of repeated work, and one that has none but passes 900 K.
    first_over
        From the cold machine until the first does [s]; infinite where none does.
    beyond
        Which part passes 900 K, and when, where it does so within two days.
    """

    temperatures: Floats | None
    over: tuple[str, ...]
    first_over: float
    beyond: TooHot | None = None


def _alone(lumps: Lumps, flow: Floats, start: Floats, level: Floats) -> Floats:
    """Return when nodes reach a level with no heat escaping and no neighbours (..., nodes) [s]: C times int dT/P(T).

    By Gauss's rule with 16 points; what makes heat is straight in temperature but for its eddies.
    """
    x, weights = _gauss()
    middle, half = 0.5 * (start + level), 0.5 * np.maximum(level - start, 0.0)
    made = np.stack([lumps.losses(flow, middle + half * place)[0] for place in x])
    with np.errstate(divide="ignore", invalid="ignore"):
        times = lumps.capacity * half * (weights @ (1 / made).reshape(len(x), -1)).reshape(half.shape)
    return np.where(half > 0, times, 0.0)


@lru_cache(maxsize=1)
def _gauss() -> tuple[Floats, Floats]:
    x, weights = np.polynomial.legendre.leggauss(16)
    return x, weights


def _insulated(network: Network) -> Integers:
    found = np.flatnonzero(np.isfinite(network.lumps.limits))
    if not found.size:
        msg = f"none of {', '.join(network.names)} has insulation to be held against"
        raise ValueError(msg)
    return found


def bursts(network: Network, phases: Sequence[Phase], start: ArrayLike | None = None) -> list[Burst]:
    """Find how long each insulated part of one network stands bursts of several kinds, side by side.

    Parameters
    ----------
    network
        Some node must have insulation.
    phases
        Currents and core loss of each kind; durations are not used.
    start
        (nodes,) temperatures at the beginning, none below ambient [K]; left out, ambient.

    Raises
    ------
    ValueError
        If no node has insulation, or as `march`.

    Notes
    -----
    The root of T_k(t) = limit within the step in which it is passed (`Step.at`).

    "No heat escaping" is the sooner of two: a part by itself, and the machine with all its surfaces closed, in which
    parts may heat each other. The second, by the network's own losses and capacities, can only be sooner than with heat
    escaping: what is kept in makes it hotter. It is left out where there is no time to hold it against.
    """
    limited, count = _insulated(network), len(phases)
    lumps = network.lumps.block
    first = lumps.at_ambient() if start is None else np.array(start, dtype=np.float64)[None]
    nodes = np.concatenate([limited, limited])
    levels = np.concatenate([lumps.limits[limited], lumps.once[limited]])
    both = side_by_side([lumps] * count + [lumps.closed] * count)
    course = Course.of([phase.lasting(LONGEST) for phase in phases], 1)
    times, beyond = first_times(
        both,
        Course(durations=np.tile(course.durations.T, 2), flows=np.tile(course.flows.swapaxes(0, 2), 2)),
        np.repeat(first, 2 * count, axis=0),
        nodes,
        levels,
    )
    return [
        _burst(network, phase, first[0], (nodes, levels), times[[k, k + count]], beyond.get(k), beyond.get(k + count))
        for k, phase in enumerate(phases)
    ]


def _burst(
    network: Network,
    phase: Phase,
    start: Floats,
    held_against: tuple[Integers, Floats],
    times: Floats,
    beyond: TooHot | None,
    beyond_closed: TooHot | None,
) -> Burst:
    """Return a burst from when nodes reach their levels with heat escaping and without, (2, 2 l) [s]."""
    nodes, _ = held_against
    end, end_closed = (inf if at is None or at.time is None else at.time for at in (beyond, beyond_closed))
    reached = times[0] if beyond is None else np.where(np.isinf(times[0]), np.nan, times[0])
    lumps, flow = network.lumps, phase.flow
    alone = np.concatenate(
        [
            _alone(lumps, flow, start, level)[nodes[: len(nodes) // 2]]
            for level in (np.where(np.isfinite(one), one, start) for one in (lumps.limits, lumps.once))
        ]
    )
    kept = np.where(np.isnan(reached), alone, np.fmin(alone, np.minimum(times[1], end_closed)))
    density = current_densities(network, phase)
    half, parts = len(nodes) // 2, {}
    for part in dict.fromkeys(network.parts[i] for i in nodes):
        own = np.flatnonzero([network.parts[i] == part for i in nodes[:half]])
        parts[part] = BurstTime(
            working=_soonest(reached[own]),
            once=_soonest(reached[own + half]),
            adiabatic_working=float(kept[own].min()),
            adiabatic_once=float(kept[own + half].min()),
            current_density=density.get(part, 0.0),
        )
    soonest = {name: part.working for name, part in parts.items() if part.working is not None}
    if beyond is not None:
        soonest.setdefault(beyond.part, end)
    limiting = min(soonest, key=lambda name: soonest[name])
    longest = soonest[limiting]
    return Burst(parts=parts, longest=longest, limiting=limiting if isfinite(longest) else None, beyond=beyond)


def first_limits(network: Network, phases: Sequence[Phase], start: ArrayLike) -> list[tuple[float, str] | None]:
    """Find which part of each member is the first at its limit of repeated work, or past the data's end, and when [s].

    None if none is.

    Parameters
    ----------
    network
        The lumps, of one machine or of m.
    phases
        One after the other, of finite duration.
    start
        (..., nodes) temperatures at the beginning [K].

    Raises
    ------
    ValueError
        As `march`.
    """
    lumps = network.lumps.block
    limited = np.flatnonzero(np.isfinite(lumps.limits))
    first = np.array(np.broadcast_to(np.asarray(start, dtype=np.float64), lumps.capacity.shape))
    course, levels = Course.of(phases, lumps.members), lumps.limits[limited]
    times, beyond = first_times(lumps, course, first, limited, levels, all_of_them=False)
    found: list[tuple[float, str] | None] = []
    for member, row in enumerate(times):
        reached = [(float(t), lumps.parts[i]) for t, i in zip(row, limited, strict=True) if isfinite(t)]
        end = beyond.get(member)
        if end is not None and end.time is not None:
            reached.append((end.time, end.part))
        found.append(min(reached, default=None))
    return found


def _soonest(times: Floats) -> float | None:
    """Return the first of some times, not numbers where the data end before; None where all are."""
    return None if np.isnan(times).all() else float(np.nanmin(times))


def continuous(network: Network, phase: Phase) -> Continuous:
    """Find where one state settles when left on for good, and whether that is too hot: plugged in and idle, mostly.

    Parameters
    ----------
    network
        Every node must have a way for its heat to leave.
    phase
        Its duration is not used.

    Raises
    ------
    NotConverged, ValueError
        As `settle`.
    """
    lumps = network.lumps.block
    limited = np.flatnonzero(np.isfinite(lumps.limits))
    limits = lumps.limits[limited]
    found, too_hot = settle(lumps, phase.flow[:, None])
    settled = None if too_hot else found[0]
    if settled is not None and np.all(settled[limited] <= limits):
        return Continuous(temperatures=settled, over=(), first_over=inf)
    course = Course.of([phase.lasting(LONGEST)], 1)
    times, ends = first_times(lumps, course, lumps.at_ambient(), limited, limits)
    hot = np.isfinite(times[0]) if settled is None else settled[limited] > limits
    over = list(dict.fromkeys(network.parts[i] for i in limited[hot]))
    beyond = ends.get(0)
    if beyond is not None and beyond.part not in over:
        over.append(beyond.part)
    return Continuous(temperatures=settled, over=tuple(over), first_over=float(times.min(initial=inf)), beyond=beyond)
