"""The job as the readings leave it: what a job file can say of it, with tolerances from what is left in doubt."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from math import sqrt
from typing import Any

import numpy as np
from pydantic import ValidationError

from fem.design.sheet import sheet_of
from fem.design.told import takes_tolerance
from fem.estimation.inputs.supply import supply_of
from fem.fitting.found import Fit
from fem.fitting.steel import steel_table
from fem.fitting.unknowns import PRIMARY, SECONDARY
from fem.trust.steel_curve import EXPONENT, LOSS_TOLD_AT
from geometries.described.quantities import format_quantity
from geometries.windings.arrangement import place
from geometries.windings.fit import fit

HEAD = """\
# What readings made of a job file, written by rewound fit: what they decide stands here with what is left in doubt.
"""

_HEADING = re.compile(r"\s*\[([\w.]+)\]")
_KEY = re.compile(r"\s*(\w+)\s*=")
_COMMENT = re.compile(r'#[^"#]*$')


STEEL_FILE = "fitted_steel.csv"


def changes(found: Fit, steel: str = STEEL_FILE) -> dict[str, Any]:
    """Return keys of the job and what the readings put there, as a job file has it; `steel` is the curve's file."""
    known = {finding.key: finding for finding in found.findings}
    told: dict[str, Any] = {count.key: count.best for count in found.counts}
    told = {key: turns for key, turns in told.items() if turns != _turns(found, key)}
    told |= _rooms(found, told)
    for key in known:
        if key in takes_tolerance() and key not in (PRIMARY, SECONDARY):
            told[key] = _text(known[key].value, known[key].spread, known[key].unit)
    for name in ("primary", "secondary"):
        if (finding := known.get(f"{name}.resistance")) is not None:
            table = f"windings.{name}"
            told[f"{table}.resistance"] = _text(finding.value, finding.spread, "ohm")
            told[f"{table}.resistance_temperature"] = format_quantity(found.design.temperature, "degC")
    if any(key.startswith("joints.") for key in known) and found.design.leads is not None:
        told["leads.joint_resistance"] = _text(*found.joints, "ohm")
        told["leads.joints"] = "none"
    if steel_table(found.steel) is not None:
        told["core.bh_table"] = steel
        if (J_s := sheet_of(found.design.core).curve.saturation_polarisation) is not None:
            told["core.saturation_polarisation"] = format_quantity(J_s, "T")
    if any(key.startswith("loss.") for key in known):
        told["core.specific_loss"] = _text(*_loss(found), "W/kg")
    if (finding := known.get("mains.source_impedance")) is not None:
        told["mains.source_resistance"] = _text(finding.value, finding.spread, "ohm")
        henries = supply_of(found.design.mains).inductance * finding.value / finding.before
        told["mains.source_inductance"] = format_quantity(float(henries), "H")
    return told


def beyond(found: Fit) -> tuple[str, ...]:
    """Return what readings decide and a job file has no key for, in words."""
    told = changes(found)
    names: tuple[str, ...] = ("joints.", "mains.", "loss.", "primary.", "secondary.", PRIMARY, SECONDARY)
    names += ("steel.",) if "core.bh_table" in told else ()
    return tuple(f.words for f in found.findings if f.key not in told and not f.key.startswith(names))


def _loss(found: Fit) -> tuple[float, float]:
    """Return the loss that a job tells, median and standard deviation [W/kg]: at the idle flux density it holds.

    A job knows no exponent but its grade's, so what an exponent makes of it from there to 1.5 T is in the figure.
    """
    core, draws = found.design.core, found.draws
    factor = draws["loss.measured"] if core.specific_loss else draws["loss.building"] * draws["loss.grade"]
    if EXPONENT in draws:
        idle = next(e.value for e in found.effects if e.key == "saturation.peak_flux_density_T")
        factor = factor * (idle / LOSS_TOLD_AT) ** draws[EXPONENT]
    watts = sheet_of(core).loss.guaranteed * factor
    return float(np.median(watts)), float(np.std(watts))


