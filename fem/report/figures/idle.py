"""The core with nothing connected: its magnetisation curve, the idle current's wave, and the loop of one period."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.arrays import Floats
from fem.digits import digits
from fem.estimation.pictures import Pictures
from fem.estimation.result import Estimate
from fem.report.figures.framed import finished, framed
from fem.report.figures.style import BLUE, FAINT, GREEN, INK, ORANGE, STYLE, captioned, new_figure
from fem.report.text.numbers import shown


@mpl.rc_context(STYLE)
def magnetisation(estimate: Estimate) -> Figure:
    """Draw the flux density in the leg against the primary's ampere-turns, with operating point, target and knee."""
    figure, axes = new_figure(estimate.title, "Magnetisation curve of this core, primary energised", equal=False)
    captioned(figure, draw_magnetisation(estimate, axes))
    return figure


def draw_magnetisation(found: Estimate, ax: Axes) -> str:
    """Draw the magnetisation curve with operating point, target and knee, volts per turn on the right.

    Returns the caption.
    """
    pictures, saturation = found.drawn, found.saturation
    drawn = pictures.ampere_turns > 0
    ax.semilogx(pictures.ampere_turns[drawn], pictures.flux_density[drawn], color=INK)
    target = saturation.target_flux_density
    ax.axhline(target, color=GREEN, linestyle="--", label=f"to keep to: {shown(target, 'T')}")
    peak = saturation.peak_flux_density
    at = pictures.operating_ampere_turns
    ax.plot([at], [peak], "o", color=ORANGE, label=f"no-load peak: {shown(peak, 'T')}, {digits(at)} A")
    if (knee := _knee(pictures)) is not None:
        ax.plot([knee[0]], [knee[1]], "s", color=BLUE, label=f"knee: {shown(knee[1], 'T')}")
    top = 1.35 * max(peak, target)
    shown_part = drawn & (pictures.flux_density < top)
    ax.set_xlim(max(1.0, at / 3e3), 3 * float(pictures.ampere_turns[shown_part].max()))
    ax.set_ylim(0, top)
    ax.set_xlabel("ampere-turns of the primary [A]")
    ax.set_ylabel("flux density, the primary's leg, iron [T]")
    ax.grid(visible=True, color=FAINT, linewidth=0.5)
    ax.legend(loc="lower right")
    # Volts per turn go with the flux, and that all but with the flux density.
    per_weber = saturation.volts_per_turn / pictures.operating_flux_per_turn
    volts, density = per_weber * pictures.flux_per_turn, pictures.flux_density
    right = ax.secondary_yaxis(
        "right",
        functions=(
            lambda b: np.interp(np.asarray(b, dtype=float), density, volts),
            lambda v: np.interp(np.asarray(v, dtype=float), volts, density),
        ),
    )
    right.set_ylabel("volts per turn, r.m.s. [V]")
    return (
        "Look how far the round mark lies from the square one: beyond the knee a tenth more voltage takes half as much "
        "current again. On the right, the volts that a turn has at each flux."
    )


@mpl.rc_context(STYLE)
def idle_waveform(estimate: Estimate) -> Figure:
    """Draw mains voltage and idle current over one period."""
    rms, peak = shown(estimate.idle.current_rms, "A"), shown(estimate.idle.current_peak, "A")
    figure, axes = new_figure(estimate.title, f"No-load: {rms} r.m.s., peak {peak}", equal=False)
    captioned(figure, draw_idle(estimate, axes))
    return figure


