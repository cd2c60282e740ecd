"""An estimate at a glance: one line at a prompt, a table in a notebook."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import TYPE_CHECKING

from fem.digits import brief
from fem.quantity import Band, Unknown

if TYPE_CHECKING:
    from fem.estimation.result import Estimate

GLANCE = {
    "saturation.peak_flux_density_T": "flux density",
    "idle.current_rms_A": "no-load current",
    "open_circuit.secondary_voltage_rms_V": "no-load volts",
    "short_circuit.secondary_current_rms_A": "lead ends joined",
}
"""The handful that tells one design from another, and what it is called."""


def line(estimate: Estimate) -> str:
    """Return an estimate in one line: title, and a handful of numbers with units and bands."""
    told = ", ".join(f"{words} {value}{f' ({band})' if band else ''}" for words, value, band in _told(estimate))
    return f"<Estimate {' '.join(estimate.title.split())!r}: {told}>"


def table(estimate: Estimate) -> str:
    """Return the same as an HTML table; what the user typed is escaped."""
    rows = "".join(
        f"<tr><td>{escape(words)}</td><td>{escape(value)}</td><td>{escape(band)}</td></tr>"
        for words, value, band in _told(estimate)
    )
    head = "<tr><th>result</th><th>value</th><th>band</th></tr>"
    return f"<table><caption>{escape(estimate.title)}</caption>{head}{rows}</table>"


def _told(estimate: Estimate) -> Iterator[tuple[str, str, str]]:
    for key, words in GLANCE.items():
        one = estimate.explain(key)
        if one.value is None:
            yield words, f"unknown: {one.reason}", ""
            continue
        band = one.band
        ends = f"{brief(band.low)} to {brief(band.high)} {one.unit}" if isinstance(band, Band) else ""
        why = f"no band: {band.reason}" if isinstance(band, Unknown) and band.gap else ""
        yield words, f"{brief(one.value)} {one.unit}", ends or why
