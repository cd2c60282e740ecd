"""The example's job file shows every key of the schema in its section, and what it shows as a comment can be told."""

import re
import tomllib
from collections.abc import Iterator

import pytest

from fem.design.job import JOB_FILE
from fem.design.transformer import Design
from fem.examples import example
from geometries.described.faults import Description, described

LINES = example().read_text("utf-8").splitlines()
HEADING = re.compile(r"(# )?\[([a-z_.]+)\]")
KEY = re.compile(r"(# )?([a-z_]+) = ")


def sections() -> dict[str, list[str]]:
    """Return the lines of each section, commented out or not; what stands above all is ""."""
    found: dict[str, list[str]] = {"": []}
    here = ""
    for line in LINES:
        if heading := HEADING.match(line):
            here = heading[2]
        found.setdefault(here, []).append(line)
    return found


SECTIONS = sections()
PLACES = {
    "Design": [""],
    "Winding": ["windings.primary", "windings.secondary"],
    "Conductor": ["windings.primary", "windings.secondary"],
    "ExtraTurns": ["windings.primary.extra"],
    "SecondCore": ["core"],
    "ShellCore": ["core"],
    "TwoLegCore": ["core"],
    "Joints": ["leads"],
    "WorkSection": ["work_piece"],
    "WorkPieceDescription": ["work_piece"],
    "WorkJoint": ["work_piece.joint"],
    "SecondPath": ["work_piece.second_path"],
    "Ring": ["work_piece.ring"],
    "Carbons": ["work_piece.carbons"],
    "Jaws": ["work_piece.jaws"],
    "Stocked": ["shop"],
}
"""Where the keys of a table stand; the others are called as their section."""
MODELS = sorted(set(described(Design)), key=lambda model: model.__name__)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_key_of_the_schema_stands_in_its_section(model: type[Description]) -> None:
    places = PLACES.get(model.__name__, [model.__name__.lower()])
    lines = "\n".join(line for place in places for line in SECTIONS[place])
    headings = set(SECTIONS)
    for name in model.model_fields:
        inner = {".".join(filter(None, (place, name))) for place in places}
        assert re.search(rf"\b{name}\b", lines) or inner & headings, f"{model.__name__}: {name}"


# What is told in place of something else, which then has to go; "+" before what belongs to it.
INSTEAD = {
    "mains.dip_voltage": ["mains.source_resistance", "+mains.dip_current"],
    "mains.dip_current": ["mains.source_resistance", "+mains.dip_voltage"],
    "mains.run_length": ["+mains.run_area"],
    "mains.run_area": ["+mains.run_length"],
    "core.leg_gap_position": ["+core.leg_gap"],
    "core.bh_table": ["core.steel"],
    "core.lamination": [
        f"core.{name}" for name in ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height")
    ],
    "work_piece.carbons": ["work_piece.joint"],
    "work_piece.ring": ["work_piece.length", "work_piece.jaws", "work_piece.joint", "leads"],
}


def commented() -> Iterator[tuple[str, str]]:
    """Yield each key that is commented out, or a section that is, with its TOML."""
    for section, lines in SECTIONS.items():
        head = HEADING.match(lines[0]) if lines else None
        told = [line[2:] for line in lines if line.startswith("# ") and KEY.match(line)]
        if head and head[1]:
            yield section, "\n".join([f"[{section}]", *told])
        else:
            for line in told:
                yield f"{section}.{line.partition(' =')[0]}", f"[{section}]\n{line}"


SHOWN = dict(commented())


def told(keys: list[str]) -> dict[str, object]:
    """Return the example's tables with some keys told or, without a "+", left out."""
    tables = tomllib.loads("\n".join(LINES))
    for key in keys:
        more = tomllib.loads(SHOWN[key[1:]]) if key.startswith("+") else {}
        table = tables
        *parents, last = key.lstrip("+").split(".")
        for name in parents:
            table, more = table.setdefault(name, {}), more.get(name, {})
        if key.startswith("+"):
            table[last] = more[last]
        else:
            table.pop(last)
    return tables


@pytest.mark.parametrize("key", SHOWN)
def test_what_is_commented_out_can_be_told(key: str) -> None:
    assert Design.model_validate(told([*INSTEAD.get(key, []), f"+{key}"]), context=JOB_FILE)


def test_much_is_shown() -> None:
    assert len(SHOWN) > 40
    for keys in INSTEAD.values():
        assert {key[1:] for key in keys if key.startswith("+")} <= set(SHOWN)
