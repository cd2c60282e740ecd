"""The card of a core, for the screen and as JSON."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.digits import digits
from fem.estimation.card import Card
from fem.quantity import plain
from fem.report.files.json import json_text
from fem.report.text.lengths import lengths_table
from fem.report.text.numbers import percent, shown
from fem.report.text.printable import printable
from fem.report.text.sweep import SHORT_CAUTION
from fem.trust.general import always


def card_table(found: Card) -> RenderableType:
    """Show the card: a row for each flux density, and below it what one needs to go on with pencil and paper."""
    table = Table(box=None, padding=(0, 3, 0, 0), pad_edge=False)
    for heading in (
        "peak flux density\nprimary's leg [T]",
        "volts per turn\nr.m.s. [V]",
        "ampere-turns\npeak [A]",
        "ampere-turns\nr.m.s. [A]",
        "core loss\n[W]",
    ):
        table.add_column(Text(heading), justify="right")
    for row in found.rows:
        numbers = (row.volts_per_turn, row.ampere_turns_peak, row.ampere_turns_rms, row.core_loss)
        table.add_row(f"{row.flux_density:.2f}", *(digits(value) for value in numbers))
    volts = found.knee_volts_per_turn
    knee = found.knee_reason if volts is None else f"{shown(volts, 'V')} per turn"
    lines = (
        f"At {found.frequency:g} Hz; flux at given ampere-turns to +-{percent(found.flux_band)} (steel, stacking, "
        "dimensions).",
        f"Core loss by the sheet's guaranteed figures; built cores {percent(found.core_loss_low)} to "
        f"{percent(found.core_loss_high)} of it.",
        f"Knee (IEC 61869-2): {knee}",
        f"Leakage: {shown(found.leakage_per_turn_squared, 'H')} per turn squared, +-{percent(found.leakage_band)}",
        f"Coupling of the secondary at 1.5 T: {percent(found.coupling)}",
        f"Window: {shown(found.window_area, 'm2')}; copper by hand {shown(found.copper_area_easy, 'm2')} easily, "
        f"at most {shown(found.copper_area_most, 'm2')}",
        f"Primary block {shown(found.primary_area, 'm2')}, mean turn {shown(found.primary_mean_turn, 'm')}; secondary "
        f"block {shown(found.secondary_area, 'm2')}, mean turn {shown(found.secondary_mean_turn, 'm')}",
        *found.notes,
        "",
        "On paper: primary turns = mains volts / volts per turn; no-load current = ampere-turns / turns; no-load volts "
        "= secondary turns x volts per turn x coupling;",
        "reactance at the secondary = 2 pi f x (turns squared x leakage + lead inductance); short circuit = no-load "
        "volts / root(resistance squared + reactance squared), the primary's and the supply's resistance carried over "
        "by the turns ratio squared.",
        "",
        SHORT_CAUTION,
    )
    above: list[RenderableType] = [table, Text()]
    above += [_lengths(found), Text()] if found.lengths else []
    return Group(Text(printable(found.title), style="bold"), Text(), *above, *(Text(line) for line in lines))


def _lengths(found: Card) -> Table:
    headings = ("flux per turn\nat 1.5 T's ampere-turns", "leakage")
    rows = [(row.key, row.length, row.more, (row.flux_change, row.leakage_change)) for row in found.lengths]
    return lengths_table(headings, rows, untold="parts edges")


def card_json(found: Card) -> str:
    """Return the card as a JSON text that ends in a newline; numbers are SI, with the unit in the key."""
    cautions = [plain(caution) for caution in always()]
    return json_text({**plain(found), "cautions": cautions})
