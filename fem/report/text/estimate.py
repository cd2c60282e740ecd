"""The estimate as a person at the bench reads it: what decides first, the rest by section, readable without colour."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.text import bench, machine
from fem.report.text.cautions import listed
from fem.report.text.checks import checks
from fem.report.text.cut_list import cut_list
from fem.report.text.heat import heating
from fem.report.text.lines import Line, lines_of, missing
from fem.report.text.milliohms import milliohms
from fem.report.text.sure import how_sure
from fem.report.text.taken import taken
from fem.report.text.verdict import verdict_screen
from fem.report.verdict.answer import described
from fem.report.verdict.whole import verdict

WIDTH = 100
"""Columns the report is laid out for; a narrower terminal gets its own width."""

Chapter = tuple[str, list[Line]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A chapter of lines.

    Parameters
    ----------
    key
        Of the results it is about.
    heading
        Above it.
    lines
        From an estimate that has these results.
    always
        Whether it is told that they are not there, too.
    """

    key: str
    heading: str
    lines: Callable[[Estimate], list[Line]]
    always: bool = False


def _all(key: str) -> Callable[[Estimate], list[Line]]:
    return lambda estimate: lines_of(estimate, key, getattr(estimate, key))


SECTIONS = {
    "flux": Section(key="saturation", heading="Flux in the core at no-load", lines=machine.flux),
    "no-load": Section(key="idle", heading="No-load current", lines=machine.no_load),
    "knee": Section(key="saturation", heading="Knee of the core, and what cures saturation", lines=machine.knee),
    "leakage": Section(key="leakage", heading="Leakage", lines=machine.leakage),
    "volts": Section(key="open_circuit", heading="Secondary at no-load", lines=_all("open_circuit")),
    "joints": Section(key="joints", heading="Joints between winding and work", lines=machine.joints),
    "joined": Section(key="short_circuit", heading="Lead ends joined, full mains voltage", lines=machine.joined),
    "test": Section(
        key="short_circuit",
        heading="Lead ends joined, reduced voltage: a test before the first burst",
        lines=machine.reduced_voltage,
    ),
    "windings": Section(key="build", heading="Windings in the window", lines=machine.windings),
    "load": Section(key="load", heading="With the load", lines=machine.load, always=True),
    "work": Section(key="work_piece", heading="The work piece in a burst", lines=bench.work_piece),
    "power": Section(key="load_line", heading="At the lead ends: most power", lines=bench.load_line),
    "heat": Section(key="heating", heading="Heat in the machine", lines=heating),
    "supply": Section(key="supply", heading="Supply and breaker", lines=bench.supply),
    "meters": Section(key="meters", heading="What the meters will show", lines=bench.meters),
    "cut": Section(key="cut_list", heading="What to cut", lines=cut_list),
    "switch-on": Section(key="switch_on", heading="Switching on at no-load", lines=machine.switching_on),
    "half-wave": Section(
        key="half_wave_supply",
        heading="No-load, with one half wave of the supply missing (a failed relay)",
        lines=_all("half_wave_supply"),
    ),
}
"""What may be asked for by its name, in reading order; `OTHERS` follow."""
OTHERS = ("milliohms", "taken", "bands", "cautions", "checks")
NAMES = (*SECTIONS, *OTHERS)


def report(estimate: Estimate) -> RenderableType:
    """Return the whole report for a console: the verdict, chapters of lines, bands, cautions, checks."""
    return Group(verdict_screen(verdict(estimate), alone=False), Text(), *sections(estimate))


def sections(estimate: Estimate, names: Iterable[str] = ()) -> Iterator[RenderableType]:
    """Yield sections in the order of `NAMES`: those that are named, and why one of them is not there, else all."""
    asked = set(names)
    for name in NAMES:
        if asked and name not in asked:
            continue
        if name in SECTIONS:
            yield from _laid_out(_chapter(estimate, SECTIONS[name], asked=bool(asked)))
        elif name == "milliohms":
            if asked or described(estimate.milliohms):
                yield from milliohms(estimate)
        elif name == "taken":
            if (lines := taken(estimate)) or asked:
                yield from _laid_out([("What was taken, and what is not told", lines)])
        elif name == "bands":
            yield from how_sure(estimate)
        elif name == "cautions":
            yield from listed(estimate.cautions)
        else:
            yield from _laid_out([("Checks of the computation", checks(estimate))])
            stamp = estimate.provenance
            yield Text(f"rewound {stamp.version}; job {stamp.job_digest[:8]}", style="dim")


def chapters(estimate: Estimate) -> list[Chapter]:
    """Return the report's chapters of lines, in reading order."""
    return [one for section in SECTIONS.values() for one in _chapter(estimate, section)]


def _chapter(estimate: Estimate, section: Section, *, asked: bool = False) -> list[Chapter]:
    found = getattr(estimate, section.key)
    if not isinstance(found, Unknown):
        return [(section.heading, section.lines(estimate))]
    if asked or section.always or found.gap:
        return [(section.heading, [missing(found, section.key.replace("_", " "))])]
    return []


def _laid_out(told: Iterable[Chapter]) -> Iterator[RenderableType]:
    for heading, lines in told:
        table = Table.grid(padding=(0, 2), expand=True)
        table.add_column(ratio=47, overflow="fold")
        table.add_column(ratio=15, justify="right", no_wrap=True, overflow="fold", min_width=12)
        table.add_column(ratio=36, overflow="fold", style="dim")
        for line in lines:
            table.add_row(Text(line.label), Text(line.value, style="bold"), Text(line.note))
        yield Rule(heading, align="left", characters="-", style="none")
        yield Padding(table, (0, 0, 1, 0))