def corrected(text: str, data: Mapping[str, Any], found: Fit, steel: str = STEEL_FILE) -> str:
    """Return a job file changed as readings say.

    Parameters
    ----------
    text, data
        As it was written, and its tables as `read_tables` has them; comments stay where the text can be changed line by
        line.
    steel
        File beside it of the steel's curve (`steel_table`), if readings tell of one.
    """
    wanted, tables = changes(found, steel), deepcopy(dict(data))
    if "mains.source_resistance" in wanted:
        wanted |= dict.fromkeys(key for key in ("mains.dip_voltage", "mains.dip_current") if key[6:] in data["mains"])
    if isinstance(data["core"], dict) and "bh_table" in data["core"] and "core.bh_table" not in wanted:
        wanted["core.bh_table"] = data["core"]["bh_table"]
    for key, value in wanted.items():
        *parents, last = key.split(".")
        here = tables
        for name in parents:
            here = here.setdefault(name, {})
        here[last] = value
        if value is None:
            del here[last]
    edited = HEAD + _edited(text, wanted)
    try:
        if tomllib.loads(edited) == tables:
            return edited
    except tomllib.TOMLDecodeError:
        pass
    return HEAD + "\n".join(_lines(tables, "")) + "\n"


def _edited(text: str, wanted: Mapping[str, Any]) -> str:
    """Return a text whose lines say what is wanted, new keys below their table's heading."""
    table, named = "", []
    for line in text.splitlines():
        table = heading[1] if (heading := _HEADING.match(line)) else table
        key = _KEY.match(line)
        named.append(f"{table}.{key[1]}" if key else f"[{table}]" if heading else "")
    lines: list[str] = []
    for line, name in zip(text.splitlines(), named, strict=True):
        if name in wanted:
            lines += [] if wanted[name] is None else [_line(name, wanted, _COMMENT.search(line))]
            continue
        lines.append(line)
        new = [key for key in wanted if name == f"[{key.rpartition('.')[0]}]" and key not in named]
        lines += [_line(key, wanted, None) for key in new]
    return "\n".join(lines) + "\n"


def _line(key: str, wanted: Mapping[str, Any], comment: re.Match[str] | None) -> str:
    said = f"{key.rpartition('.')[2]} = {_toml(wanted[key])}"
    return f"{said:35} {comment[0] if comment else '# by readings'}"


def _turns(found: Fit, key: str) -> int:
    return int(getattr(found.design.windings, key.split(".")[1]).turns)


def _rooms(found: Fit, told: Mapping[str, Any]) -> dict[str, Any]:
    """Return the sizes of a winding of other turns as they were when the fit was made, if these still go in."""
    if PRIMARY not in told:
        return {}
    design = found.design
    blocks = [block for block in place(design.core, design.windings) if block.name == "primary"]
    if len(blocks) != 1 or blocks[0].places:
        return {}
    sizes = {f"windings.primary.{key}": float(f"{getattr(blocks[0], key):.6g}") for key in ("height", "build")}
    try:
        other = design.varied({**sizes, **told})
        if not fit(other.core, other.windings, place(other.core, other.windings), shunt=other.fitted_shunt).fits:
            return {}
    except (ValidationError, ValueError):
        return {}
    return {key: format_quantity(size, "m", 6) for key, size in sizes.items()}


def _text(value: float, spread: float, unit: str) -> str:
    """Write a value with a tolerance: of even limits, the half width is sqrt(3) standard deviations (JCGM 100)."""
    within = min(sqrt(3) * spread, 0.99 * abs(value))
    if unit == "K":
        return f"{format_quantity(value, 'degC')} +-{within:.2g} K"
    if unit == "-":
        return f"{value:.4g} +-{within:.2g}"
    if unit == "W/kg":
        return f"{value:.4g} W/kg +-{within:.2g} W/kg"
    if unit == "m":
        return f"{1e3 * value:.4g} mm +-{1e3 * within:.2g} mm"
    return f"{format_quantity(value, unit)} +-{format_quantity(within, unit, 2)}"


def _lines(table: Mapping[str, Any], name: str) -> Iterator[str]:
    """Write tables as TOML: numbers and texts first, then the tables within."""
    if name and (not table or any(not isinstance(value, dict) for value in table.values())):
        yield f"\n[{name}]"
    yield from (f"{key} = {_toml(value)}" for key, value in table.items() if not isinstance(value, dict))
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _lines(value, f"{name}.{key}" if name else key)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_toml(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)
