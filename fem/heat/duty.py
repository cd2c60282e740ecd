"""What repeated bursts allow: the duty of a current, the time to cool down, the steady current that heats as much."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, positive
from fem.errors import TooHot
from fem.heat.burst import LONGEST
from fem.heat.cycle import SteadyCycle, steady_cycle, steady_state
from fem.heat.march import TOLERANCE, steps
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase
from fem.heat.tangent import Step
from fem.roots import root

_FAR = 2 * CEILING
"""Stands for the excess over a limit [K] of what does not settle within the data."""
_BESIDE = 0.03
"""How far on either side of a share near the one sought it is looked for first [-]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Duty:
    """Hold the duty that a current allows.

    Parameters
    ----------
    share
        On-time over period [-], from 0 to 1.
    on_time, period
        [s].
    limiting
        The part that sets it; None where continuous use is allowed.
    cycle
        At that duty; None at 0 and at 1.
    """

    share: float
    on_time: float
    period: float
    limiting: str | None
    cycle: SteadyCycle | None


def _hottest(network: Network, temperatures: Floats) -> tuple[float, str | None]:
    """Return the largest excess over a limit of repeated work [K] and whose it is."""
    found = zip(network.nodes, network.parts, temperatures, strict=True)
    return max((float(t) - n.insulation.mean_limit, part) for n, part, t in found if n.insulation is not None)


def allowed_duty(
    network: Network,
    on: Phase,
    period: float | None = None,
    *,
    on_time: float | None = None,
    off: Phase | None = None,
    resolution: float = 1e-3,
    tolerance: float = TOLERANCE,
    near: Duty | None = None,
) -> Duty:
    """Find the largest share of on-time at which no insulated part passes its limit of repeated work.

    Parameters
    ----------
    network
        Some node must have insulation.
    on
        While the current flows; its duration is replaced.
    period
        Of one burst and one pause [s], > 0; the burst is longer or shorter.
    on_time
        Of a burst that keeps its length [s], > 0, in place of a period: the pause is longer or shorter.
    off
        Between bursts, such as plugged in and idle; left out, switched off.
    resolution
        Of the share, relative [-], within 1e-6 and 0.1.
    tolerance
        Error allowed per step [K].
    near
        What is nearly that, to begin at.

    Raises
    ------
    NotConverged, ValueError
        As `steady_cycle`; also if not one of period and on_time is given, or not above 0, or no node has insulation.

    Notes
    -----
    The root of max_k(peak_k(share) - limit_k) = 0, the peaks of the steady cycle rising with the share: enclosed by
    Brent's method, its lower end given. A cycle that would settle beyond the data, or nowhere, counts as too hot.
    """
    if (period is None) == (on_time is None):
        msg = f"one of period and on_time is needed, got {period!r} and {on_time!r}"
        raise ValueError(msg)
    positive(time=period or on_time or 0.0)
    if not 1e-6 <= resolution <= 0.1:
        msg = f"resolution must lie within 1e-6 and 0.1, got {resolution!r}"
        raise ValueError(msg)
    if all(n.insulation is None for n in network.nodes):
        msg = f"none of {', '.join(network.names)} has insulation to be held against"
        raise ValueError(msg)
    rest = off or Phase(duration=1.0)

    def lengths(share: float) -> tuple[float, float]:
        if period is not None:
            return share * period, (1 - share) * period
        assert on_time is not None
        return on_time, on_time * (1 / share - 1) if share > 0 else inf

    def found_at(share: float, limiting: str | None, cycle: SteadyCycle | None = None) -> Duty:
        lasts, pause = lengths(share)
        return Duty(share=share, on_time=lasts, period=lasts + pause, limiting=limiting, cycle=cycle)

    always, limiting = _excess_settled(network, on)
    if always <= 0:
        return found_at(1.0, None)
    never, name = _excess_settled(network, rest)
    if never > 0:
        return found_at(0.0, name)
    found: dict[float, tuple[float, str | None, SteadyCycle | None]] = {
        0.0: (never, name, None),
        1.0: (min(always, _FAR), limiting, None),
    }
    starts = [] if near is None or near.cycle is None else [(near.share, near.cycle.start)]

    def guess(share: float) -> Floats | None:
        """Return where the cycle may begin: as the last two trials did, on a straight line of the share."""
        if len(starts) < 2:
            return starts[-1][1] if starts else None
        (before, one), (last, other) = starts[-2:]
        return other + float(np.clip((share - last) / (last - before), -1, 1)) * (other - one)

    def excess(share: float) -> float:
        if share not in found:
            lasts, pause = lengths(share)
            phases = (on.lasting(lasts), rest.lasting(pause))
            try:
                trial = steady_cycle(network, phases, guess=guess(share), tolerance=tolerance, count=False)
            except TooHot as error:
                found[share] = (_FAR, error.part, None)
            else:
                found[share] = (*_hottest(network, trial.peak), trial)
                starts.append((share, trial.start))
        return found[share][0]

    if on_time is not None and near is None and excess(seldom := on_time / (on_time + LONGEST)) > 0:
        return found_at(0.0, found[seldom][1])
    low, high = 0.0, 1.0
    for beside in () if near is None else (near.share * (1 - _BESIDE), near.share * (1 + _BESIDE)):
        if low < beside < high:
            low, high = (low, beside) if excess(beside) > 0 else (beside, high)
    share = root(excess, low, high, xtol=1e-9, rtol=0.5 * resolution)
    beside = min(share * (1 + resolution), 1.0)
    excess(beside)
    limiting = found[beside][1]
    # the end of the enclosure that keeps to the limits
    while excess(share) > 0:
        share *= 1 - 0.5 * resolution
    return found_at(share, limiting, found[share][2])


