"""The one picture that each script draws: a curve, and what was found on it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from matplotlib.figure import Figure


def draw(
    file: Path, points: Sequence[tuple[float, float]], found: tuple[float, float], *, across: str, along: str, mark: str
) -> None:
    """Draw points joined by a line, and a mark at what was found.

    Parameters
    ----------
    file
        To draw into, by its ending as SVG, PNG or PDF.
    points, found
        Each as drawn to the right and upwards.
    across, along
        What is drawn to the right and upwards, each with its unit.
    mark
        What the point found is.
    """
    figure = Figure(figsize=(6.0, 4.0), layout="constrained")
    axes = figure.subplots()
    axes.plot(*zip(*points, strict=True), marker=".")
    axes.plot(*found, "o", markersize=10, fillstyle="none", color="black", label=mark)
    axes.legend()
    axes.set(xlabel=across, ylabel=along)
    axes.grid(visible=True, linewidth=0.3)
    figure.savefig(file)