def draw_idle(found: Estimate, ax: Axes) -> str:
    """Draw mains voltage and, on the right, idle current over one period.

    Returns the caption.
    """
    pictures = found.drawn
    # One period as sampled stops a step short of its end: close it with its first sample.
    step = pictures.time[1] - pictures.time[0]
    milliseconds = 1e3 * (np.append(pictures.time, pictures.time[-1] + step) - pictures.time[0])
    voltage, current = (np.append(values, values[0]) for values in (pictures.voltage, pictures.current))
    right = ax.twinx()
    lines = ax.plot(milliseconds, voltage, color=BLUE, linestyle="--", label="mains voltage")
    lines += right.plot(milliseconds, current, color=ORANGE, label="no-load current")
    for side, values, label, colour in (
        (ax, voltage, "mains voltage [V]", BLUE),
        (right, current, "no-load current [A]", ORANGE),
    ):
        most = 1.35 * float(abs(values).max())
        side.set_ylim(-most, most)
        side.set_ylabel(label, color=colour)
    ax.axhline(0.0, color=INK, linewidth=0.5)
    ax.set_xlim(0.0, float(milliseconds[-1]))
    ax.set_xlabel("time [ms]")
    ax.grid(visible=True, color=FAINT, linewidth=0.5)
    ax.legend(handles=lines, loc="upper center", ncols=2)
    return (
        f"Peak over r.m.s. is {found.idle.crest_factor:.1f}: 1.4 is a sine; the more it is, and the narrower the peaks "
        "where the voltage passes nothing, the deeper the core saturates."
    )


def has_loop(estimate: Estimate) -> bool:
    """Return whether the flux of the idle period was kept."""
    return estimate.pictures is not None and estimate.pictures.flux is not None


def magnetisation_loop(estimate: Estimate) -> Figure:
    """Draw flux density against idle current over one period."""
    return framed(estimate, "Magnetisation loop: one period on the mains, no load", draw_loop)


def draw_loop(found: Estimate, ax: Axes) -> str:
    """Draw flux density against idle current over one period, with the curve without loss, knee and target.

    Returns the caption.

    Raises
    ------
    ValueError
        If the flux was not kept.
    """
    pictures, saturation = found.drawn, found.saturation
    if pictures.flux is None:
        msg = "the estimate keeps no flux of the idle period"
        raise ValueError(msg)
    loop = np.append(pictures.flux, pictures.flux[0])
    amperes = np.append(pictures.current, pictures.current[0])
    # at the peak of the flux nothing is induced, and no loss taken: all of the current magnetises
    turns = pictures.operating_ampere_turns / float(pictures.current[np.argmax(pictures.flux)])
    ax.plot(amperes, _density(pictures, loop), color=ORANGE, label="one period")
    most = 1.3 * float(abs(amperes).max())
    curve = np.concatenate((-pictures.ampere_turns[:0:-1], pictures.ampere_turns)) / turns
    density = np.concatenate((-pictures.flux_density[:0:-1], pictures.flux_density))
    ax.plot(curve, density, color=INK, linewidth=0.8, linestyle="--", label="without core loss")
    peak = saturation.peak_flux_density
    at = pictures.operating_ampere_turns / turns
    ax.plot([-at, at], [-peak, peak], "o", color=ORANGE, label=f"no-load peak:\n{shown(peak, 'T')}, {shown(at, 'A')}")
    if (knee := _knee(pictures)) is not None:
        x, y = knee[0] / turns, knee[1]
        ax.plot([-x, x], [-y, y], "s", color=BLUE, label=f"knee:\n{shown(y, 'T')}, {shown(x, 'A')}")
    target = saturation.target_flux_density
    for sign in (-1, 1):
        words = f"to keep to:\n{shown(target, 'T')}" if sign > 0 else None
        ax.axhline(sign * target, color=GREEN, linestyle=":", label=words)
    ax.set_xlim(-most, most)
    top = 1.25 * max(peak, target)
    ax.set_ylim(-top, top)
    finished(ax, "primary current [A]", "flux density, the primary's leg, iron [T]")
    return (
        "How wide the loop is where it crosses no flux is what core loss takes, how far its tips run out beyond the "
        "knee is saturation. Volts against amperes on a scope, the volts through an integrator, show this shape."
    )


def _knee(pictures: Pictures) -> tuple[float, float] | None:
    """Return ampere-turns [A] and flux density [T] at the knee, if there is one."""
    if pictures.knee_flux_per_turn is None:
        return None
    density = float(np.interp(pictures.knee_flux_per_turn, pictures.flux_per_turn, pictures.flux_density))
    return float(np.interp(density, pictures.flux_density, pictures.ampere_turns)), density


def _density(pictures: Pictures, flux: Floats) -> Floats:
    """Return the flux density [T] at fluxes per turn of either sign [Wb]."""
    size = np.interp(np.abs(flux), pictures.flux_per_turn, pictures.flux_density)
    return np.asarray(np.sign(flux) * size)
