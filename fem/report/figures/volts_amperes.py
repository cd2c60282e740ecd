"""Volts against amperes at the lead ends, with the work's own line, cold and hot."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.figures.framed import finished, framed
from fem.report.figures.style import BLUE, GREEN, INK, ORANGE
from fem.report.text.numbers import shown


def has_load_line(estimate: Estimate) -> bool:
    """Return whether lead ends, which a ring round the leg has not, were followed from open to short circuit."""
    work = None if estimate.pictures is None else estimate.pictures.work
    return not isinstance(estimate.load_line, Unknown) and (work is None or work.ring is None)


def volts_amperes(estimate: Estimate) -> Figure:
    """Draw volts against amperes at the lead ends."""
    return framed(estimate, "At the lead ends: volts left at each current, r.m.s.", draw_volts_amperes)


def draw_volts_amperes(found: Estimate, ax: Axes) -> str:
    """Draw the machine's line, and where those of the work piece, cold and hot, or of the load cross it.

    Returns the caption.

    Raises
    ------
    ValueError
        If the estimate has no load line.
    """
    line, state, load = found.load_line, found.work_piece, found.load
    if isinstance(line, Unknown):
        msg = "the estimate has no load line"
        raise ValueError(msg)
    ax.plot(line.current_rms, line.voltage_rms, color=INK, label="the machine")
    most = max(line.current_rms)
    ends = []
    if not isinstance(state, Unknown):
        cold = state.cold_current_rms, state.cold_current_rms * state.cold_resistance
        ends += [("work cold", cold, state.cold_resistance, BLUE, "--", "s")]
        hot = state.hot_current_rms, state.hot_voltage_rms
        ends += [("work hot", hot, state.hot_resistance, ORANGE, "-.", "o")]
    if not isinstance(load, Unknown) and isinstance(load.rectifier, Unknown):
        ends += [("the load", (load.current_rms, load.voltage_rms), load.resistance, GREEN, ":", "^")]
    for name, (amperes, volts), ohms, colour, style, marker in ends:
        label = f"{name}, {shown(ohms, 'ohm')}:\n{shown(amperes, 'A')}, {shown(volts, 'V')}"
        ax.plot([0, 1.25 * amperes], [0, 1.25 * volts], color=colour, linestyle=style, linewidth=1.0)
        ax.plot([amperes], [volts], marker, color=colour, linestyle=style, label=label, zorder=5)
    best = line.current_of_most_power
    volts = best * line.resistance_of_most_power
    label = f"most power, {shown(line.most_power, 'W')}\ninto {shown(line.resistance_of_most_power, 'ohm')}"
    ax.plot([best], [volts], "D", color="white", markeredgecolor=INK, label=label, zorder=4)
    ax.set_xlim(0.0, 1.03 * most)
    ax.set_ylim(0.0, 1.08 * max(line.voltage_rms))
    finished(ax, "current, r.m.s. [A]", "voltage at the lead ends, r.m.s. [V]")
    warm = (
        ""
        if isinstance(state, Unknown)
        else " At the end of the burst the machine is warm, and its point lies somewhat below the cold line."
    )
    return (
        "The work takes what both lines have in common: a point left of the diamond has more ohms than the machine "
        "gives most power into, one right of it fewer. Look how far the point moves as the work gets hot." + warm
    )
