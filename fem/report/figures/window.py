"""The window to scale, with all that lies in it: what there is to hold the winding on the bench against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from fem.estimation.pictures import Pictures
from fem.estimation.result import Estimate
from fem.report.figures.dimensions import FAINT_LINE, LETTERS, LINE, Length, Paper, chain, on, words
from fem.report.figures.style import BLUE, FAINT, GREEN, INK, IRON, ORANGE, STYLE, WIDTH, captioned, headed
from fem.report.figures.window_plan import (
    Lying,
    bars,
    called,
    chains_across,
    has_ring,
    leg_names,
    lying_coils,
    mm,
    numbers,
    size_of,
    upright_chains,
)

LEFT, RIGHT, STRIP, ACROSS, RULER = 9.5, 31.0, 4.5, 11.0, 8.5
"""On paper [mm]: the upright ruler, the words beside upright chains, the iron shown, a chain across, a ruler below."""
APART = 3.0
"""Between upright chains, on paper [mm]."""
HIGHEST = 105.0
"""The window on paper at most [mm]."""
FINE = 0.7
"""Layers nearer to each other on paper [mm] are drawn a few at a time."""
LOOKS: dict[str, dict[str, Any]] = {
    "primary": {"facecolor": "#cfe3f0", "edgecolor": BLUE},
    "extra": {"facecolor": "#d3efe6", "edgecolor": GREEN, "hatch": "...."},
    "secondary": {"facecolor": "#fbe6d8", "edgecolor": ORANGE},
}
"""Pale with an edge, which greys keep apart from conductors, dark and single, and extra turns, dotted."""
BARE = {"primary": BLUE, "extra": GREEN, "secondary": ORANGE}


@mpl.rc_context(STYLE)
def window(estimate: Estimate) -> Figure:
    """Draw the window to scale."""
    paper = 25.4 * WIDTH - 2.0
    high = height_of(estimate.drawn, paper)
    both = " x ".join(map(mm, size_of(estimate.drawn))) + " mm"
    figure = headed(estimate.title, f"The window, {both}, to scale; dimensions in mm", high / 25.4, engine=None)
    box = figure.get_figheight()
    axes = figure.add_axes((1 / (25.4 * WIDTH), 0.0, paper / (25.4 * WIDTH), high / 25.4 / box))
    captioned(figure, draw_window(estimate, axes))
    return figure


def height_of(pictures: Pictures, across: float, highest: float = HIGHEST) -> float:
    """Return how high the drawing becomes on paper that is so wide, the window's own height at most `highest` [mm]."""
    width, height, chains = *size_of(pictures), len(upright_chains(pictures))
    scale = min((across - LEFT - RIGHT - 2 * STRIP - APART * chains) / width, highest / height)
    return scale * height + 2 * STRIP + RULER + ACROSS * len(chains_across(pictures)) + 2.0


