"""The sheet as one HTML document that needs nothing else: no script, no other file, no network."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from fem.design.transformer import Design
from fem.estimation.result import Estimate
from fem.report.sheet.drawing import window_svg
from fem.report.sheet.readings import readings
from fem.report.sheet.tables import answers, doubts, fittings, limits, pieces, taken
from fem.report.text.cautions import HEADINGS
from fem.report.text.milliohms import cells
from fem.report.text.numbers import shown
from fem.report.text.printable import printable
from fem.report.verdict.answer import INTO
from fem.report.verdict.largest import milliohm_state, rows
from fem.report.verdict.whole import verdict
from geometries.described.quantities import format_quantity

LONGEST_TITLE, MOST_IN_SHORT = 100, 30
"""Letters of a title, and further cautions that are told."""
ALWAYS = (
    "computed estimates, which make nothing safe or legal. Mains kills. Local electrical code and licensed practice "
    "decide whether and how this may be built and connected."
)


def bench_sheet(estimate: Estimate) -> str:
    """Return the sheet of an estimate as HTML: of the same results the same bytes; without pictures no drawing."""
    told, (name, state) = verdict(estimate), milliohm_state(estimate)
    title, stamp, devices = printable(estimate.title), estimate.provenance, estimate.supply.devices
    further = [caution for caution in estimate.cautions if caution not in told.cautions]
    in_short = [(one.about, one.short) for one in further[:MOST_IN_SHORT]]
    content: dict[str, Any] = {
        "title": title if len(title) <= LONGEST_TITLE else f"{title[:LONGEST_TITLE]} ...",
        "mains": [*_mains(estimate.design), *devices],
        "foremost": [
            *((one.about, f"({HEADINGS[one.danger]}): {one.told}") for one in told.cautions),
            ("always", ALWAYS),
        ],
        "verdict": [*answers(told)],
        "drawing": estimate.pictures and window_svg(estimate),
        "limits": [*limits(estimate)],
        "pieces": [*pieces(estimate)],
        "fittings": fittings(estimate),
        "readings": [*readings(estimate)],
        "milliohms": [] if state is None else [cells(row) for row in rows(state, most=len(state.parts))],
        "milliohms_of": "" if state is None else f"{INTO[name]}, {shown(state.current_rms, 'A')}",
        "doubts": [*doubts(estimate)],
        "taken": [*taken(estimate)],
        "further": in_short + ([("and", f"{len(further) - MOST_IN_SHORT} more")] if further[MOST_IN_SHORT:] else []),
        "stamp": f"rewound {stamp.version}; job {stamp.job_digest[:16]}",
    }
    page = Environment(
        autoescape=True, undefined=StrictUndefined, finalize=_legible, trim_blocks=True, lstrip_blocks=True
    )
    return page.from_string(_file("page.html")).render(content, style=Markup(_file("page.css")))


def _mains(design: Design | None) -> list[str]:
    mains = design and design.mains
    return [format_quantity(mains.voltage, "V"), format_quantity(mains.frequency, "Hz")] if mains else []


def _legible(value: Any) -> Any:
    """Return what a template writes, without what would not be shown; it is escaped after that."""
    return value if isinstance(value, Markup) else printable(str(value))


def _file(name: str) -> str:
    return files("fem.report.sheet").joinpath(name).read_text("utf-8")
