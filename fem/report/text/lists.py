"""What the tool knows by name, what it assumes, and its own results, as tables."""

from __future__ import annotations

from math import isfinite, isnan

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.assumptions import Assumption, assumptions
from fem.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from fem.digits import brief, digits
from fem.materials.metals import metal, metal_names
from fem.materials.steel import steel, steel_names
from fem.materials.work_metals import surface_names, work_metal, work_metal_names
from fem.quantity import declared
from geometries.cores.laminations import standard_laminations
from geometries.windings.conductors import Conductor
from geometries.windings.wire import flexible_resistances

WIRES = ("0.5", "0.6", "0.8", "1", "1.2", "1.4", "1.6", "1.8", "2", "2.5", "3")
"""Bare diameters shown for winding wire [mm]: any other may be given."""
GAUGES = (
    *(("round", gauge) for gauge in ("20", "18", "16", "14", "12", "10", "8")),
    *(("cable", gauge) for gauge in ("6", "4", "2", "1/0", "2/0", "4/0")),
)
"""Gauges shown, as solid wire and as cable: any other may be given."""

SCALES = {"1": (1.0, ""), "m": (1e3, " mm"), "A/m2": (1e-6, " A/mm2")}
"""Units [SI] that are read more easily in others, and by what factor."""


def steels() -> RenderableType:
    """List the sheet grades, and below them where their magnetisation curves come from."""
    table = _table("steel", "sheet [mm]", "loss at most, 1.5 T 50 Hz [W/kg]", "saturates at [T]", "curve from")
    sources: list[str] = []
    for name in steel_names():
        grade = steel(name)
        limit = grade.curve.saturation_polarisation
        if grade.curve.source not in sources:
            sources.append(grade.curve.source)
        _row(
            table,
            name,
            digits(grade.thickness * 1e3),
            digits(float(grade.loss.specific(1.5, 50.0))),
            "unknown" if limit is None else digits(limit),
            f"({sources.index(grade.curve.source) + 1})",
        )
    return Group(table, Text(), *(Text(f"({number}) {source}") for number, source in enumerate(sources, start=1)))


def conductors() -> Table:
    """List common conductors with the outside size that is assumed where none is given."""
    table = _table("conductor", "area [mm2]", "bare [mm]", "outside, typical [mm]", "at 20 degC [mohm/m]")
    given = [("round", f"{size} mm") for size in WIRES]
    given += [("cable", f"{area:g} mm2") for area in flexible_resistances() if area >= 1]
    given += [(kind, f"{gauge} AWG") for kind, gauge in GAUGES]
    resistivity = metal("copper").resistivity_20
    for kind, size in given:
        conductor = Conductor.model_validate({kind: size})
        _row(
            table,
            f'{kind} = "{size}"',
            digits(conductor.area * 1e6),
            digits(conductor.bare_width * 1e3),
            digits(conductor.insulated_width * 1e3),
            digits(resistivity / conductor.conducting_area * 1e3),
        )
    return table


def laminations() -> Table:
    """List the standard E-I sizes."""
    table = _table("lamination", "leg [mm]", "outer legs, yokes [mm]", "window [mm]", "how sure", "note")
    for size in standard_laminations():
        outer = digits(size.outer_leg_width * 1e3)
        if size.yoke_height != size.outer_leg_width:
            outer += f", {digits(size.yoke_height * 1e3)}"
        window = f"{digits(size.window_width * 1e3)} x {digits(size.window_height * 1e3)}"
        _row(table, size.name, digits(size.leg_width * 1e3), outer, window, size.status, size.note)
    return table


def metals() -> Table:
    """List the conductor metals."""
    table = _table("metal", "at 20 degC [ohm mm2/m]", "rise [%/K]", "density [kg/dm3]", "source")
    for name in metal_names():
        found = metal(name)
        _row(
            table,
            name,
            digits(found.resistivity_20 * 1e6, 5),
            digits(found.temperature_coefficient * 100),
            digits(found.density / 1e3),
            found.source,
        )
    return table


def work_pieces() -> RenderableType:
    """List the metals and carbons of work pieces: how far each is known, and below where its own figures come from."""
    table = _table(
        "work piece", "at 20 degC [ohm mm2/m]", "density [kg/dm3]", "melts [degC]", "known to [degC]", "surfaces"
    )
    sources = []
    for name in work_metal_names():
        found = work_metal(name)
        ends = [f"{limit - ZERO_CELSIUS:.0f}" for limit in dict.fromkeys((found.solidus, found.liquidus))]
        _row(
            table,
            name,
            digits(float(found.resistivity_at(REFERENCE_TEMPERATURE)) * 1e6),
            digits(found.density / 1e3),
            " to ".join(ends) if isfinite(found.solidus) else "never",
            f"{round(float(found.temperature[-1]) - ZERO_CELSIUS, -1):.0f}",
            ", ".join(surface_names(name)),
        )
        sources.append(Text(f"{name}: {found.source}"))
    return Group(table, Text(), *sources)


def results() -> Table:
    """List every result: its key in the JSON and in a sweep's rows, unit and label; `*` stands for names of places."""
    from fem.estimation.stations.in_order import STATIONS

    table = _table("result", "unit", "what it is")
    for station in STATIONS:
        for one in declared(station.result):
            _row(table, f"{station.key}.{one.key}", one.unit, one.label)
    return table


def assumed_figures() -> RenderableType:
    """List the figures that stand in for what nobody measured, and below what is known of them."""
    table = _table("assumption", "figure", "enters", "how sure")
    for row in assumptions().values():
        _row(table, row.name, figure(row), row.enters, row.status)
    sources = (f"{row.name}: {row.source}" for row in assumptions().values() if row.source)
    return Group(table, Text(), *map(Text, sources))


def figure(row: Assumption) -> str:
    """Return the typical figure of a row and its band with their unit, as "0.1 mm (0.05 to 0.15 mm)"."""
    largest = row.typical if isnan(row.high) else row.high
    factor, unit = SCALES.get(row.unit, (1.0, f" {row.unit}"))
    offset = 0.0
    if row.unit == "K" and row.drawn != "shift":
        offset, unit = -ZERO_CELSIUS, " degC"
    elif row.unit.startswith("ohm") and largest < 0.1:
        factor, unit = (1e3, f" m{row.unit}") if largest >= 1e-3 else (1e6, f" u{row.unit}")
    typical, low, high = (brief(factor * value + offset, 4) for value in (row.typical, row.low, row.high))
    if isnan(row.low):
        return f"{typical}{unit}"
    return f"{low} to {high}{unit}" if isnan(row.typical) else f"{typical}{unit} ({low} to {high}{unit})"


def _table(*headings: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="bold")
    for index, heading in enumerate(headings):
        words = heading in {"source", "note", "surfaces", "unit", "what it is", "enters", "how sure"}
        table.add_column(Text(heading), justify="left" if index == 0 or words else "right", no_wrap=index == 0)
    return table


def _row(table: Table, *cells: str) -> None:
    table.add_row(*(Text(cell) for cell in cells))
