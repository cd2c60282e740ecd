"""One burst, a train of pulses, or a state left on for good: how long until a part is too hot."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.errors import TooHot
from fem.heat.cycle import steady_state
from fem.heat.march import TOLERANCE, steps
from fem.heat.network import Network, Node, current_densities
from fem.heat.phases import Phase
from fem.heat.tangent import Step
from fem.materials.insulation import Insulation
from fem.roots import root

LONGEST = 48 * 3600.0
"""Time [s] after which a machine is taken as settled: two days against hours of its slowest time constant."""


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


def _limited(network: Network) -> list[tuple[int, Node, Insulation]]:
    return [(i, n, n.insulation) for i, n in enumerate(network.nodes) if n.insulation is not None]


def _crossing(step: Step, marks: Floats, seen: Floats, node: int, level: float) -> float | None:
    """Return when within a step a node reaches a level [s], or None; the temperatures at marks along it are known."""
    above = seen[:, node] >= level
    if not above.any():
        return None
    k = int(np.argmax(above))
    if k == 0:
        return 0.0

    def excess(time: float) -> float:
        return float(step.at(time)[node]) - level

    return root(excess, marks[k - 1], marks[k], xtol=1e-9 * max(step.duration, 1e-9))


def _first_times(
    network: Network,
    phases: Sequence[Phase],
    start: Floats,
    levels: Mapping[tuple[int, bool], float],
    tolerance: float,
    *,
    all_of_them: bool = True,
) -> tuple[dict[tuple[int, bool], float | None], TooHot | None]:
    """Return when each (node, once), or the first of them, reaches its level [s], and where the data end before.

    Infinite if never, None if the data end before.
    """
    times: dict[tuple[int, bool], float | None] = {}
    try:
        for step in steps(network, phases, start, tolerance=tolerance):
            marks = step.duration * np.linspace(0.0, 1.0, 5)
            seen = step.at(marks)
            for key in levels.keys() - times.keys():
                if (within := _crossing(step, marks, seen, key[0], levels[key])) is not None:
                    times[key] = step.start + within
            if len(times) == len(levels) or (times and not all_of_them):
                break
    except TooHot as end:
        return dict.fromkeys(levels) | times, end
    return dict.fromkeys(levels, inf) | times, None


def burst(network: Network, phase: Phase, start: ArrayLike | None = None, *, tolerance: float = TOLERANCE) -> Burst:
    """Find how long each insulated part stands one burst.

    Parameters
    ----------
    network
        Some node must have insulation.
    phase
        Currents and core loss; its duration is not used.
    start
        (nodes,) temperatures at the beginning, none below ambient [K]; left out, ambient.
    tolerance
        Error allowed per step [K].

    Raises
    ------
    ValueError
        If no node has insulation, or as `march`.

    Notes
    -----
    The root of T_k(t) = limit within the step in which it is passed (`Step.at`), by Brent's method.

    "No heat escaping" is the sooner of two: a part by itself, and the machine with all its surfaces closed, in which
    parts may heat each other. The second, by the network's own losses and capacities, can only be sooner than with heat
    escaping: what is kept in makes it hotter. It is left out where there is no time to hold it against.
    """
    limited = _limited(network)
    if not limited:
        msg = f"none of {', '.join(network.names)} has insulation to be held against"
        raise ValueError(msg)
    first = network.at_ambient() if start is None else np.array(start, dtype=np.float64)
    levels = {(i, False): kind.mean_limit for i, _, kind in limited}
    levels |= {(i, True): kind.once_temperature for i, _, kind in limited}
    lasting = phase.lasting(LONGEST)
    times, beyond = _first_times(network, [lasting], first, levels, tolerance)
    kept = _kept_in(network, lasting, first, levels, times, tolerance)
    density = current_densities(network, phase)
    lumps: dict[str, list[int]] = {}
    for i, _, _ in limited:
        lumps.setdefault(network.parts[i], []).append(i)
    parts = {
        part: BurstTime(
            working=_soonest(times[i, False] for i in places),
            once=_soonest(times[i, True] for i in places),
            adiabatic_working=min(kept[i, False] for i in places),
            adiabatic_once=min(kept[i, True] for i in places),
            current_density=density.get(part, 0.0),
        )
        for part, places in lumps.items()
    }
    reached = {name: part.working for name, part in parts.items() if part.working is not None}
    if beyond is not None and beyond.time is not None:
        reached.setdefault(beyond.part, beyond.time)
    limiting = min(reached, key=lambda name: reached[name])
    longest = reached[limiting]
    return Burst(parts=parts, longest=longest, limiting=limiting if isfinite(longest) else None, beyond=beyond)


def first_limit(
    network: Network, phases: Sequence[Phase], start: ArrayLike, *, tolerance: float = TOLERANCE
) -> tuple[float, str] | None:
    """Find which part is the first at its limit of repeated work, or past the data's end, and when [s]; None if none.

    Parameters
    ----------
    network
        The lumps.
    phases
        One after the other, of finite duration.
    start
        (nodes,) temperatures at the beginning [K].
    tolerance
        Error allowed per step [K].

    Raises
    ------
    ValueError
        As `march`.
    """
    levels = {(i, False): kind.mean_limit for i, _, kind in _limited(network)}
    first = np.array(start, dtype=np.float64)
    times, beyond = _first_times(network, phases, first, levels, tolerance, all_of_them=False)
    reached = [(t, network.parts[i]) for (i, _), t in times.items() if t is not None and isfinite(t)]
    if beyond is not None and beyond.time is not None:
        reached.append((beyond.time, beyond.part))
    return min(reached, default=None)


def _soonest(times: Iterable[float | None]) -> float | None:
    return min((time for time in times if time is not None), default=None)


def _kept_in(
    network: Network,
    phase: Phase,
    start: Floats,
    levels: Mapping[tuple[int, bool], float],
    escaping: Mapping[tuple[int, bool], float | None],
    tolerance: float,
) -> dict[tuple[int, bool], float]:
    """Return when each (node, once) reaches its level with no heat escaping [s]."""
    nodes = tuple(replace(node, surfaces=(), to_ambient=0.0) for node in network.nodes)
    together, beyond = _first_times(replace(network, nodes=nodes), [phase], start, levels, tolerance)
    end = inf if beyond is None or beyond.time is None else beyond.time
    found: dict[tuple[int, bool], float] = {}
    by_part: dict[tuple[str, float], dict[tuple[int, bool], float | None]] = {}
    for i in sorted({i for i, _ in levels}):
        # pieces of one part that begin alike heat alike by themselves
        like = network.parts[i], float(start[i])
        if like not in by_part:
            one = Network(nodes=(nodes[i],), ambient=network.ambient)
            own = {(0, once): levels[i, once] for once in (False, True)}
            by_part[like], _ = _first_times(one, [phase], start[i : i + 1], own, tolerance)
        alone = by_part[like]
        for once in (False, True):
            # a node by itself reaches all its levels, which lie below the end of the data
            first = alone[0, once]
            assert first is not None
            shared = together[i, once]
            found[i, once] = first if escaping[i, once] is None else min(first, end if shared is None else shared)
    return found


def continuous(network: Network, phase: Phase, *, tolerance: float = TOLERANCE) -> Continuous:
    """Find where one state settles when left on for good, and whether that is too hot: plugged in and idle, mostly.

    Parameters
    ----------
    network
        Every node must have a way for its heat to leave.
    phase
        Its duration is not used.
    tolerance
        Error allowed per step [K].

    Raises
    ------
    NotConverged, ValueError
        As `steady_state`.
    """
    limited = {i: kind.mean_limit for i, _, kind in _limited(network)}
    try:
        settled: Floats | None = steady_state(network, phase)
    except TooHot:
        settled = None
    if settled is not None and all(settled[i] <= level for i, level in limited.items()):
        return Continuous(temperatures=settled, over=(), first_over=inf)
    levels = {(i, False): level for i, level in limited.items()}
    times, beyond = _first_times(network, [phase.lasting(LONGEST)], network.at_ambient(), levels, tolerance)
    reached = {i: t for (i, _), t in times.items() if t is not None and isfinite(t)}
    hot = [i for i in limited if (i in reached if settled is None else settled[i] > limited[i])]
    over = list(dict.fromkeys(network.parts[i] for i in hot))
    if beyond is not None and beyond.part not in over:
        over.append(beyond.part)
    return Continuous(
        temperatures=settled, over=tuple(over), first_over=min(reached.values(), default=inf), beyond=beyond
    )