def draw_window(found: Estimate, ax: Axes) -> str:
    """Draw the window beside the primary's leg to scale and return what to look for.

    Parameters
    ----------
    found
        With pictures.
    ax
        Of whatever size; it is taken as it is now, so axes that a layout moves later are to be laid out before.
    """
    pictures = found.drawn
    width, height = size_of(pictures)
    upright, across = upright_chains(pictures), chains_across(pictures)
    above = across[1:] if len(across) > 1 else across
    left, right = LEFT + STRIP, STRIP + APART * len(upright) + RIGHT
    below, over = STRIP + RULER + ACROSS * (len(across) - len(above)), STRIP + ACROSS * len(above)
    figure = ax.get_figure(root=True)
    assert figure is not None
    box, size = ax.get_position(), figure.get_size_inches()
    wide, high = 25.4 * box.width * size[0], 25.4 * box.height * size[1]
    paper = Paper(axes=ax, scale=min((wide - left - right) / width, (high - below - over) / height))
    spare = paper(wide) - width - paper(left + right), paper(high) - height - paper(below + over)
    ax.set_xlim(-paper(left) - spare[0] / 2, width + paper(right) + spare[0] / 2)
    ax.set_ylim(-paper(below) - spare[1] / 2, height + paper(over) + spare[1] / 2)
    ax.set_axis_off()
    _iron(paper, pictures, width, height)
    _ruler(paper, width, height, leg_names(pictures))
    coils = lying_coils(pictures)
    for number, one in enumerate(coils):
        _winding(paper, one, sum(c.coil.turns for c in coils[:number] if c.kind == one.kind))
    x0 = pictures.core.frame.wound_leg.x1
    for region in bars(pictures):
        corner = 1e3 * (region.x0 - x0), 1e3 * region.y0
        bar = Rectangle(
            corner, 1e3 * (region.x1 - region.x0), 1e3 * (region.y1 - region.y0), facecolor=IRON, edgecolor=INK
        )
        bar.set(hatch="xxxx", linewidth=0.6)
        ax.add_patch(bar)
    first = width + paper(STRIP + APART)
    told = []
    for number, lengths in enumerate(upright):
        at = first + number * paper(APART)
        _extend(paper, lengths, at, upright=True, beside=width)
        chain(paper, lengths, at=at, upright=True)
        told += [(one, at) for one in lengths if one.words]
    at = first + paper(APART * (len(upright) - 1) + 4.0)
    words(paper, told, at=at, upright=True, within=(-paper(STRIP + RULER), height + paper(STRIP)))
    for number, lengths in enumerate(above):
        _across_at(paper, lengths, height + paper(STRIP + 2.0 + ACROSS * number), width, height, up=True)
    for lengths in across[: len(across) - len(above)]:
        _across_at(paper, lengths, -paper(STRIP + RULER + 1.5), width, 0.0, up=False)
    return _caption(pictures, coils, paper)


def _across_at(paper: Paper, lengths: Sequence[Length], at: float, width: float, edge: float, *, up: bool) -> None:
    _extend(paper, lengths, at, upright=False, beside=edge)
    chain(paper, lengths, at=at, upright=False)
    middle = at + (1 if up else -1) * paper(2.2 + LINE)
    margin = paper(STRIP + 8.0)
    words(
        paper,
        [(one, at) for one in lengths],
        at=middle,
        upright=False,
        within=(-margin, width + margin),
    )


def _extend(paper: Paper, lengths: Sequence[Length], at: float, *, upright: bool, beside: float) -> None:
    """Draw faint lines from the window's edge to a chain."""
    for edge in {edge for one in lengths for edge in (one.start, one.end)}:
        line = ([beside, at], [edge, edge]) if upright else ([edge, edge], [beside, at])
        paper.axes.plot(*line, color=FAINT_LINE, linewidth=0.3, zorder=3)


def _iron(paper: Paper, pictures: Pictures, width: float, height: float) -> None:
    """Draw strips of the iron round the window with their names, and the window's edge."""
    ax, strip = paper.axes, paper(STRIP)
    for corner, wide, high in (
        ((-strip, -strip), width + 2 * strip, strip),
        ((-strip, height), width + 2 * strip, strip),
        ((-strip, 0.0), strip, height),
        ((width, 0.0), strip, height),
    ):
        ax.add_patch(Rectangle(corner, wide, high, facecolor=IRON, edgecolor="none", zorder=0.5))
    ax.add_patch(Rectangle((0.0, 0.0), width, height, fill=False, edgecolor=INK, linewidth=1.0, zorder=4))
    style: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": LETTERS, "zorder": 5, "bbox": on(IRON)}
    ax.text(width / 2, height + strip / 2, "upper yoke", **style)
    ax.text(width / 2, -strip / 2, "lower yoke", **style)
    for x, name in zip((-strip / 2, width + strip / 2), leg_names(pictures), strict=True):
        ax.text(x, height / 2, name, rotation=90, **style)


