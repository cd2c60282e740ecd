"""Figures of an estimate that show curves over time or voltage: what a meter, a clamp or the eye would follow."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from fem.constants import ZERO_CELSIUS
from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.figures.style import FAINT, GREEN, INK, ORANGE, STYLE, captioned, new_figure
from fem.report.text.numbers import shown


def has_work_piece(estimate: Estimate) -> bool:
    """Return whether there is a burst to draw."""
    return estimate.pictures is not None and estimate.pictures.work_piece is not None


@mpl.rc_context(STYLE)
def work_along_length(estimate: Estimate) -> Figure:
    """Draw the temperature along the work at a few moments of the burst."""
    pictures = estimate.drawn
    run = pictures.work_piece
    if run is None:
        msg = "the estimate has no work piece"
        raise ValueError(msg)
    ring = estimate.work_piece and isinstance(estimate.work_piece.hottest_position, Unknown)
    where, origin = ("round the ring", "a place of the ring") if ring else ("between the jaws", "the left jaw")
    figure, axes = new_figure(estimate.title, f"Work piece: temperature {where} during the burst", equal=False)
    off = float(run.time[np.flatnonzero(run.current_rms > 0)[-1]])
    moments = off * np.array([0.1, 0.25, 0.5, 1.0])
    place = 1e3 * run.position
    for moment, shade in zip(moments, ("#fdae6b", "#f16913", "#d94801", "#7f2704"), strict=True):
        profile = [float(np.interp(moment, run.time, column)) - ZERO_CELSIUS for column in run.temperature.T]
        axes.plot(place, profile, color=shade, label=f"after {shown(float(moment), 's')}")
    axes.set_xlim(0.0, float(place[-1] + place[0]))
    axes.set_ylim(0.0, 1.4 * float(run.temperature.max() - ZERO_CELSIUS))
    axes.set_xlabel(f"distance from {origin} [mm]")
    axes.set_ylabel("temperature [degC]")
    axes.grid(visible=True, color=FAINT, linewidth=0.5)
    axes.legend(loc="upper center", ncols=2)
    captioned(
        figure,
        "Look how even it is: a peak in the middle is the joint or the lap, ends far below it are the jaws, which draw "
        "heat. The wanted temperature is to be reached over the whole joint, not at its hottest place alone.",
    )
    return figure


@mpl.rc_context(STYLE)
def voltage_sweep(estimate: Estimate) -> Figure:
    """Draw the idle current against the primary voltage, as measured with a variable transformer."""
    sweep, idle = estimate.idle.voltage_sweep, estimate.idle
    if isinstance(sweep, Unknown):
        msg = "the estimate has no voltage sweep"
        raise ValueError(msg)
    figure, axes = new_figure(estimate.title, "No-load current against primary voltage", equal=False)
    axes.plot(sweep.voltage_rms, sweep.current_rms, color=INK)
    volts = estimate.idle.apparent_power / idle.current_rms
    axes.plot([volts], [idle.current_rms], "o", color=ORANGE, label=f"on the mains: {shown(idle.current_rms, 'A')}")
    knee = estimate.saturation.knee_voltage
    if not isinstance(knee, Unknown) and knee < sweep.voltage_rms[-1]:
        at = float(np.interp(knee, sweep.voltage_rms, sweep.current_rms))
        axes.plot([knee], [at], "s", color=GREEN, label=f"knee: {shown(knee, 'V')}")
    axes.set_xlim(left=0.0)
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("primary voltage, r.m.s. [V]")
    axes.set_ylabel("no-load current, r.m.s. [A]")
    axes.grid(visible=True, color=FAINT, linewidth=0.5)
    axes.legend(loc="upper left")
    captioned(
        figure,
        "Measure it with a variable transformer, a clamp and a voltmeter before the first burst: a curve that bends "
        "earlier than this tells of fewer turns, less iron or a shorted turn.",
    )
    return figure
