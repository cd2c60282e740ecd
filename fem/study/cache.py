"""Characteristics kept in memory and on disk, so that a core and arrangement is solved once.

What the field says does not depend on turns, wires, leads, loads, supplies or frequency (the parts of the core loss are
kept at one frequency and go their own ways from there). What it depends on is the key.
"""

from __future__ import annotations

import hashlib
import logging
import os
import tempfile
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import get_type_hints

from fem.characteristics.characterise import FLUX_TARGET, Characteristics, Progress
from fem.characteristics.iron import saturating_iron
from fem.study.cache_files import Unreadable, read_values, write_values
from fem.study.design import Design
from fem.study.estimate import solve_characteristics
from fem.study.provenance import versions
from fem.study.sheet import Sheet
from geometries.blocks import Block
from geometries.unit_registry import cache_folder

CAPACITY = 64
"""Characteristics kept in memory."""
MOST_BYTES = 200_000_000
"""On disk; the least recently used files go first. One takes some 50 kB."""
VARIABLE = "REWOUND_CACHE"
"""Environment variable that names the folder on disk, or says "off"."""
_ANEW = ("section", "blocks", "iron")
"""What follows from the design in no time and is not on disk."""
_PLACES = ("fem/characteristics", "fem/field", "fem/materials", "geometries")
"""Sources on which a field depends."""

_log = logging.getLogger(__name__)


def characteristics_key(design: Design, blocks: tuple[Block, ...], sheet: Sheet) -> str:
    """Return what the field's curves and numbers depend on, as a digest.

    The section with joints and shunts, its depth, the windings at its end faces, the laws of the sheets, the core loss,
    the discretisation error aimed at, and the solver itself.
    """
    core = design.core
    section = core.section(blocks, shunt=design.fitted_shunt)
    parts: list[object] = [solver_digest(), FLUX_TARGET, type(core).__name__, section.digest]
    parts += [round(core.stack_depth * 1e9), core.stacking_factor, core.joint.value, round(core.joint_gap * 1e9)]
    parts.append(None if core.second is None else round(core.second.spacing * 1e9))
    parts += [(block.name, round(block.end_clearance * 1e9), block.share) for block in blocks]
    parts += [sheet.density, sheet.loss]
    for curve in (sheet.curve, sheet.shunt):
        parts.append(None if curve is None else (curve.H.tobytes(), curve.B.tobytes(), curve.saturation_polarisation))
    return hashlib.sha256(repr(parts).encode()).hexdigest()


@cache
def solver_digest() -> str:
    """Return a digest of the sources and the versions of the libraries that fields are computed with."""
    top = Path(__file__).parents[2]
    digest = hashlib.sha256(repr(sorted(versions().items())).encode())
    for place in _PLACES:
        for file in sorted((top / place).iterdir()):
            if file.suffix in {".py", ".csv"}:
                digest.update(file.name.encode() + file.read_bytes())
    return digest.hexdigest()


def default_folder() -> Path | None:
    """Return where characteristics are kept on disk: as `REWOUND_CACHE` says, else in the user's cache; None if off."""
    given = os.environ.get(VARIABLE)
    if given is not None:
        return None if given.lower() in {"", "off", "0"} else Path(given)
    units = cache_folder("")
    return None if units is None else units.with_name("fields")


@dataclass(slots=True)
class Kept:
    """Characteristics by their key, in memory and, where a folder is given, on disk. Give it to `estimate`.

    Several threads and processes may share a folder: files are written aside and renamed.

    Parameters
    ----------
    folder
        On disk; None keeps in memory only.
    capacity
        How many are kept in memory.
    most_bytes
        How much is kept on disk.
    solved, read
        How often it had to solve, and how often the disk spared that.
    """

    folder: Path | None = None
    capacity: int = CAPACITY
    most_bytes: int = MOST_BYTES
    solved: int = 0
    read: int = 0
    _store: OrderedDict[str, Characteristics] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress
    ) -> tuple[Characteristics, None]:
        """Return the characteristics of a design, solved where they are not kept yet."""
        key = characteristics_key(design, blocks, sheet)
        with self._lock:
            found = self._store.get(key)
            if found is not None:
                self._store.move_to_end(key)
                return found, None
        found = self._read(key, design, blocks, sheet)
        fresh = found is None
        if found is None:
            found, _ = solve_characteristics(design, blocks, sheet, progress)
            self._write(key, found)
        with self._lock:
            self.solved += fresh
            self.read += not fresh
            self._store[key] = found
            while len(self._store) > self.capacity:
                self._store.popitem(last=False)
        return found, None

    def _read(self, key: str, design: Design, blocks: tuple[Block, ...], sheet: Sheet) -> Characteristics | None:
        if self.folder is None:
            return None
        path, core = self.folder / f"{key}.npz", design.core
        try:
            values = read_values(path, _kinds(), key)
            os.utime(path)  # used last
        except FileNotFoundError:
            return None
        except (OSError, Unreadable) as error:
            _log.warning("kept field not used, solved again: %s", error)
            return None
        _, iron, *_ = saturating_iron(sheet.curve, core.stacking_factor, core.joint, sheet.shunt)
        section = core.section(blocks, shunt=design.fitted_shunt)
        return Characteristics(section=section, blocks=blocks, iron=iron, **values)

    def _write(self, key: str, found: Characteristics) -> None:
        """Keep on disk. A full or read-only disk costs the time that would have been saved, nothing else."""
        if self.folder is None:
            return
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, aside = tempfile.mkstemp(dir=self.folder, suffix=".part")
            os.close(handle)
            try:
                write_values(Path(aside), {name: getattr(found, name) for name in _kinds()}, key)
                Path(aside).replace(self.folder / f"{key}.npz")
            finally:
                Path(aside).unlink(missing_ok=True)
            prune(self.folder, self.most_bytes)
        except OSError as error:
            _log.warning("field not kept in %s: %s", self.folder, error)


@cache
def _kinds() -> dict[str, object]:
    return {name: kind for name, kind in get_type_hints(Characteristics).items() if name not in _ANEW}


def prune(folder: Path, most_bytes: int) -> None:
    """Delete the least recently used files until the rest takes no more than this."""
    known = []
    for file in folder.glob("*.npz"):
        try:
            about = file.stat()
        except FileNotFoundError:  # another process was quicker
            continue
        known.append((about.st_mtime_ns, about.st_size, file))
    total = sum(size for _, size, _ in known)
    for _, size, file in sorted(known):
        if total <= most_bytes:
            return
        file.unlink(missing_ok=True)
        total -= size
