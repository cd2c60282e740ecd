"""Where in the conductors the copper loss arises: the map of the time-harmonic slice."""

from __future__ import annotations

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.tri import Triangulation

from fem.estimation.result import Estimate
from fem.report.figures.section import edges, sides
from fem.report.figures.style import INK, STYLE, captioned, new_figure
from fem.report.text.numbers import shown
from geometries.shapes.section import Role

MARGIN = 0.03
"""Air shown beside the windings, as a share of the core's width."""


def has_loss_map(estimate: Estimate) -> bool:
    """Return whether a time-harmonic slice was solved: for thick conductors, or wires in hand that share."""
    return estimate.pictures is not None and estimate.pictures.ac_slice is not None


@mpl.rc_context(STYLE)
def loss_map(estimate: Estimate) -> Figure:
    """Draw the mean loss density in the conductors with the lead ends joined.

    In the right-hand window of a core that is the same on both sides of the primary's leg, else on all sides of coils.
    """
    pictures = estimate.drawn
    found = pictures.ac_slice
    if found is None:
        msg = "the estimate has no time-harmonic slice"
        raise ValueError(msg)
    current = estimate.short_circuit.secondary_current_rms
    scale = (current * estimate.build.secondary.turns) ** 2
    mesh = found.mesh
    where = ", right-hand window" if mesh.section.halved else ""
    figure, axes = new_figure(
        estimate.title, f"Copper loss with the lead ends joined: {shown(current, 'A')} r.m.s.{where}"
    )
    conductors = [k for k, region in enumerate(mesh.section.regions) if region.role is Role.CONDUCTOR]
    filled = np.isin(mesh.region, conductors)
    per_cubic_cm = 1e-6 * scale * found.field.loss_density()[filled]
    x, y = mesh.points
    triangles = Triangulation(x, y, mesh.triangles[:, filled].T)
    colours = axes.tripcolor(triangles, per_cubic_cm, vmin=0.0, cmap="inferno", rasterized=True)
    figure.colorbar(colours, ax=axes, label="loss [W/cm3]", shrink=0.9, pad=0.02)
    edges(axes, pictures)
    for region in pictures.section.regions:
        if region.role is Role.CONDUCTOR:
            corner, width, height = (region.x0, region.y0), region.x1 - region.x0, region.y1 - region.y0
            axes.add_patch(mpl.patches.Rectangle(corner, width, height, fill=False, edgecolor=INK, linewidth=0.6))
    core = pictures.core
    air = MARGIN * core.overall_width
    left, right = sides(pictures.section)
    if mesh.section.halved:
        left, right = core.leg_width / 2, core.frame.windows[-1][1]
    axes.set_xlim(left - air, right + air)
    axes.set_ylim(-air, core.window_height + air)
    axes.set_axis_off()
    captioned(
        figure,
        "Conductors that are brighter than their neighbours carry more than their share: wires in hand joined at their "
        "ends, or thick ones whose current crowds to the side of the other winding. Cross them over, or take thinner.",
    )
    return figure
