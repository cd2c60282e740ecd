"""The sheet as one HTML document that needs nothing else: no script, no other file, no network."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from fem.design.mains import Mains
from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.sheet.drawing import window_svg
from fem.report.sheet.entries import PIECE_COLUMNS, doubtful, insulation, limits, lugs, pieces, taken
from fem.report.sheet.readings import stages
from fem.report.text.cautions import HEADINGS
from fem.report.text.milliohms import HEADS, cells
from fem.report.text.numbers import shown
from fem.report.text.printable import printable
from fem.report.text.verdict import cut
from fem.report.verdict.answer import INTO
from fem.report.verdict.largest import milliohm_state, rows
from fem.report.verdict.whole import verdict
from geometries.described.quantities import format_quantity

LONGEST_TITLE = 100
MOST_IN_SHORT, SHORT = 30, 82
"""Further cautions that are told, and letters of a line of them."""
MOST_LOST = 6
"""Results that could not be computed whose reason is told."""


def bench_sheet(estimate: Estimate) -> str:
    """Return the sheet of an estimate as HTML: the same bytes of the same results.

    Parameters
    ----------
    estimate
        Without pictures it has no drawing of the window.
    """
    told, (name, state) = verdict(estimate), milliohm_state(estimate)
    title, stamp = printable(estimate.title), estimate.provenance
    further = [caution for caution in estimate.cautions if caution not in told.cautions]
    content: dict[str, Any] = {
        "title": title if len(title) <= LONGEST_TITLE else f"{title[:LONGEST_TITLE]} ...",
        "mains": "" if estimate.design is None else _mains(estimate.design.mains, estimate.supply.devices),
        "answers": told.answers,
        "changes": [one for one in zip(("in doubt by", "milliohms"), told.changes, strict=True) if one[1]],
        "foremost": [(HEADINGS[one.danger], one.about, one.told) for one in told.cautions],
        "further": [(one.about, cut(one.text, SHORT - len(one.about))) for one in further[:MOST_IN_SHORT]],
        "left": len(further[MOST_IN_SHORT:]),
        "drawing": None if estimate.pictures is None else window_svg(estimate),
        "piece_columns": PIECE_COLUMNS,
        "pieces": pieces(estimate),
        "lugs": lugs(estimate),
        "insulation": insulation(estimate),
        "limits": limits(estimate),
        "stages": stages(estimate),
        "milliohm_heads": HEADS,
        "milliohms": [] if state is None else [cells(row) for row in rows(state, most=len(state.parts))],
        "milliohms_of": "" if state is None else f"{INTO[name]}, {shown(state.current_rms, 'A')}",
        "taken": taken(estimate),
        "left_out": estimate.left_out,
        "lost": [(key, estimate.reasons[key]) for key in estimate.gaps[:MOST_LOST]],
        "doubtful": doubtful(estimate),
        "stamp": f"rewound {stamp.version}; job {stamp.job_digest[:16]}",
    }
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, finalize=_legible, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_file("page.html")).render(content, style=Markup(_file("page.css")))


def _mains(mains: Mains, devices: Iterable[str]) -> str:
    return ", ".join((format_quantity(mains.voltage, "V"), format_quantity(mains.frequency, "Hz"), *devices))


def _legible(value: Any) -> Any:
    """Return what a template writes, without what would not be shown; it is escaped after that."""
    if isinstance(value, Unknown):
        value = value.reason
    return value if isinstance(value, Markup) else printable(str(value))


def _file(name: str) -> str:
    return files("fem.report.sheet").joinpath(name).read_text("utf-8")