def _excess_settled(network: Network, phase: Phase) -> tuple[float, str | None]:
    try:
        return _hottest(network, steady_state(network, phase))
    except TooHot as error:
        return inf, error.part


def cool_down_time(
    network: Network,
    start: ArrayLike,
    target: float,
    *,
    off: Phase | None = None,
    tolerance: float = TOLERANCE,
) -> float:
    """Return how long until every part is at or below a temperature [s]; infinite if not within two days.

    Parameters
    ----------
    network
        The lumps.
    start
        (nodes,) [K].
    target
        [K].
    off
        What goes on meanwhile; left out, switched off.
    tolerance
        Error allowed per step [K].

    Raises
    ------
    ValueError
        If the target is not above ambient, or as `march`.

    Notes
    -----
    The root of max_k T_k(t) = target within the step of `steps` that first ends below it. Designs along a leading axis
    would march together, see there, each root being found once its own step has come.
    """
    if not target > network.ambient:
        msg = f"target {target!r} K must lie above the ambient temperature, {network.ambient:g} K"
        raise ValueError(msg)
    phase = (off or Phase(duration=LONGEST)).lasting(LONGEST)
    now = np.array(start, dtype=np.float64)
    if now.max() <= target:
        return 0.0
    for step in steps(network, [phase], now, tolerance=tolerance):
        marks = step.duration * np.linspace(0.0, 1.0, 5)
        hottest = step.at(marks).max(axis=1) - target
        if hottest[-1] <= 0:
            k = int(np.argmax(hottest <= 0))

            def excess(time: float, step: Step = step) -> float:
                return float(step.at(time).max()) - target

            return step.start + root(excess, marks[k - 1], marks[k], xtol=1e-6)
    return inf


def equivalent_current(current: ArrayLike, share: ArrayLike, idle_current: ArrayLike = 0.0) -> Floats:
    """Return the steady current (...,) [A] that heats as much as bursts far shorter than the time constant.

    Parameters
    ----------
    current
        (...,) during bursts, r.m.s. [A].
    share
        (...,) on-time over period x [-], within 0 and 1.
    idle_current
        (...,) between bursts, r.m.s. [A].

    Raises
    ------
    ValueError
        If a share is out of range.

    Notes
    -----
    sqrt(I1^2 x + I0^2 (1 - x)): the square law of duty, IEC 60974-1 (from memory). It says nothing of how hot one burst
    gets.
    """
    on, off, x = (np.asarray(given, dtype=np.float64) for given in (current, idle_current, share))
    fits = (x >= 0) & (x <= 1)
    if not fits.all():
        msg = f"share must lie within 0 and 1, got {float(x.flat[int(np.argmin(fits))])!r}"
        raise ValueError(msg)
    return np.asarray(np.sqrt(on**2 * x + off**2 * (1 - x)))