def _ruler(paper: Paper, width: float, height: float, legs: tuple[str, str]) -> None:
    """Draw rulers in mm from the leg's face and above the lower yoke, with faint lines across the window."""
    ax, strip = paper.axes, paper(STRIP)
    tens = next(step for step in (1, 2, 5, 10, 20, 50, 100) if step * paper.scale >= 6.0)
    for upright, whole in ((True, height), (False, width)):
        fine = next(tens / parts for parts in (10, 5, 2) if tens / parts * paper.scale >= 0.8)
        for mark in np.arange(0.0, whole + 1e-6, fine):
            major = abs(mark / tens - round(mark / tens)) < 1e-6
            out = strip + paper(1.6 if major else 0.8)
            tick = ([-strip, -out], [mark, mark]) if upright else ([mark, mark], [-strip, -out])
            ax.plot(*tick, color=INK, linewidth=0.5 if major else 0.3)
            if not major:
                continue
            line = ([0, width], [mark, mark]) if upright else ([mark, mark], [0, height])
            ax.plot(*line, color=FAINT, linewidth=0.4, linestyle=":", zorder=0.6)
            x, y = (-out - paper(0.5), mark) if upright else (mark, -out - paper(0.5))
            ha, va = ("right", "center") if upright else ("center", "top")
            ax.text(x, y, f"{mark:g}", ha=ha, va=va, fontsize=LETTERS)
    style: dict[str, Any] = {"fontsize": LETTERS, "ha": "center", "zorder": 5, "bbox": on("white")}
    ax.text(width / 2, -strip - paper(4.4), f"mm from the {legs[0]}'s face", va="top", **style)
    ax.text(-strip - paper(LEFT - 1.6), height / 2, "mm above the lower yoke", va="center", rotation=90, **style)


def _winding(paper: Paper, one: Lying, turns_before: int) -> None:
    """Draw a coil: its single conductors where they lie, else its block with lines between layers."""
    ax, look = paper.axes, LOOKS[one.kind]
    corner, width, height = (one.x0, one.y0), one.x1 - one.x0, one.y1 - one.y0
    conductor, places = one.coil.conductor, one.coil.block.places
    if not places:
        ax.add_patch(Rectangle(corner, width, height, linewidth=0.8, zorder=2, **look))
        for at in _layer_lines(paper, one):
            line = ([one.x0, one.x1], [at, at]) if one.laid.by_rows else ([at, at], [one.y0, one.y1])
            ax.plot(*line, color=look["edgecolor"], linewidth=0.4, zorder=2.1)
        return
    ax.add_patch(Rectangle(corner, width, height, fill=False, edgecolor=FAINT_LINE, linewidth=0.5, linestyle="--"))
    names = list(numbers(one, turns_before))
    numbered = 1e3 * min(places[0].width, places[0].height) * paper.scale >= 1.5 + 1.3 * max(map(len, names))
    sizes = (conductor.insulated_width, conductor.insulated_height), (places[0].width, places[0].height)
    middles = [(one.x(place.x), one.y0 + 1e3 * place.y) for place in places]
    for (across, along), colour in zip(sizes, (look["facecolor"], BARE[one.kind]), strict=True):
        shapes = [_shape(middle, 1e3 * across, 1e3 * along, conductor.circular) for middle in middles]
        ax.add_collection(PatchCollection(shapes, facecolor=colour, edgecolor=INK, linewidth=0.5, zorder=2))
    for middle, name in zip(middles, names if numbered else (), strict=numbered):
        ax.text(*middle, name, ha="center", va="center", fontsize=LETTERS, color="white", fontweight="bold")


def _shape(middle: tuple[float, float], across: float, along: float, circular: bool) -> Circle | Rectangle:
    if circular:
        return Circle(middle, across / 2)
    return Rectangle((middle[0] - across / 2, middle[1] - along / 2), across, along)


