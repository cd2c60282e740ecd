"""Figures as SVG within a page: letters as outlines, ids of their own, words for those who do not see them."""

from __future__ import annotations

import re
from io import StringIO

import matplotlib as mpl
from markupsafe import Markup
from matplotlib.figure import Figure

from fem.estimation.result import Estimate
from fem.report.figures.style import STYLE
from fem.report.figures.window import draw_window, height_of

ACROSS, HIGHEST = 86.0, 72.0
"""The drawing's width, and the window's height at most, on paper [mm]."""


@mpl.rc_context(STYLE)
def window_svg(estimate: Estimate) -> tuple[Markup, str]:
    """Return the window to scale, and its caption; ValueError if the estimate has no pictures."""
    high = height_of(estimate.drawn, ACROSS, HIGHEST)
    figure = Figure(figsize=(ACROSS / 25.4, high / 25.4))
    caption = draw_window(estimate, figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return inlined(figure, "window", "The window to scale, dimensions in mm"), caption


@mpl.rc_context(STYLE)
def inlined(figure: Figure, name: str, title: str) -> Markup:
    """Return a figure as an SVG element for HTML; its ids begin with its name, so that two on a page share none."""
    stream = StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    # name spaces are for XML; the style and the metadata would be the whole page's
    _, box, inner = re.split(r'<svg [^>]*viewBox="([^"]*)"[^>]*>', stream.getvalue(), maxsplit=1)
    inner = re.sub(r"<metadata>.*?</metadata>|<style.*?</style>", "", inner, flags=re.DOTALL)
    inner = re.sub(r'\b(?:xlink:)?(id="|href="#)', rf"\g<1>{name}-", inner).replace("url(#", f"url(#{name}-")
    head = Markup('<svg role="img" aria-labelledby="{0}-title" viewBox="{1}">\n<title id="{0}-title">{2}</title>')
    return head.format(name, box, title) + Markup(inner)
