"""Chains of dimensions beside a drawing: lengths between edges, their words spread so that none covers another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from scipy.optimize import isotonic_regression

from fem.arrays import Floats
from fem.report.figures.style import INK

FAINT_LINE = "#8a8a8a"
LETTERS = 6.3
"""Size of the words [pt]."""
LINE = 1.25 * LETTERS * 25.4 / 72
"""Height of a line of them on paper [mm]."""
ARROW = 3.2
"""Length on paper that holds two arrowheads [mm]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Length:
    """One length of a chain: from where to where, and its words."""

    start: float
    end: float
    words: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Paper:
    """How the drawing lies on paper: `scale` is mm of paper for a mm drawn."""

    axes: Axes
    scale: float

    def __call__(self, millimetres: float) -> float:
        """Return what a length on paper [mm] is in the drawing's own."""
        return millimetres / self.scale


def chain(paper: Paper, lengths: Sequence[Length], *, at: float, upright: bool) -> None:
    """Draw a chain of dimensions along y (`upright`) or x, without words; small lengths get arrows from outside."""

    def point(along: float) -> tuple[float, float]:
        return (at, along) if upright else (along, at)

    def arrow(start: float, end: float, style: str) -> None:
        arrows = {"arrowstyle": style, "color": INK, "linewidth": 0.5, "mutation_scale": 4, "shrinkA": 0, "shrinkB": 0}
        paper.axes.annotate("", xy=point(end), xytext=point(start), arrowprops=arrows, annotation_clip=False)

    for number, one in enumerate(lengths):
        if (one.end - one.start) * paper.scale >= ARROW:
            arrow(one.start, one.end, "<|-|>")
            continue
        arrow(one.start, one.end, "-")
        outside = paper(ARROW)
        if number == 0:
            arrow(one.start - outside, one.start, "-|>")
        if number == len(lengths) - 1:
            arrow(one.end + outside, one.end, "-|>")
    for edge in sorted({edge for one in lengths for edge in (one.start, one.end)}):
        (x, y), tick = point(edge), paper(0.8)
        across = ([x - tick, x + tick], [y, y]) if upright else ([x, x], [y - tick, y + tick])
        paper.axes.plot(*across, color=INK, linewidth=0.5, clip_on=False)


def words(
    paper: Paper,
    lengths: Sequence[tuple[Length, float]],
    *,
    at: float,
    upright: bool,
    within: tuple[float, float],
) -> None:
    """Write the words of lengths beside their chains, with a leader from each.

    Parameters
    ----------
    paper
        The drawing.
    lengths
        Each with the place of its chain across it.
    at
        Where the words begin (`upright`), else their middle's height.
    upright
        Whether the chains run along y, and words stand beside each other's right ends.
    within
        Between which ends they are spread.
    """
    ordered = sorted(lengths, key=lambda each: each[0].start + each[0].end)
    middles = [(one.start + one.end) / 2 for one, _ in ordered]
    sizes = [paper(_size(one.words, upright)) for one, _ in ordered]
    for (one, place), middle, found in zip(ordered, middles, spread(middles, sizes, within), strict=True):
        away = paper(0.6) if upright else np.sign(at - place) * paper(LINE)
        line = ([place, at - away], [middle, found]) if upright else ([middle, found], [place, at - away])
        paper.axes.plot(*line, color=FAINT_LINE, linewidth=0.4, clip_on=False, zorder=1)
        x, y, ha = (at, found, "left") if upright else (found, at, "center")
        paper.axes.text(
            x, y, one.words, ha=ha, va="center", fontsize=LETTERS, linespacing=1.1, zorder=5, bbox=on("white")
        )


def on(colour: str) -> dict[str, Any]:
    """Return what keeps lines from running through words on a ground of this colour."""
    return {"facecolor": colour, "edgecolor": "none", "pad": 0.4}


def _size(text: str, upright: bool) -> float:
    """Return what a text takes along its chain on paper [mm], in DejaVu Sans some 0.6 of its size a letter."""
    lines = text.split("\n")
    if upright:
        return LINE * len(lines)
    return 0.62 * LETTERS * 25.4 / 72 * max(map(len, lines)) + 1.0


def spread(middles: Sequence[float], sizes: Sequence[float], within: tuple[float, float]) -> Floats:
    """Return where things of some sizes come to lie next to each other, in order, as near to their places as they can.

    Parameters
    ----------
    middles
        Where they would like to have their middles, rising (n,).
    sizes
        (n,).
    within
        Ends that none passes, so far as all go in.
    """
    wide = np.asarray(sizes, dtype=float)
    before = np.concatenate(([0.0], np.cumsum((wide[1:] + wide[:-1]) / 2)))
    places = isotonic_regression(np.asarray(middles, dtype=float) - before).x
    low, high = within[0] + wide[0] / 2, within[1] - wide[-1] / 2 - before[-1]
    return np.asarray(np.clip(places, low, max(low, high)) + before)