def _layer_lines(paper: Paper, one: Lying) -> Iterator[float]:
    """Yield where lines between layers, or rows, are drawn; of fine ones between several at a time."""
    low, high, count = (one.y0, one.y1, one.laid.per_layer) if one.laid.by_rows else (one.x0, one.x1, one.laid.layers)
    step = (high - low) / count
    yield from (low + step * number for number in range(_at_a_time(paper, step), count, _at_a_time(paper, step)))


def _at_a_time(paper: Paper, step: float) -> int:
    return max(1, int(np.ceil(FINE / (step * paper.scale))))


def _caption(pictures: Pictures, coils: Sequence[Lying], paper: Paper) -> str:
    """Say what is drawn and what to look for."""
    sentences, windows = [], len(pictures.core.frame.windows)
    if windows > 1:
        sentences.append("One window; the other is its mirror image.")
    elif not any(one.mirrored for one in coils):
        sentences.append("The turns' other sides lie outside of the core, beside the leg.")
    if pictures.core.second is not None:
        sentences.append("Of the first core; the secondary runs round both.")
    for kind in dict.fromkeys(one.kind for one in coils):
        mine = [one for one in coils if one.kind == kind]
        sentences.append(_described(pictures, mine, paper))
    for bar in bars(pictures):
        gap = mm(1e3 * (bar.x0 - pictures.core.frame.wound_leg.x1))
        sentences.append(f"Shunt: {gap} mm from either leg.")
    if has_ring(pictures):
        sentences.append("A secondary that is wound lies idle and is not drawn.")
    sentences.append("Look whether what is to spare is there on the bench: coils bow out towards the next leg.")
    return " ".join(sentences)


def _described(pictures: Pictures, mine: Sequence[Lying], paper: Paper) -> str:
    one = mine[0]
    name = called(pictures, one)
    name = name[:1].upper() + name[1:]
    turns = sum(coil.coil.turns for coil in mine)
    hand = f" x {one.coil.wires_in_hand} in hand" if one.coil.wires_in_hand > 1 else ""
    coils = f" in {len(mine)} coils" if len(mine) > 1 else ""
    text = f"{name}: {turns} turn{'s' if turns > 1 else ''}{hand}{coils}, {one.coil.conductor.label}"
    if not one.coil.block.places:
        layers = layers_text(one.laid.counts)
        step = (one.x1 - one.x0) / one.laid.layers if not one.laid.by_rows else (one.y1 - one.y0) / one.laid.per_layer
        some = _at_a_time(paper, step)
        lines = f", a line drawn after every {some}" if some > 1 else ""
        return f"{text}; {layers}{lines}."
    face = "its own leg's face" if one.mirrored else "the leg's face"
    numbered = [
        f"{number}: {mm(1e3 * (coil.coil.block.leg_clearance + place.x))}|{mm(coil.y0 + 1e3 * place.y)}"
        for before, coil in zip(np.cumsum([0, *(c.coil.turns for c in mine)]), mine, strict=False)
        for number, place in zip(numbers(coil, int(before)), coil.coil.block.places, strict=True)
    ]
    if len(numbered) > 12:
        return f"{text}; {layers_text(one.laid.counts)}{' in a coil' if len(mine) > 1 else ''}."
    return f"{text}; centres in mm from {face}|above the lower yoke: {', '.join(numbered)}."


def layers_text(counts: Sequence[int]) -> str:
    """Say how many conductors lie in the layers from the leg outwards: "13 layers, 12 of 18, 1 of 14"."""
    if len(counts) < 4:
        return f"{' + '.join(map(str, counts))} from the leg outwards"
    runs = [(count, len(list(same))) for count, same in groupby(counts)]
    each = ", ".join(f"{many} of {count}" for count, many in runs) if len(runs) > 1 else f"of {counts[0]}"
    return f"{len(counts)} layers{', ' if len(runs) > 1 else ' '}{each}"
