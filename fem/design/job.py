"""Read a job file: a design as TOML. Every fault is found in one go and said in one line."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import pi, sqrt
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from fem.design.mains import Mains
from fem.design.ring import ring_faults, with_ring
from fem.design.tables import JobError, read_tables, told_as
from fem.design.transformer import Design
from fem.design.typical import filled
from fem.design.work_piece import WorkPieceDescription
from fem.materials.bh import read_bh_table
from geometries.cores.kinds import read_core
from geometries.cores.shunt import Shunt
from geometries.described.faults import Fault, faults, short
from geometries.windings.arrangement import Windings, place
from geometries.windings.fit import fit

JOB_FILE = {"job_file": True}
"""Validation context in which a bare number is refused where a unit is needed."""

_Read = TypeVar("_Read")
_SUGGESTED = re.compile(r"did you mean (.*)\?$")


def read_job(path: str | Path) -> Design:
    """Read a design from a job file.

    Parameters
    ----------
    path
        A TOML file; a `bh_table` in it is looked for beside it. "-" is standard input.

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
    found += misfits(data) + table_faults(data)
    if found or design is None:
        raise JobError(told_as(path), found)
    return design


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


def _part(read: Callable[..., _Read], value: object) -> _Read | None:
    """Return a table of the job on its own, or None: its faults are already known from the whole."""
    try:
        return read(value, context=JOB_FILE)
    except ValidationError:
        return None


def misfits(data: dict[str, Any]) -> list[Fault]:
    """Say what does not go into the window, even where mains or leads are wrong as well."""
    data = filled(data, JOB_FILE)
    core, windings = _part(read_core, data.get("core")), _part(Windings.model_validate, data.get("windings"))
    if core is None or windings is None:
        return []
    shunt = _part(Shunt.model_validate, data["shunt"]) if "shunt" in data else None
    work = _part(WorkPieceDescription.model_validate, data["work_piece"]) if "work_piece" in data else None
    windings = with_ring(windings, work)
    if "secondary" not in windings.model_fields_set:
        return []
    blocks = place(core, windings)
    return list(ring_faults(core, work, blocks, fit(core, windings, blocks, shunt=shunt).faults))


def table_faults(data: dict[str, Any]) -> list[Fault]:
    """Check the user's own magnetisation curve."""
    core = _part(read_core, data.get("core"))
    if core is None or core.bh_table is None:
        return []
    key, table = "core.bh_table", Path(core.bh_table)
    try:
        curve = read_bh_table(table, core.saturation_polarisation)
    except OSError as error:
        return [Fault(key, f"{short(str(table), 200)} cannot be read: {error.strerror or error}")]
    except ValueError as error:
        return [Fault(key, str(error))]
    mains, windings = (
        _part(Mains.model_validate, data.get("mains")),
        _part(Windings.model_validate, data.get("windings")),
    )
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
