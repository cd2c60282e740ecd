"""The figure of a burst on both sides: currents, powers and temperatures of machine and work over time."""

from __future__ import annotations

from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Floats
from fem.constants import ZERO_CELSIUS
from fem.estimation.result import Estimate
from fem.report.figures.style import BLUE, FAINT, GREEN, INK, ORANGE, STYLE, WIDTH, captioned, headed
from fem.report.text.numbers import shown

PARTS = 3
"""How many of the machine's parts are drawn, the hottest ones."""
STYLES = ("-", "--", ":")


@mpl.rc_context(STYLE)
def both_sides(estimate: Estimate) -> Figure:
    """Draw currents, powers and temperatures over the burst, on the mains side and at the work."""
    pictures = estimate.drawn
    run, fed = pictures.work_piece, pictures.fed
    if run is None or fed is None:
        msg = "the estimate has no work piece"
        raise ValueError(msg)
    time, drawn, count = fed.time, fed.drawn, fed.time.size
    subtitle = f"Burst of {shown(float(time[-1]), 's')}: {shown(fed.energy, 'J')} from the socket, r.m.s. values"
    figure = headed(estimate.title, subtitle, 1.35 * WIDTH)
    currents, powers, degrees = figure.subplots(3, 1, sharex=True)
    into_work = (run.current_rms * run.voltage_rms)[:count]

    mains = currents.twinx()
    _draw(currents, time, drawn.secondary_current, "secondary", ORANGE)
    _draw(mains, time, drawn.primary_current, "mains lead", BLUE, "--")
    _finish(currents, mains, "secondary current [A]", "mains current [A]", BLUE)

    _draw(powers, time, 1e-3 * drawn.input_power, "from the mains", BLUE, "--")
    _draw(powers, time, 1e-3 * into_work, "into the work", ORANGE)
    _finish(powers, None, "power [kW]")

    machine = degrees.twinx()
    _draw(degrees, time, run.hottest_temperature[:count] - ZERO_CELSIUS, "work, hottest place", ORANGE)
    # Several lumps may be one part: its hottest is drawn.
    hottest: dict[str, int] = {}
    for place in np.argsort(-fed.temperatures[-1], kind="stable").tolist():
        hottest.setdefault(pictures.parts[place], place)
    for (part, place), style in zip(list(hottest.items())[:PARTS], STYLES, strict=False):
        _draw(machine, time, fed.temperatures[:, place] - ZERO_CELSIUS, part, GREEN, style)
    _finish(degrees, machine, "work [degC]", "machine [degC]", GREEN)
    degrees.set_xlim(0.0, float(time[-1]))
    degrees.set_xlabel("time [s]")
    captioned(
        figure,
        "What lies between both powers heats machine and leads. Currents fall as work and copper get hot; the "
        "machine's temperatures are on the right, with a scale of their own.",
    )
    return figure


def _draw(axes: Axes, time: Floats, values: Floats, label: str, colour: Any, style: str = "-") -> None:
    axes.plot(time, values, color=colour, linestyle=style, label=label)


def _finish(axes: Axes, right: Axes | None, label: str, beside: str = "", colour: Any = INK) -> None:
    """Label both axes, give their curves room above for one legend of all."""
    lines = [*axes.lines, *(right.lines if right else ())]
    for one in filter(None, (axes, right)):
        most = max(float(np.max(line.get_ydata())) for line in one.lines)
        one.set_ylim(0.0, 1.45 * most)
    axes.set_ylabel(label, color=ORANGE if right else INK)
    if right is not None:
        right.set_ylabel(beside, color=colour)
    axes.grid(visible=True, color=FAINT, linewidth=0.5)
    axes.legend(handles=lines, loc="upper center", ncols=2)
