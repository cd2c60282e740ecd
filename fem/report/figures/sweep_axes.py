"""What charts of a sweep have in common: what was varied and what was found as axes, limits, points that failed."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from math import isfinite
from textwrap import shorten
from typing import Any, NamedTuple

import numpy as np
from matplotlib.axes import Axes

from fem.arrays import Floats
from fem.estimation.explained import declared_as
from fem.quantity import Show
from fem.report.figures.style import FAINT, INK
from fem.report.text.numbers import scaled
from fem.report.text.printable import printable
from fem.report.text.sure import HEADLINES
from fem.sweeps.rows.store import Row
from fem.sweeps.select import Condition
from geometries.described.quantities import split_quantity

REASONS = 2
"""How many reasons of points that failed a caption tells."""
ABOUT = {"short_circuit": "lead ends joined", "idle": "no-load", "load": "with the load", "heating": "heat"}
"""What a result without a headline is about, where its section's key is not the shop's word."""


class Varied(NamedTuple):
    """A key that was varied: each row's value as text, and as a number of `unit` unless some are words."""

    name: str
    unit: str
    texts: tuple[str, ...]
    numbers: Floats | None

    @property
    def label(self) -> str:
        """For an axis."""
        return f"{self.name} [{self.unit}]" if self.unit else self.name

    @property
    def values(self) -> list[str]:
        """The different values, rising, or as they come where they are words."""
        places = {text: k if self.numbers is None else float(self.numbers[k]) for k, text in enumerate(self.texts)}
        return sorted(places, key=lambda text: places[text]) if self.numbers is not None else list(places)


class Found(NamedTuple):
    """A result as an axis: label, what turns SI into its unit, each row's number in it (n,), nan where none is."""

    label: str
    at: Callable[[Any], Any]
    values: Floats


def varied(rows: Sequence[Row]) -> list[Varied]:
    """Return the keys that have more than one value: numbers before words, those with most values first."""
    found = []
    for key in dict.fromkeys(key for row in rows for key in row.point):
        texts = tuple(str(row.point.get(key, "")) for row in rows)
        parts = [split_quantity(text) or ("nan", "AWG") for text in texts]
        units = {unit for _, unit in parts}
        plain = len(units) == 1 and units != {"AWG"}  # gauges fall as wires get thicker, and 2/0 is no number
        numbers = np.array([float(number) for number, _ in parts]) if plain else None
        name = key.removeprefix("windings.").replace(".", " ").replace("_", " ")
        if len(set(texts)) > 1:
            found.append(Varied(name, units.pop() if plain else "", texts, numbers))
    return sorted(found, key=lambda one: (one.numbers is None, -len(set(one.texts))))


def numbers_of(rows: Sequence[Row], key: str) -> Floats:
    """Return a result of rows [SI], nan where there is none."""
    given = (row.results.get(key) for row in rows)
    return np.array([float(v) if isinstance(v, int | float) else np.nan for v in given])


def found_of(rows: Sequence[Row], key: str) -> Found:
    """Return a result of rows, in the unit and with the label that the report has for it."""
    values, name = numbers_of(rows, key), re.sub(r"\.(low|high)$", "", key)
    pair = declared_as(name)
    if pair is None:
        return Found(key.replace(".", " ").replace("_", " "), lambda value: value, values)
    pattern, one = pair
    factor, offset, unit = 100.0, 0.0, "%"
    if one.show is not Show.SHARE:
        factor, offset, unit = scaled(float(np.max(abs(values[np.isfinite(values)]), initial=0.0)), one.unit)
    section, *own = name.split(".")
    # names of places and windings are what a declared label leaves out
    places = [word for word in own if word in {"primary", "secondary"} or word not in pattern.split(".")]
    about = f"{ABOUT.get(section, section.replace('_', ' '))}: {one.label}"
    label = HEADLINES.get(name) or ", ".join((about, *places))
    label = shorten(printable(label + key.removeprefix(name).replace(".", ", ")), 62, placeholder=" ...")
    return Found(f"{label} [{unit}]" if unit else label, lambda v: factor * v + offset, factor * values + offset)


def limits(draw: Callable[..., object], found: Found, key: str, conditions: Sequence[Condition]) -> None:
    """Draw the limits that conditions set a result, by `axhline` or `axvline`."""
    for limit in (c.limit for c in conditions if c.key == key and c.limit is not None):
        draw(found.at(limit), color=INK, linestyle=(0, (6, 3)), linewidth=0.8, zorder=1)


def failures(rows: Sequence[Row], values: Floats) -> str:
    """Say how many points have no number and why, most frequent first; reasons that differ in figures count as one."""
    reasons = [row.reason or "no such result" for row, value in zip(rows, values, strict=True) if not isfinite(value)]
    alike = [re.sub(r"[\d.]+", "#", reason) for reason in reasons]
    groups = Counter(alike).most_common(REASONS)
    told = [f"{n} of {len(rows)} ({shorten(printable(reasons[alike.index(kind)]), 190)})" for kind, n in groups]
    rest = len(reasons) - sum(n for _, n in groups)
    return f"Without a number: {'; '.join((*told, *([f'{rest} for other reasons'] if rest else [])))}."


def lost_on_axis(ax: Axes, x: Floats, rows: Sequence[Row], values: Floats) -> str:
    """Mark points without a number on the x axis; return how many there are and why, or nothing."""
    lost = ~np.isfinite(values)
    if not lost.any():
        return ""
    foot: Any = {"transform": ax.get_xaxis_transform(), "clip_on": False, "zorder": 6}
    ax.plot(x[lost], np.zeros(lost.sum()), "x", color=INK, markersize=4.0 if lost.sum() < 60 else 1.5, **foot)
    return f"Crosses on the axis. {failures(rows, values)}"


def finished(ax: Axes, label: str) -> None:
    """Put a result's label above its axes and a grid behind."""
    ax.set_title(label, loc="left", fontsize=7.0, pad=3.0)
    ax.grid(visible=True, color=FAINT, linewidth=0.5)
    ax.set_axisbelow(True)
