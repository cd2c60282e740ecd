"""Lines of the report, made from a section's fields and their metadata."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from fem.estimation.result import Estimate
from fem.quantity import SUFFIX, Band, Show, Unknown
from fem.report.text.numbers import percent, shown
from fem.report.text.sure import why, with_band


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line of the report: what it is, its value, and what there is to say about it."""

    label: str
    value: str
    note: str = ""


def lines_of(estimate: Estimate, section: str, values: Any, names: Iterable[str] | None = None) -> list[Line]:
    """Return a section's numbers as lines, named by their metadata; what is not known comes with its reason."""
    chosen = {field.name: field for field in fields(values)}
    lines = []
    for name in chosen if names is None else names:
        unit, label, show = (chosen[name].metadata[what] for what in ("unit", "label", "show"))
        value = getattr(values, name)
        key = f"{section}.{name}{SUFFIX[unit]}"
        if isinstance(value, Unknown):
            lines.append(missing(value, label))
            continue
        if is_dataclass(value):
            inner = lines_of(estimate, f"{section}.{name}", value)
            lines += [replace(line, label=f"{label}, {line.label}") for line in inner]
            continue
        if isinstance(value, str):
            lines.append(Line(label=label, value="", note=value))
            continue
        if isinstance(value, tuple):
            lines.append(Line(label=label, value="", note=", ".join(shown(v, unit) for v in value)))
            continue
        lines.append(line_of(estimate, key, label, value, unit, show=show))
    return lines


def line_of(
    estimate: Estimate,
    key: str,
    label: str,
    value: Any,
    unit: str,
    *,
    show: Show = Show.VALUE,
    before: str = "",
    after: str = "",
) -> Line:
    """Return the line of one result by its key, its band between what else there is to say; or why it is not there."""
    if isinstance(value, Unknown):
        return missing(value, label)
    note = "; ".join(filter(None, (before, band_of(estimate, key, value, unit, show), after)))
    return Line(label=label, value=number(estimate, key, value, unit, show), note=note)


def untold(values: Any, *told: str) -> list[str]:
    """Return the names of a section's results but those told otherwise: what is declared anew needs no word here."""
    return [field.name for field in fields(values) if field.name not in told]


def missing(what: Unknown, label: str) -> Line:
    """Return the line of a result that is not there: what it was, and the reason."""
    return Line(label=label, value="not known" if what.gap else "none", note=what.reason)


def number(estimate: Estimate, key: str, value: float, unit: str, show: Show = Show.VALUE) -> str:
    """Write a result in digits that follow its band, in three where it has none."""
    band = estimate.bands.get(key)
    if isinstance(band, Band):
        return with_band(value, band, unit, show)[0]
    return percent(value) if show is Show.SHARE else shown(value, unit)


def band_of(estimate: Estimate, key: str, value: float, unit: str, show: Show = Show.VALUE) -> str:
    """Say between which values a result may well lie and why; nothing where none is known, unless it should be."""
    band = estimate.bands.get(key)
    if isinstance(band, Unknown):
        return f"band not known: {band.reason}"
    if band is None:
        return ""
    return ": ".join(filter(None, (with_band(value, band, unit, show)[1], why(band))))
