"""What guards the circuit: when it opens against current, with what this machine draws as points."""

from __future__ import annotations

from math import isfinite, sqrt
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from fem.digits import duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.supply import BURST
from fem.mains.devices import Device, opening_times
from fem.mains.typical import typical_time
from fem.quantity import Unknown
from fem.report.figures.framed import counted, finished, framed
from fem.report.figures.style import BLUE, GREEN, INK, ORANGE
from fem.report.text.numbers import shown

SHORTEST, LONGEST, HALF_WAVE = 0.003, 7200.0, 0.01
"""Times drawn [s], and the time of a first peak, half a period of 50 Hz."""
ZONES = (("#dce9f3", "////", BLUE), ("#f6e3d6", "....", ORANGE))
"""Of a breaker, and of a fuse besides it."""


def has_devices(estimate: Estimate) -> bool:
    """Return whether anything guards the circuit, or is told to."""
    return estimate.pictures is not None and bool(estimate.pictures.devices)


def breaker(estimate: Estimate) -> Figure:
    """Draw when the circuit's breaker opens."""
    names = " and ".join(estimate.drawn.devices)
    return framed(estimate, f"What the {names} makes of it", draw_breaker)


def draw_breaker(found: Estimate, ax: Axes) -> str:
    """Draw between which times each device opens at which current, and the machine's currents as points.

    Returns the caption.
    """
    handles: list[Any] = []
    points = _points(found)
    most = 1.5 * max([amperes for _, amperes, *_ in points], default=1.0)
    least = min([amperes for _, amperes, *_ in points if amperes > 0], default=1.0)
    devices = found.drawn.devices
    low = min(0.5 * least, 0.5 * min((device.rating for device in devices.values()), default=1.0))
    high = max(most, 30 * max((device.rating for device in devices.values()), default=1.0))
    for (name, device), look in zip(devices.items(), ZONES, strict=False):
        handles += _zone(ax, name, device, np.geomspace(low, high, 1500), look)
    for name, amperes, seconds, marker, colour in points:
        words = f"{name}\n{shown(amperes, 'A')}, {duration(seconds) if seconds < LONGEST else 'for good'}"
        handles += ax.plot(
            [amperes], [seconds], marker, color=colour, markeredgecolor=INK, markeredgewidth=0.5, label=words, zorder=6
        )
    ax.set_xscale("log")
    ax.set_yscale("log")
    ax.set_xlim(low, high)
    ax.set_ylim(SHORTEST, LONGEST * 1.3)
    counted(ax.xaxis, ax.yaxis)
    finished(ax, "primary current, r.m.s. [A]", "time that it flows [s]", handles)
    return (
        "A point left of and below a hatched zone holds; in it the standard leaves open whether; right of and above "
        "it the device has opened. The dashed line is where such devices commonly open, which no standard promises. "
        "Load and joined lead ends stand at the time that the machine stands them once; a first peak at its value "
        "over the root of two and half a period, as standards' points are of sines."
    )


def _zone(ax: Axes, name: str, device: Device, amperes: Any, look: tuple[str, str, str]) -> list[Any]:
    """Draw between which times a device opens, and when commonly; return the legend's handles."""
    face, hatch, colour = look
    earliest, latest = (np.clip(times, SHORTEST / 2, 10 * LONGEST) for times in opening_times(device, amperes))
    ax.fill_between(amperes, earliest, latest, facecolor=face, edgecolor=colour, hatch=hatch, linewidth=0.6, zorder=1)
    handles: list[Any] = [Patch(facecolor=face, edgecolor=colour, hatch=hatch, label=f"{name}:\nmay open")]
    typical = typical_time(device, amperes)
    if typical is not None:
        shown_part = np.isfinite(typical)
        times = np.asarray(typical)[shown_part]
        handles += ax.plot(amperes[shown_part], times, color=INK, linestyle="--", label="commonly opens", zorder=3)
    return handles


def _points(found: Estimate) -> list[tuple[str, float, float, str, str]]:
    """Return the machine's currents: name, amperes, seconds, marker, colour."""
    points = [("no-load", found.idle.current_rms, LONGEST, "v", GREEN)]
    burst, heating = found.supply.burst, found.heating
    if not isinstance(burst, Unknown):
        lasts = found.drawn.fed.time[-1] if found.drawn.fed is not None else 1.0
        points.append((BURST, burst.current_rms, float(lasts), "o", ORANGE))
    load = found.load
    if not isinstance(load, Unknown):
        points.append(("with the load", load.primary_current_rms, _longest(heating, "loaded"), "^", "white"))
    shorted = found.short_circuit
    points.append(("lead ends joined", shorted.primary_current_rms, _longest(heating, "shorted"), "s", BLUE))
    if not isinstance(found.switch_on, Unknown):
        peak = found.switch_on.primary_first_peak
        points.append(("switching on, worst", peak / sqrt(2), HALF_WAVE, "D", "white"))
    return points


def _longest(heating: Any, state: str) -> float:
    """Return how long the machine stands a state once [s], a second where that is not known."""
    burst = Unknown("") if isinstance(heating, Unknown) else getattr(heating, state)
    longest = Unknown("") if isinstance(burst, Unknown) else burst.longest
    return 1.0 if isinstance(longest, Unknown) or not isfinite(longest) else min(float(longest), LONGEST)
