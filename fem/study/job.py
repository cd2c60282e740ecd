"""Read a job file: a design as TOML. Every fault is found in one go and said in one line."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterator, Sequence
from math import pi, sqrt
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from fem.materials.bh import read_bh_table
from fem.study.design import Design
from fem.study.mains import Mains
from geometries import AnyCore, Fault, ShellCore, TwoLegCore, Windings, faults, fit, place
from geometries.shunt import Shunt

JOB_FILE = {"job_file": True}
"""Validation context in which a bare number is refused where a unit is needed."""

_Model = TypeVar("_Model", bound=BaseModel)
_POSITION = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_SUGGESTED = re.compile(r"did you mean (.*)\?$")


class JobError(ValueError):
    """A job file that cannot be used.

    Parameters
    ----------
    file
        Its path as given.
    found
        Key and message of each fault; the key is "" where the fault belongs to the file.
    """

    def __init__(self, file: str, found: Sequence[Fault]) -> None:
        super().__init__(file, tuple(found))
        self.file = file
        self.faults = tuple(found)

    @property
    def lines(self) -> tuple[str, ...]:
        """One line for each fault: file, key, message."""
        return tuple(": ".join(filter(None, map(_one_line, (self.file, *fault)))) for fault in self.faults)

    def __str__(self) -> str:
        return "\n".join(self.lines)


def read_job(path: str | Path) -> Design:
    """Read a design from a job file.

    Parameters
    ----------
    path
        A TOML file; a `bh_table` in it is looked for beside it.

    Raises
    ------
    JobError
        With every fault that was found, if the file cannot be read or the design cannot be built.
    """
    data = read_tables(path)
    found: list[Fault] = []
    design: Design | None = None
    try:
        design = Design.model_validate(data, context=JOB_FILE)
    except ValidationError as error:
        found = _tidied(faults(error), data)
    found += _misfits(data) + _table_faults(data)
    if found or design is None:
        raise JobError(str(path), found)
    return design


def read_tables(path: str | Path) -> dict[str, Any]:
    """Read a job file's tables as they stand, the place of a `bh_table` made absolute; nothing else is checked.

    Raises
    ------
    JobError
        If the file cannot be read.
    """
    path = Path(path)
    data = _parse(path)
    core = data.get("core")
    if isinstance(core, dict) and isinstance(core.get("bh_table"), str):
        core["bh_table"] = str((path.parent / core["bh_table"]).resolve())
    return data


def _parse(path: Path) -> dict[str, Any]:
    """Return the file's tables, or raise JobError with the line that is no TOML."""
    file = str(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise JobError(file, [Fault("", "no such file")]) from None
    except IsADirectoryError:
        raise JobError(file, [Fault("", "is a folder; a job is a text file")]) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise JobError(file, [Fault("", f"cannot be read: {reason}")]) from None
    try:
        # Some editors put a byte order mark first, which TOML does not know.
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        what = f"byte 0x{raw[error.start]:02X} is not UTF-8; save the file as UTF-8 text"
        raise JobError(file, [Fault(f"line {line}", what)]) from None
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(file, [_syntax_fault(str(error), text)]) from None
    except RecursionError:
        raise JobError(file, [Fault("", "brackets are nested too deeply")]) from None
    except ValueError:
        # Python refuses to read thousands of digits.
        raise JobError(file, [Fault("", "not TOML: a whole number has thousands of digits")]) from None
    if too_large := list(_too_large("", data)):
        raise JobError(file, too_large)
    return data


def _syntax_fault(message: str, text: str) -> Fault:
    """Take the line number out of the parser's message; the end of the file is its last line."""
    position = _POSITION.search(message)
    last = text.count("\n") + (not text.endswith("\n"))
    line = int(position[1]) if position and position[1] else last
    plain = _POSITION.sub("", message)
    return Fault(f"line {line}", f"not TOML: {plain[:1].lower()}{plain[1:]}")


def _too_large(key: str, value: Any) -> Iterator[Fault]:
    """Find whole numbers beyond the 64 bits that TOML allows and floats can take."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _too_large(f"{key}.{name}" if key else name, inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _too_large(key, inner)
    elif isinstance(value, int) and not -(2**63) <= value < 2**63:
        yield Fault(key, "a whole number beyond 64 bits")


def _tidied(found: list[Fault], data: dict[str, Any]) -> list[Fault]:
    """Say each fault once: a misspelt key is not also missing, one text for two values is not wrong twice."""
    likely = set()
    for fault in found:
        if suggested := _SUGGESTED.search(fault.message):
            parent = fault.key.rpartition(".")[0]
            likely |= {".".join(filter(None, (parent, name))) for name in re.findall(r'"([^"]*)"', suggested[1])}
    kept = [fault for fault in found if not (fault.message == "missing" and fault.key in likely)]
    return list(dict.fromkeys(Fault(_given_key(fault.key, data), fault.message) for fault in kept))


def _given_key(key: str, data: dict[str, Any]) -> str:
    """Return the key as it stands in the file: without a position where the file gives no list."""
    value: Any = data
    names: list[str] = []
    for name in key.split("."):
        if name.isdigit() and not isinstance(value, list):
            continue
        names.append(name)
        if isinstance(value, dict):
            value = value.get(name)
        elif isinstance(value, list) and name.isdigit() and int(name) < len(value):
            value = value[int(name)]
    return ".".join(names)


def _part(model: type[_Model], value: object) -> _Model | None:
    """Return a table of the job on its own, or None: its faults are already known from the whole."""
    try:
        return model.model_validate(value, context=JOB_FILE)
    except ValidationError:
        return None


def _core(data: dict[str, Any]) -> AnyCore | None:
    """Return the core on its own, as `_part`."""
    table = data.get("core")
    kind = table.get("type") if isinstance(table, dict) else None
    return _part(TwoLegCore, table) if kind == "two-leg" else _part(ShellCore, table)


def _misfits(data: dict[str, Any]) -> list[Fault]:
    """Say what does not go into the window, even where mains or leads are wrong as well."""
    core, windings = _core(data), _part(Windings, data.get("windings"))
    if core is None or windings is None:
        return []
    blocks = place(core, windings)
    shunt = _part(Shunt, data["shunt"]) if "shunt" in data else None
    in_the_way = shunt.faults(core, blocks) if shunt is not None and shunt.fitted else []
    return [*fit(core, windings, blocks).faults, *in_the_way]


def _table_faults(data: dict[str, Any]) -> list[Fault]:
    """Check the user's own magnetisation curve."""
    core = _core(data)
    if core is None or core.bh_table is None:
        return []
    key, table = "core.bh_table", Path(core.bh_table)
    try:
        curve = read_bh_table(table, core.saturation_polarisation)
    except UnicodeDecodeError:
        return [Fault(key, f"{table.name} is not UTF-8 text")]
    except OSError as error:
        return [Fault(key, f"{table} cannot be read: {error.strerror or error}")]
    except (ValueError, csv.Error) as error:
        return [Fault(key, str(error))]
    mains, windings = _part(Mains, data.get("mains")), _part(Windings, data.get("windings"))
    if mains is None or windings is None or core.saturation_polarisation is not None:
        return []
    # Where the iron is narrowest the whole mains voltage asks for this much, before any drop.
    volt_seconds = sqrt(2) * mains.voltage / (2 * pi * mains.frequency)
    in_series = core.count / core.parallel_primaries
    needed = volt_seconds / (in_series * windings.primary.net_turns * core.narrowest_iron_area)
    if needed <= curve.valid_to:
        return []
    text = (
        f"{table.name} ends at {curve.valid_to:.3g} T, this core needs {needed:.3g} T; give saturation_polarisation "
        "(1 T to 2.5 T) or more rows"
    )
    return [Fault(key, text)]


def _one_line(text: str) -> str:
    return " ".join(text.split())
