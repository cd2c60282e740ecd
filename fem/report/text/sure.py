"""How sure a number is, in words: its band, in digits that follow its width, what drives it, what to measure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor, inf, isfinite, log10

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.estimation.result import Estimate
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import Band, Declared, Show, declared
from fem.report.text.numbers import scaled

MOST_TERMS, LEAST_SHARE = 3, 0.03
"""Of what drives a number, how many are told, and from which share of the variance on."""
WIDEST = 12
"""Numbers in the table at the end, at most: the widest bands first."""
WORTH = 0.97
"""A measurement that leaves more of a band than this is not told."""
MEANING = (
    "Nine times out of ten the true number lies within its band: all that is in doubt (`rewound list assumptions`, "
    "with your own tolerances in place of typical ones) is drawn together, and the band goes from the 5 % to the 95 % "
    "quantile. The shares are of its variance."
)


def with_band(value: float, band: Band, unit: str, show: Show = Show.VALUE) -> tuple[str, str]:
    """Return a number and its band for reading, in digits that follow the band's width.

    Parameters
    ----------
    value
        The number [SI].
    band
        Its band.
    unit, show
        As in the result's metadata.
    """
    ends = [end for end in (band.low, band.high) if isfinite(end)]
    if show is Show.SHARE:
        factor, offset, name = 100.0, 0.0, "%"
    else:
        factor, offset, name = scaled(max(value, *ends, key=abs), unit)
    width = factor * (max(value, *ends) - min(value, *ends))
    if width <= 0:
        return _written(factor * value + offset, 2, name), ""
    # the last digit is worth a twentieth of the width at most, a two-hundredth at least
    places = -floor(log10(width / 20) + 1e-9)
    numbers = [_decimals(factor * number + offset, places, name) for number in (value, band.low, band.high)]
    if band.high == inf:
        return numbers[0], f"{numbers[1]} or more"
    if band.low == -inf:
        return numbers[0], f"up to {numbers[2]}"
    return numbers[0], f"{numbers[1]} to {numbers[2]}"


def why(band: Band) -> str:
    """Return what drives a band, largest first, and what else is said of it."""
    driven = ", ".join(f"{words} {share:.0%}".replace("%", " %") for words, share in leading(band))
    return "; ".join(filter(None, (driven, band.why)))


def leading(band: Band) -> list[tuple[str, float]]:
    """Return the terms of a band that are worth words."""
    return [term for term in band.terms if term[1] >= LEAST_SHARE][:MOST_TERMS]


def known_by(estimate: Estimate) -> Iterator[tuple[str, Declared, float, Band]]:
    """Yield key, declaration, value and band of each number that has one, the widest for its size first."""
    found, results = [], estimate.to_dict()
    for station in STATIONS:
        told = {f"{station.key}.{one.key}": one for one in declared(station.result)}
        for key, one in told.items():
            band, value = estimate.bands.get(key), _value(results, key)
            if isinstance(band, Band) and value is not None and band.high > band.low:
                found.append((relative_width(value, band, one.unit), key, one, value, band))
    found.sort(key=lambda each: -each[0])
    yield from ((key, one, value, band) for _, key, one, value, band in found)


def relative_width(value: float, band: Band, unit: str) -> float:
    """Return a band's width over its number [-]; of a temperature over its rise from room temperature."""
    size = abs(value - 298.15) if unit == "K" else abs(value)
    return (band.high - band.low) / max(size, 1e-300)


def _value(results: Mapping[str, object], key: str) -> float | None:
    found: object = results
    for name in key.split("."):
        found = found.get(name) if isinstance(found, Mapping) else None
    return float(found) if isinstance(found, int | float) else None


def how_sure(estimate: Estimate) -> Iterator[RenderableType]:
    """Yield the report's last chapter: each number with a band and what drives it, and what to measure to be surer."""
    numbers = list(known_by(estimate))[:WIDEST]
    if not numbers:
        return
    table = Table.grid(padding=(0, 2), expand=True)
    for ratio, style in ((34, ""), (30, "bold"), (34, "dim")):
        table.add_column(ratio=ratio, overflow="fold", style=style)
    measures: dict[str, list[str]] = {}
    for _, one, value, band in numbers:
        number, between = with_band(value, band, one.unit, one.show)
        table.add_row(Text(one.label), Text(f"{number}  ({between})"), Text(why(band)))
        if band.measure and band.left < WORTH:
            measures.setdefault(band.measure, []).append(f"{one.label} to {band.left:.0%}".replace("%", " %"))
    yield Rule("How sure: nine times out of ten, the widest first", align="left", characters="-", style="none")
    yield Padding(table, (0, 0, 1, 0))
    listed = Table.grid(padding=(0, 2), expand=True)
    for ratio, style in ((50, "bold"), (50, "dim")):
        listed.add_column(ratio=ratio, overflow="fold", style=style)
    for measure, narrowed in sorted(measures.items(), key=lambda each: -len(each[1])):
        listed.add_row(Text(measure), Text(f"narrows {'; '.join(narrowed)} of its width"))
    yield Rule("What to measure to be surer", align="left", characters="-", style="none")
    yield Padding(Group(listed, Text(MEANING, style="dim")), (0, 0, 1, 0))


def _decimals(value: float, places: int, unit: str) -> str:
    if not isfinite(value):
        return ""
    # beyond this many digits there is but rounding
    most = 8 - floor(log10(abs(value))) if value else places
    places = min(places, most)
    return f"{round(value, places) + 0.0:.{max(places, 0)}f} {unit}".rstrip()


def _written(value: float, significant: int, unit: str) -> str:
    return f"{value:.{significant + 1}g} {unit}".rstrip()
