"""The work piece over time, with what it turns into and what the machine and its breaker stand on the same axis."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from fem.constants import ZERO_CELSIUS
from fem.digits import duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.supply import BURST
from fem.materials.work_metals import work_metal
from fem.quantity import Unknown
from fem.report.figures.bursts import stands
from fem.report.figures.framed import finished, framed
from fem.report.figures.style import BLUE, FAINT, GREEN, INK, ORANGE
from fem.report.text.numbers import shown
from fem.work.run import DULL_RED, VISIBLE_RED

FAR = 2.2
"""A temperature above so many times the highest is told in the caption alone [-]."""
ROW = 0.085
"""Height of a row of limits, as a share of the axes."""
SOFT = "#f4c7a8"


def work_over_time(estimate: Estimate) -> Figure:
    """Draw the hottest place of the work over time."""
    state = estimate.work_piece
    hottest = "" if isinstance(state, Unknown) else f": {shown(state.hottest_temperature, 'K')} at the end of the burst"
    return framed(estimate, f"Work piece{hottest}", draw_work)


def draw_work(found: Estimate, ax: Axes) -> str:
    """Draw the work's hottest place over time with red, solder, melting, and limits of breaker and machine.

    Returns the caption.

    Raises
    ------
    ValueError
        If the estimate has no work piece.
    """
    pictures, state = found.drawn, found.work_piece
    run, work = pictures.work_piece, pictures.work
    if run is None or work is None or isinstance(state, Unknown):
        msg = "the estimate has no work piece"
        raise ValueError(msg)
    celsius = run.hottest_temperature - ZERO_CELSIUS
    ax.plot(run.time, celsius, color=ORANGE, label="hottest place\nof the work")
    if run.beside is not None:
        kelvin = run.beside.hottest_temperature - ZERO_CELSIUS
        ax.plot(run.time, kelvin, color=GREEN, linestyle=(0, (5, 1)), label="second path")
    highest = float(celsius.max())
    metal = work_metal(work.metal)
    beyond: list[str] = []
    marks: list[tuple[str, float | None, float | Unknown | None, Any, str]] = [
        ("just visible red", VISIBLE_RED, state.time_to_visible_red, ":", BLUE),
        ("dull red", DULL_RED, state.time_to_dull_red, (0, (1, 3)), BLUE),
        ("wanted", work.target_temperature, state.time_to_target, "--", GREEN),
        ("filler melts", None if work.joint is None else work.joint.filler_melts_at, None, (0, (6, 2)), GREEN),
        ("melting begins", metal.solidus, state.time_to_melting, "-.", INK),
        ("parts: melted", metal.liquidus, state.time_to_melting_through, "-", INK),
    ]
    top = highest
    for name, at, time, style, colour in marks:
        if at is None or not isfinite(at):
            continue
        degrees = at - ZERO_CELSIUS
        if degrees > FAR * highest:
            beyond.append(f"{name} at {degrees:.0f} degC")
            continue
        when = "" if time is None else "not in this burst" if isinstance(time, Unknown) else f"after {duration(time)}"
        ax.axhline(degrees, color=colour, linestyle=style, linewidth=0.9, label=f"{name}, {degrees:.0f} degC\n{when}")
        if time is not None and not isinstance(time, Unknown):
            ax.plot([time], [degrees], "o", color=colour, markersize=3.5, zorder=5)
        top = max(top, degrees)
    off = float(run.time[np.flatnonzero(run.current_rms > 0)[-1]])
    ax.axvline(off, color=INK, linewidth=0.9, linestyle=(0, (8, 2)), label=f"current ends\nafter {duration(off)}")
    limits = list(_limits(found))
    low = min(0.0, float(celsius.min()))
    ax.set_ylim(low, low + (1.08 * top - low) / (1 - ROW * len(limits)))
    ax.set_xlim(0.0, float(run.time[-1]))
    _rows(ax, limits)
    finished(ax, "time from switching on [s]", "temperature [degC]")
    told = f" Beyond the picture: {', '.join(beyond)}." if beyond else ""
    return (
        "Look where the curve crosses what is wanted, and how far that is from melting. The bars above are on the "
        "same time axis: hatched from where the breaker may open to where it must, a diamond where such commonly do; "
        "plain from where the machine's first part is too hot for repeated work, were the current left on; an arrow "
        f"where that lies beyond the picture.{told}"
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Limit:
    """What ends a burst: from when it may, by when it has, and when it commonly does [s]."""

    name: str
    start: float
    stop: float = inf
    typical: float = inf
    hatch: str = ""


def _limits(found: Estimate) -> Iterator[_Limit]:
    for name, states in found.supply.devices.items():
        one = states.get(BURST)
        if one is None:
            continue
        earliest, latest, typical = (
            inf if isinstance(time, Unknown) else time for time in (one.earliest, one.latest, one.typical)
        )
        said = "holds" if not isfinite(earliest) else f"may open from {duration(earliest)}"
        yield _Limit(name=f"{name}\n{said}", start=earliest, stop=latest, typical=typical, hatch="////")
    fed, heating = found.drawn.fed, found.heating
    burst = Unknown("") if isinstance(heating, Unknown) else heating.burst
    if not isinstance(burst, Unknown) and not isinstance(burst.longest, Unknown):
        yield _Limit(name=f"{burst.limiting_part} too hot\nfrom {duration(burst.longest)}", start=burst.longest)
    elif fed is not None and (found_one := stands(found.drawn, current := fed.rms(fed.drawn.secondary_current))):
        part, time = found_one
        yield _Limit(name=f"{part} too hot from\n{duration(time)} of {shown(current, 'A')}", start=time)


def _rows(ax: Axes, limits: list[_Limit]) -> None:
    """Draw a row for each limit at the top of the axes."""
    across, end = ax.get_xaxis_transform(), ax.get_xlim()[1]
    for number, one in enumerate(limits):
        middle = 1 - ROW * (number + 0.5)
        ax.plot([0, end], [1 - ROW * (number + 1)] * 2, color=FAINT, linewidth=0.5, transform=across)
        if one.start < end:
            style: dict[str, Any] = {"edgecolor": INK, "linewidth": 0.5, "hatch": one.hatch, "label": one.name}
            corner, width = (one.start, middle - 0.28 * ROW), min(one.stop, end) - one.start
            face = "white" if one.hatch else SOFT
            ax.add_patch(Rectangle(corner, width, 0.56 * ROW, transform=across, facecolor=face, **style))
        else:
            ax.plot([0.985 * end], [middle], ">", color=INK, markersize=4, transform=across, label=one.name)
        if one.typical < end:
            ax.plot([one.typical], [middle], "D", color=BLUE, markersize=4, transform=across, zorder=6)
