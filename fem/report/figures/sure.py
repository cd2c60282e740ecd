"""How sure each number is: its band as a bar, ranked, with what drives it."""

from __future__ import annotations

from collections import Counter
from math import isfinite
from textwrap import fill

import matplotlib as mpl
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from fem.constants import ROOM
from fem.estimation.result import Estimate
from fem.quantity import Band
from fem.report.figures.style import BLUE, FAINT, GREEN, HEAD, INK, LETTERS_A_LINE, ORANGE, STYLE, headed
from fem.report.text.sure import Headline, headlines

ROW = 0.27
"""Height of a bar's row [in]."""
COLOURS = (
    (BLUE, ""),
    (ORANGE, "////"),
    (GREEN, ""),
    ("#e69f00", "...."),
    ("#56b4e9", ""),
    ("#cc79a7", "\\\\\\\\"),
)
"""Of the doubts that drive most, told apart without colour by what lies on them; M. Okabe and K. Ito, as in `style`."""
REST = "what else, and together"
CAPTION = (
    "The widest band is at the top. A bar's longest piece is what to measure first: a colour that fills many bars is "
    "worth an hour with callipers or meter."
)


def has_bands(estimate: Estimate) -> bool:
    """Return whether any number has a band."""
    return bool(headlines(estimate))


@mpl.rc_context(STYLE)
def how_sure(estimate: Estimate) -> Figure:
    """Draw each number's band over the number, the widest first, each bar cut by the shares of what drives it."""
    numbers = sorted(headlines(estimate), key=_width)
    weights: Counter[str] = Counter()
    for one in numbers:
        for words, share in one.band.terms:
            weights[words] += share * min(_width(one), 1.0)  # type: ignore[assignment]
    leading = [words for words, _ in weights.most_common() if words != "together"][: len(COLOURS)]
    colours = dict(zip(leading, COLOURS, strict=False))
    height = HEAD + ROW * len(numbers) + 1.5
    figure = headed(estimate.title, "How sure: bands that hold nine times out of ten, over the number", height)
    axes = figure.add_subplot()
    ends = [_ends(one) for one in numbers]
    most = max((high for _, high in ends if isfinite(high)), default=1.0)
    least = max(min(low for low, _ in ends), -1.0)
    for row, (one, (low, high)) in enumerate(zip(numbers, ends, strict=True)):
        at = max(low, least)
        width = min(high, most) - at
        for words, share in _cut(one.band, leading):
            colour, hatch = colours.get(words, (FAINT, ""))
            (bar,) = axes.barh(row, share * width, left=at, height=0.62, color=colour, edgecolor="white", linewidth=0.4)
            bar.set_hatch(hatch)
            at += share * width
        for end, marker, beyond in ((least, "<", low < least), (most, ">", high > most)):
            if beyond:
                axes.plot([end], [row], marker, color=INK, clip_on=False, zorder=5)
    margin = 0.06 * (most - least)
    axes.set_xlim(least - margin, most + margin)
    labels = [f"{one.words}\n{one.texts[0]} ({one.texts[1].partition(';')[0]})" for one in numbers]
    axes.set_yticks(range(len(numbers)), labels, fontsize=6)
    axes.axvline(0.0, color=INK, linewidth=0.8)
    axes.set_ylim(-0.6, len(numbers) - 0.4)
    axes.xaxis.set_major_formatter(mpl.ticker.PercentFormatter(1.0))
    axes.set_xlabel("off the number told; of temperatures,\noff their rise above the room")
    axes.grid(visible=True, axis="x", color=FAINT, linewidth=0.5)
    axes.set_axisbelow(True)
    drawn = [Patch(facecolor=c, hatch=h, edgecolor="white", label=words) for words, (c, h) in colours.items()]
    drawn.append(Patch(facecolor=FAINT, label=REST))
    words = fill(CAPTION, LETTERS_A_LINE)
    figure.legend(
        handles=drawn, loc="outside lower center", ncols=3, handlelength=1.6, title=words, title_fontsize=6.5,
        alignment="left", frameon=False,
    )  # fmt: skip
    return figure


def _ends(one: Headline) -> tuple[float, float]:
    """Return both ends off the number, over its size; a temperature's is its rise from room temperature."""
    size = abs(one.value - ROOM) if one.unit == "K" else abs(one.value)
    return (one.band.low - one.value) / size, (one.band.high - one.value) / size


def _width(one: Headline) -> float:
    low, high = _ends(one)
    return high - low


def _cut(band: Band, leading: list[str]) -> list[tuple[str, float]]:
    """Return the shares of the doubts that have a colour, in one order, and of the rest; together 1."""
    told = dict(band.terms)
    parts = [(words, told[words]) for words in leading if words in told]
    total = sum(share for _, share in parts)
    parts = [(words, share / max(total, 1.0)) for words, share in parts]
    return [*parts, (REST, max(1.0 - total, 0.0))]
