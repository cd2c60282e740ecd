"""How sure a number is, in words: its band, in digits that follow its width, what drives it, what to measure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import floor, inf, isfinite, log10

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.digits import duration, whole_shares
from fem.estimation.result import Estimate
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import Band, Show, Unknown, declared
from fem.report.text.numbers import percent, scaled, shown

MOST_TERMS, LEAST_SHARE = 3, 0.03
"""Of what drives a number, how many are told, and from which share of the variance on."""
ALIKE = 1e-9
"""A band narrower than this share of its number is what rounding leaves of none."""
WORTH = 0.97
"""A measurement that leaves more of a band than this is not told."""
HEADLINES = {
    "saturation.peak_flux_density_T": "flux density, no-load peak",
    "saturation.knee_voltage_V": "mains voltage at the knee",
    "idle.current_rms_A": "no-load current, r.m.s.",
    "idle.current_peak_A": "no-load current, peak",
    "idle.core_loss_W": "core loss",
    "leakage.inductance_secondary_H": "leakage with leads, secondary",
    "open_circuit.secondary_voltage_rms_V": "no-load volts, secondary",
    "short_circuit.secondary_current_rms_A": "lead ends joined, secondary",
    "short_circuit.primary_current_rms_A": "lead ends joined, primary",
    "short_circuit.input_power_W": "lead ends joined, watts",
    "short_circuit.primary_first_peak_A": "lead ends joined, primary's first peak",
    "switch_on.primary_first_peak_A": "switching on, first peak",
    "load.current_rms_A": "load current",
    "load.primary_current_rms_A": "load current, primary",
    "load.power_W": "power in the load",
    "work_piece.time_to_target_s": "time to the wanted temperature",
    "work_piece.hottest_temperature_K": "hottest place of the work",
    "work_piece.hot_current_rms_A": "current at the end of the burst",
    "heating.shorted.longest_s": "longest burst, lead ends joined",
    "heating.loaded.longest_s": "longest burst, with the load",
    "heating.burst.longest_s": "longest burst, work piece",
    "heating.duty.allowed_share": "duty allowed",
    "heating.duty.shortest_period_s": "least time from burst to burst",
    "heating.duty.peak_temperatures_K.primary": "primary, hottest in the steady cycle",
    "heating.duty.peak_temperatures_K.secondary": "secondary, hottest in the steady cycle",
}
"""What one decides by, in the order of the report, and what it is called where all stand side by side."""
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
    if width <= ALIKE * abs(factor * value):
        return shown(value, unit) if show is Show.VALUE else percent(value), ""
    # the last digit is worth a twentieth of the width at most, a two-hundredth at least
    places = -floor(log10(width / 20) + 1e-9)
    three = (value, band.low, band.high)
    if unit == "s":
        numbers = [duration(number, 10.0**-places) if isfinite(number) else "" for number in three]
    else:
        numbers = [_decimals(factor * number + offset, places, name) for number in three]
    if band.high == inf:
        between = f"{numbers[1]} or more"
    elif band.low == -inf:
        between = f"up to {numbers[2]}"
    else:
        between = f"{numbers[1]} to {numbers[2]}"
    return numbers[0], between


def why(band: Band) -> str:
    """Return what drives a band, largest first, and what else is said of it."""
    terms = leading(band)
    shares = whole_shares(share for _, share in terms)
    driven = ", ".join(f"{words} {share} %" for (words, _), share in zip(terms, shares, strict=True))
    return "; ".join(filter(None, (driven, band.why)))


def leading(band: Band) -> list[tuple[str, float]]:
    """Return the terms of a band that are worth words."""
    return [term for term in band.terms if term[1] >= LEAST_SHARE][:MOST_TERMS]


@dataclass(frozen=True, kw_only=True, slots=True)
class Headline:
    """A number that one decides by, with its band.

    Parameters
    ----------
    words
        What it is.
    value, band
        [SI].
    unit, show
        As in the result's metadata.
    """

    words: str
    value: float
    band: Band
    unit: str
    show: Show

    @property
    def texts(self) -> tuple[str, str]:
        """The number and its band for reading."""
        return with_band(self.value, self.band, self.unit, self.show)


def headlines(estimate: Estimate) -> list[Headline]:
    """Return the numbers that one decides by, where they have a band of some width, in the report's order."""
    told = {f"{station.key}.{one.key}": one for station in STATIONS for one in declared(station.result)}
    found, results = [], estimate.to_dict()
    for key, words in HEADLINES.items():
        band, value = estimate.bands.get(key), _value(results, key)
        if isinstance(band, Band) and value is not None and band.high > band.low:
            one = told.get(key) or told[key.rpartition(".")[0]]
            found.append(Headline(words=words, value=value, band=band, unit=one.unit, show=one.show))
    return found


def missing_bands(estimate: Estimate) -> list[tuple[str, str]]:
    """Return what has no band though it should: in words, or its section where that has none at all, and why."""
    told = {**{station.key: station.key.replace("_", " ") for station in STATIONS}, **HEADLINES}
    return [
        (told[key], band.reason) for key, band in estimate.bands.items() if isinstance(band, Unknown) and key in told
    ]


def _value(results: Mapping[str, object], key: str) -> float | None:
    found: object = results
    for name in key.split("."):
        found = found.get(name) if isinstance(found, Mapping) else None
    return float(found) if isinstance(found, int | float) else None


def how_sure(estimate: Estimate) -> Iterator[RenderableType]:
    """Yield the report's last chapter: each number with a band and what drives it, and what to measure to be surer."""
    numbers, lost = headlines(estimate), missing_bands(estimate)
    if not numbers and not lost:
        return
    table = Table.grid(padding=(0, 2), expand=True)
    for ratio, style in ((30, ""), (32, "bold"), (36, "dim")):
        table.add_column(ratio=ratio, overflow="fold", style=style)
    measures: dict[str, list[str]] = {}
    for one in numbers:
        number, between = one.texts
        table.add_row(Text(one.words), Text(f"{number}  ({between})"), Text(why(one.band)))
        if one.band.measure and one.band.left < WORTH:
            measures.setdefault(one.band.measure, []).append(f"{one.words} to {100 * one.band.left:.0f} %")
    for words, reason in lost:
        table.add_row(Text(words), Text("band not known"), Text(reason))
    yield Rule("How sure: nine times out of ten", align="left", characters="-", style="none")
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
