"""Figures of an estimate: each a function from an estimate to a matplotlib Figure, made to be read at 100 mm width."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from fem.estimation.pictures import Pictures
from fem.estimation.result import Estimate
from fem.report.figures.breaker import breaker, has_devices
from fem.report.figures.burst import both_sides
from fem.report.figures.bursts import burst_length, has_lengths
from fem.report.figures.curves import has_work_piece, voltage_sweep, work_along_length
from fem.report.figures.drawing import Drawing, draw
from fem.report.figures.idle import has_loop, idle_waveform, magnetisation, magnetisation_loop
from fem.report.figures.loss import has_loss_map, loss_map
from fem.report.figures.milliohms import has_milliohms, milliohms
from fem.report.figures.section import cross_section, edges, sides
from fem.report.figures.style import INK, IRON, STYLE, captioned, new_figure
from fem.report.figures.sure import has_bands, how_sure
from fem.report.figures.volts_amperes import has_load_line, volts_amperes
from fem.report.figures.window import window
from fem.report.figures.work import work_over_time
from fem.report.files.whole import replacing
from fem.report.text.numbers import shown
from geometries.described.faults import shown as shown_text
from geometries.shapes.section import Region, Role

FLUX_LINES = 22
"""Lines of A between its extremes."""
MARGIN = 0.03
"""Air shown round the core, as a share of its size."""


@mpl.rc_context(STYLE)
def flux_map(estimate: Estimate) -> Figure:
    """Draw the flux density in the iron at the peak of the idle current, with flux lines."""
    pictures = estimate.drawn
    drawing = draw(pictures.idle_field)
    regions = pictures.idle_field.model.mesh.section.regions
    iron = np.isin(drawing.region, [i for i, r in enumerate(regions) if r.role is Role.IRON])
    figure, axes = new_figure(estimate.title, f"No-load peak: {shown(estimate.idle.current_peak, 'A')} in the primary")
    # The corners, where the iron's edge makes the field singular, would darken all the rest.
    highest = float(np.quantile(drawing.b[iron], 0.995))
    _fill(axes, drawing, iron, highest, "flux density in the iron [T]")
    _flux_lines(axes, drawing)
    _outline(axes, pictures)
    captioned(
        figure,
        "Look for the brightest iron: where it is narrowest, and round the joints. Lines that leave the iron are flux "
        "that the other winding does not link.",
    )
    return figure


@mpl.rc_context(STYLE)
def leakage_map(estimate: Estimate) -> Figure:
    """Draw the leakage field in the window, scaled to the peak of the short-circuit current, with flux lines."""
    pictures = estimate.drawn
    drawing = draw(pictures.leakage_field)
    regions = pictures.leakage_field.model.mesh.section.regions
    solid = np.isin(drawing.region, [i for i, r in enumerate(regions) if r.role in {Role.IRON, Role.JOINT}])
    current = estimate.short_circuit.secondary_current_rms
    scale = np.sqrt(2) * current * estimate.build.secondary.turns
    subtitle = f"Lead ends joined: {shown(current, 'A')} r.m.s.; field at its peak, linear iron"
    figure, axes = new_figure(estimate.title, subtitle)
    corners = drawing.triangles.triangles
    x, y = drawing.triangles.x[corners].mean(axis=1), drawing.triangles.y[corners].mean(axis=1)
    core = pictures.core
    across = np.any([(x > x0) & (x < x1) for x0, x1 in core.frame.windows], axis=0)
    window = ~solid & across & (y > 0) & (y < core.window_height)
    millitesla = 1e3 * scale * drawing.b
    highest = float(np.quantile(millitesla[window], 0.995))
    scaled = Drawing(triangles=drawing.triangles, A=drawing.A, b=millitesla, region=drawing.region)
    _fill(axes, scaled, window, highest, "flux density in the window [mT]")
    for region in pictures.section.regions:
        if region.role is Role.IRON:
            axes.add_patch(_rectangle(region, facecolor=IRON, edgecolor="none"))
    _flux_lines(axes, drawing)
    _outline(axes, pictures)
    captioned(
        figure,
        "Every line that crosses the window between the windings is leakage: the brighter and wider the space between "
        "them, the more milliohms it adds. The end turns, outside of this plane, add theirs.",
    )
    return figure


def figures_of(estimate: Estimate) -> tuple[tuple[str, Callable[[Estimate], Figure]], ...]:
    """Return file name and function of each figure that this estimate has the numbers for."""
    drawn = [(name, draw) for name, draw in FIGURES if draw is not voltage_sweep or estimate.idle.voltage_sweep]
    return (*drawn, *(figure for figures, has in SOMETIMES if has(estimate) for figure in figures))


FIGURES: tuple[tuple[str, Callable[[Estimate], Figure]], ...] = (
    ("cross-section", cross_section),
    ("window", window),
    ("flux-density", flux_map),
    ("leakage-field", leakage_map),
    ("magnetisation-curve", magnetisation),
    ("idle-current", idle_waveform),
    ("voltage-sweep", voltage_sweep),
)
"""File name and function of each figure, in the order the report tells its story."""
BURST = (
    ("work-piece-time", work_over_time),
    ("work-piece-profile", work_along_length),
    ("work-piece-both-sides", both_sides),
)
SOMETIMES: tuple[tuple[tuple[tuple[str, Callable[[Estimate], Figure]], ...], Callable[[Estimate], bool]], ...] = (
    ((("magnetisation-loop", magnetisation_loop),), has_loop),
    ((("volts-amperes", volts_amperes),), has_load_line),
    ((("milliohms", milliohms),), has_milliohms),
    ((("copper-loss", loss_map),), has_loss_map),
    (BURST, has_work_piece),
    ((("burst-length", burst_length),), has_lengths),
    ((("breaker", breaker),), has_devices),
    ((("how-sure", how_sure),), has_bands),
)
"""Those that only some estimates have the numbers for, and which these are."""
ENDINGS = (".svg", ".png")
_NAMES = [name for figures in (FIGURES, *(figures for figures, _ in SOMETIMES)) for name, _ in figures]
FILES = tuple(f"{name}{ending}" for name in _NAMES for ending in ENDINGS)
"""Every file that may be written into a folder of figures."""


def plot(estimate: Estimate, what: str = "window") -> Figure:
    """Draw one figure of an estimate, for a notebook or a script of one's own.

    Parameters
    ----------
    estimate
        With its pictures.
    what
        A figure's name, as `rewound estimate --figures` writes it: "window", "flux-density", "idle-current" ...

    Raises
    ------
    ValueError
        If there is no such figure of this estimate, naming those there are; or it keeps no fields and curves.
    """
    estimate.drawn  # noqa: B018  # says at once that there is nothing to draw
    there = dict(figures_of(estimate))
    if what not in there:
        msg = f"what: {shown_text(what)} is no figure of this estimate; there are {', '.join(there)}"
        raise ValueError(msg)
    return there[what](estimate)


def save(figure: Figure, folder: str | Path, name: str) -> tuple[Path, Path]:
    """Write a figure as SVG and PNG, byte for byte the same on every run.

    Parameters
    ----------
    figure
        The figure.
    folder
        Where to; made if it is not there.
    name
        File name without ending.

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    svg, png = (folder / f"{name}{ending}" for ending in ENDINGS)
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # A title may hold letters that the font has not: a box is drawn for them.
        warnings.filterwarnings("ignore", r"Glyph \d+ .* missing from font")
        with replacing(svg) as stream:
            figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
        with replacing(png) as stream:
            figure.savefig(stream, format="png", metadata={"Software": None})
    return svg, png


