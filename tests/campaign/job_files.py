"""Job files damaged at random: in their tables, their bytes, their numbers, and against each other."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from copy import deepcopy
from typing import Any

from fem.examples import example
from tests.campaign.designs import random_job, to_toml
from tests.campaign.drawing import Draw

Table = dict[str, Any]
Path = tuple[str, ...]

VALUES: tuple[Any, ...] = (
    0, -1, 1, 2.5, 1e308, -1e-308, 2**63 - 1, -(2**63), True, False, "", " ", "0", "nan", "inf", "-0", "1e400 mm",
    "1e-400 mm", "0 mm", "-3 mm", "48", "48 furlongs", "48 mm mm", "4 8 mm", "48mm", "4,8 mm", "0x30 mm", "٤٨ mm",
    "48 mm\u0000", "48 \u202emm", "½ mm", "48 kg", "230 V", "50 Hz", "20 degC", "-400 degC", "1e9 degC", "50 %",
    "50 mm x", "x", "2 mm x 3 mm x 4 mm", "99 AWG", "0/0 AWG", "-1 AWG", "70 mm2", "M530-50A", "copper", "shell",
    [], [[]], {}, {"a": {}}, ["1 mm", "2 mm", "3 mm"], ["1 mm"], [1, "a", True], {"round": "1 mm"}, "a" * 5000,
    "\n", "\t", "'", '"', "[core]", "# no", "{0}", "%s", "../../x", "/dev/zero", "/", "1970-01-01", "²", "1 mm²",
)  # fmt: skip
"""What stands where something else was expected."""
BYTES = (b"\x00", b"\xff", b"\xfe", b"\r", b"\x1b[2J", b"\xe2\x80\xae", b"\xef\xbb\xbf", b"\xf0\x9f\x94\xa5", b"\x7f")
SNIPPETS = (
    b"[", b"]", b"[[", b"=", b'"', b"'", b'"""', b"{", b"}", b",", b".", b"#", b"\\", b"\n", b"\n\n[core]\n",
    b"\nx = 1e999\n", b"\nx = 0b2\n", b"\nx = 1979-99-99\n", b"a.b.c = 1\n", b"[" * 400, b"9" * 5000, b"= inf",
    b"= nan", b"\n[[windings]]\n", b"\n[windings.primary.turns]\n", b"\ntitle = 1\ntitle = 2\n",
)  # fmt: skip


def mutated(seed: int) -> tuple[bytes, str]:
    """Return a damaged job file and how it was damaged; one in twelve is whole."""
    draw = Draw(seed, 1)
    given = draw.weighted({"example": 1.0, "random": 2.0})
    if given == "example":
        text = example().read_text("utf-8")
        kind = draw.weighted({"bytes": 3.0, "text": 2.0, "whole": 0.3})
        return {"bytes": _bytes, "text": _text, "whole": lambda _, text: text.encode()}[kind](draw, text), kind
    job = deepcopy(random_job(draw.whole(0, 4_000)))
    kind = draw.weighted({"tables": 3.0, "values": 3.0, "numbers": 4.0, "exchanged": 2.0, "bytes": 2.0, "whole": 1.0})
    damage: dict[str, Callable[[Draw, Table], Any]] = {
        "tables": _tables,
        "values": _values,
        "numbers": _numbers,
        "exchanged": _exchanged,
    }
    for _ in range(draw.weighted({1: 5.0, 2: 2.0, 5: 1.0}) if kind in damage else 0):
        damage[kind](draw, job)
    content = to_toml(job)
    return (_bytes(draw, content) if kind == "bytes" else content.encode()), kind


def _paths(table: Table, above: Path = ()) -> Iterator[Path]:
    for key, value in table.items():
        yield (*above, key)
        if isinstance(value, dict):
            yield from _paths(value, (*above, key))


def _at(job: Table, path: Path) -> Table:
    for name in path:
        job = job[name]
    return job


