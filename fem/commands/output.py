"""The files a command writes: refused before the work starts where something would be lost, written whole after it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

from fem.commands.terminal import PROGRAM, Refused, say
from fem.report.files.whole import check_folder, check_writable, is_above, is_database, is_same, is_special
from fem.report.text.printable import printable

Inputs = Sequence[tuple[str, Path]]
"""What is read, each with the word for it."""
STREAMS = {1: "standard output", 2: "standard error"}


def inputs_of(job: Path, tables: Mapping[str, Any] | None = None, given: Sequence[object] = ()) -> Inputs:
    """Return the job file and the magnetisation curves that its tables, or values given for `core.bh_table`, name."""
    core = (tables or {}).get("core")
    curves = [core.get("bh_table") if isinstance(core, Mapping) else None, *given]
    return [("the job file", job), *(("the B-H table", Path(name)) for name in curves if isinstance(name, str))]


def json_place(given: str | None) -> Path | None:
    """Return the file that `--json`, or an option like it, names; None without one, and for standard output."""
    return None if given in {None, "-"} else Path(str(given))


def check_places(
    outputs: Mapping[str, Path | None],
    inputs: Inputs,
    *,
    store: Path | None = None,
    figures: Path | None = None,
    files: Sequence[str] | None = None,
    fields: Path | None = None,
) -> None:
    """Refuse outputs that would replace what is read or each other, or that cannot be written.

    Parameters
    ----------
    outputs
        By option.
    inputs
        What is read.
    store
        The rows of a sweep, with the files that SQLite keeps beside it.
    figures
        The folder for figures.
    files
        What may be written there; the figures of an estimate where not given.
    fields
        The folder for fields.

    Raises
    ------
    Refused
        With a line for each fault.
    """
    wanted = [(option, path) for option, path in outputs.items() if path is not None]
    wanted += [("--figures", file) for file in _figure_files(figures, files)]
    wanted += [("--fields", file) for file in _field_files(fields)]
    kept = [("the sweep's store", file) for file in _store_files(store)]
    faults = [
        f"{option} {path} would replace {name}, {there}"
        for option, path in [*wanted, *kept[:1]]
        for name, there in inputs
        if not is_special(path) and is_same(path, there)
    ]
    faults += [
        f"{option} {path} and {another} {other} are in each other's way"
        for (option, path), (another, other) in combinations([*wanted, *kept], 2)
        if not is_special(path) and (is_same(path, other) or is_above(path, other) or is_above(other, path))
    ]
    faults += [
        f"{option} {path} is where {name} goes"
        for option, path in wanted
        for number, name in STREAMS.items()
        if not is_special(path) and _is_stream(path, number)
    ]
    faults += [f"{option} {path} would replace the store of a sweep" for option, path in wanted if is_database(path)]
    # Where a folder is in the way of a file, it is so with every figure.
    faults = faults[:1] or [
        f"cannot write {printable(str(path))}: {reason}" for path, reason in _unwritable(wanted, (figures, fields))
    ]
    if faults:
        raise Refused("\n".join(f"{PROGRAM}: {fault}" for fault in faults))


def store_beside(out: Path) -> Path | None:
    """Return where a sweep keeps its rows if no other place is given; nowhere beside a device or pipe."""
    return out.with_suffix(".sqlite") if out.name and not is_special(out) else None


def write_output(path: Path, write: Callable[[Path], None], quiet: bool) -> bool:
    """Write one of the outputs and say so; results already printed are not lost where that fails."""
    try:
        write(path)
    except OSError as error:
        say(f"{PROGRAM}: cannot write {printable(str(path))}: {error.strerror or error}")
        return False
    if not quiet:
        say(f"{PROGRAM}: wrote {printable(str(path))}")
    return True


def _figure_files(folder: Path | None, files: Sequence[str] | None) -> list[Path]:
    if folder is None:
        return []
    from fem.report.figures.estimate import FILES

    return [folder.joinpath(name) for name in (FILES if files is None else files)]


def _field_files(folder: Path | None) -> list[Path]:
    if folder is None:
        return []
    from fem.report.files.vtu import FILES

    return [folder.joinpath(name) for name in FILES]


def _store_files(store: Path | None) -> list[Path]:
    return [] if store is None else [Path(f"{store}{end}") for end in ("", "-wal", "-shm", "-journal")]


def _is_stream(path: Path, number: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(number))
    except OSError:
        return False


def _unwritable(wanted: list[tuple[str, Path]], folders: Sequence[Path | None]) -> Iterator[tuple[Path, str]]:
    checks: list[tuple[Path, Callable[[Path], None]]] = [(folder, check_folder) for folder in folders if folder]
    # What is not there yet in a folder is the folder's business.
    inside = ("--figures", "--fields")
    checks += [(path, check_writable) for option, path in wanted if option not in inside or os.path.lexists(path)]
    for path, check in checks:
        try:
            check(path)
        except OSError as error:
            yield path, error.strerror or str(error)