def _fill(axes: Axes, drawing: Drawing, where: NDArray[np.bool_], highest: float, label: str) -> None:
    triangles = drawing.triangles
    chosen = Triangulation(triangles.x, triangles.y, triangles.triangles[where])
    # As pixels, even in SVG: tens of thousands of outlines would show as hairlines and weigh megabytes.
    colours = axes.tripcolor(chosen, drawing.b[where], vmin=0.0, vmax=highest, cmap="viridis", rasterized=True)
    figure = axes.get_figure()
    if figure is not None:
        figure.colorbar(colours, ax=axes, label=label, extend="max", shrink=0.9, pad=0.02)


def _flux_lines(axes: Axes, drawing: Drawing) -> None:
    largest = float(abs(drawing.A).max())
    levels = np.linspace(-largest, largest, FLUX_LINES + 2)[1:-1]
    for colour, width in (("white", 1.0), (INK, 0.4)):
        axes.tricontour(
            drawing.triangles, drawing.A, levels=levels, colors=colour, linewidths=width, linestyles="solid"
        )


def _outline(axes: Axes, pictures: Pictures) -> None:
    """Draw the edges of iron and windings, and cut the view to the core with some air."""
    edges(axes, pictures)
    halo: list[AbstractPathEffect] = [withStroke(linewidth=1.8, foreground="white")]
    for region in pictures.section.regions:
        if region.role is Role.CONDUCTOR:
            dashed = _rectangle(region, fill=False, edgecolor=INK, linewidth=0.8, linestyle=(0, (3, 2)), zorder=5)
            dashed.set_path_effects(halo)
            axes.add_patch(dashed)
    core = pictures.core
    air = MARGIN * core.overall_width
    left, right = sides(pictures.section)
    axes.set_xlim(left - air, right + air)
    axes.set_ylim(-core.yoke_height - air, core.window_height + core.yoke_height + air)
    axes.set_axis_off()


def _rectangle(region: Region, **style: Any) -> Rectangle:
    return Rectangle((region.x0, region.y0), region.x1 - region.x0, region.y1 - region.y0, **style)
