"""Lines of the report, made from a section's fields and their metadata."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

from fem.estimation.stations.results import Estimate
from fem.quantity import SUFFIX
from fem.report.text.numbers import percent, shown


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
        unit = chosen[name].metadata["unit"]
        value = getattr(values, name)
        key = f"{section}.{name}{SUFFIX[unit]}"
        label = chosen[name].metadata["meaning"]
        if value is None:
            lines.append(missing(estimate, key, label))
            continue
        if isinstance(value, tuple):
            lines.append(Line(label=label, value="", note=", ".join(shown(v, unit) for v in value)))
            continue
        text = percent(value) if name in _SHARES else shown(value, unit)
        lines.append(Line(label=label, value=text, note=band_of(estimate, key, unit)))
    return lines


def missing(estimate: Estimate, key: str, label: str) -> Line:
    """Return the line of a result that is not there: what it was, and the reason."""
    value = "not known" if key in estimate.gaps else "none"
    return Line(label=label, value=value, note=estimate.reasons.get(key, "no reason given"))


_SHARES = {
    "margin",
    "share_of_rated",
    "joint_share",
    "efficiency",
    "coupling",
    "phasor_difference",
    "energy_stored_share",
}


def band_of(estimate: Estimate, key: str, unit: str) -> str:
    """Say between which values a result may well lie and why; nothing where none is known, unless it should be."""
    if f"bands.{key}" in estimate.gaps:
        return f"band not known: {estimate.reasons[f'bands.{key}']}"
    band = estimate.bands.get(key)
    return "" if band is None else f"{shown(band.low, unit)} to {shown(band.high, unit)}: {band.why}"