def _tables(draw: Draw, job: Table) -> None:
    """Delete, double, rename, move, nest or list keys and tables."""
    paths = list(_paths(job))
    if not paths:
        return
    *above, key = draw.of(paths)
    table = _at(job, tuple(above))
    what = draw.of(["delete", "rename", "move", "nest", "list", "unwrap", "copy", "case"])
    if what == "delete":
        del table[key]
    elif what == "rename":
        table[draw.of([key + "s", key[:-1] or "x", key.replace("_", "-"), "", "ä", key + " ", "a.b"])] = table.pop(key)
    elif what == "case":
        table[key.upper()] = table.pop(key)
    elif what in {"move", "copy"}:
        tables = [
            path for path in paths if isinstance(_at(job, path), dict) and path[: len(above) + 1] != (*above, key)
        ]
        value = deepcopy(table[key]) if what == "copy" else table.pop(key)
        target = draw.of([(), *tables])
        _at(job, target)[key] = value
    elif what == "nest":
        table[key] = {key: table[key]}
    elif what == "list":
        table[key] = [table[key]] * draw.whole(0, 3)
    elif isinstance(table[key], dict):
        table |= table.pop(key)


def _leaves(job: Table) -> list[Path]:
    return [path for path in _paths(job) if not isinstance(_at(job, path[:-1])[path[-1]], dict)]


def _values(draw: Draw, job: Table) -> None:
    """Put what has no place there."""
    *above, key = draw.of(_leaves(job) or [("title",)])
    _at(job, tuple(above))[key] = deepcopy(draw.of(VALUES))


def _numbers(draw: Draw, job: Table) -> None:
    """Change a number's sign, size or unit."""
    *above, key = draw.of(_leaves(job) or [("title",)])
    table = _at(job, tuple(above))
    value = table.get(key)
    factor = draw.of([0.0, -1.0, 1e-9, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e9, 1e300])
    if isinstance(value, bool):
        table[key] = not value
    elif isinstance(value, int | float):
        changed = value * factor
        table[key] = int(changed) if isinstance(value, int) and abs(changed) < 1e18 else changed
    elif isinstance(value, str) and value[:1].isdigit():
        number, _, unit = value.partition(" ")
        number = (
            f"{float(number) * factor:.6g}" if draw.chance(0.7) and number.replace(".", "", 1).isdigit() else number
        )
        other = draw.of(["mm", "cm", "m", "in", "mm2", "ohm", "mohm", "s", "V", "A", "Hz", "degC", "K", "T", "", "kg"])
        table[key] = f"{number} {other if draw.chance(0.4) else unit}".rstrip()


def _exchanged(draw: Draw, job: Table) -> None:
    """Exchange the values of two keys, anywhere."""
    paths = _leaves(job)
    if len(paths) < 2:
        return
    one, other = draw.some(paths, 2)
    first, second = _at(job, one[:-1]), _at(job, other[:-1])
    first[one[-1]], second[other[-1]] = second[other[-1]], first[one[-1]]


def _bytes(draw: Draw, text: str) -> bytes:
    """Cut, insert, double or overwrite bytes."""
    content = text.encode()
    for _ in range(draw.weighted({1: 4.0, 3: 2.0, 20: 1.0})):
        place = draw.whole(0, len(content))
        length = draw.weighted({1: 4.0, 10: 2.0, 200: 1.0})
        what = draw.of(["cut", "insert", "double", "overwrite", "end", "snippet"])
        if what == "cut":
            content = content[:place] + content[place + length :]
        elif what == "insert":
            content = content[:place] + draw.of(BYTES) + content[place:]
        elif what == "snippet":
            content = content[:place] + draw.of(SNIPPETS) + content[place:]
        elif what == "double":
            content = content[: place + length] + content[place:]
        elif what == "overwrite":
            content = content[:place] + bytes([draw.whole(0, 255)]) + content[place + 1 :]
        elif draw.chance(0.2):
            content = content[:place]
    return content


def _text(draw: Draw, text: str) -> bytes:
    """Take comments off hidden keys, double or move lines, change single words."""
    lines = text.splitlines()
    for _ in range(draw.whole(1, 6)):
        place = draw.whole(0, len(lines) - 1)
        what = draw.of(["uncomment", "double", "move", "drop", "word"])
        if what == "uncomment":
            hidden = [k for k, line in enumerate(lines) if line.startswith("# ") and " = " in line] or [place]
            lines[draw.of(hidden)] = lines[draw.of(hidden)][2:]
        elif what == "double":
            lines.insert(place, lines[place])
        elif what == "move":
            lines.insert(draw.whole(0, len(lines) - 1), lines.pop(place))
        elif what == "drop":
            lines.pop(place)
        else:
            key, equals, _ = lines[place].partition("=")
            value = draw.of([item for item in VALUES if isinstance(item, str)])
            lines[place] = f"{key}{equals} {json.dumps(value)}" if equals else lines[place]
    return "\n".join(lines).encode()
