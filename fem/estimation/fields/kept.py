"""Solved fields kept in memory and on disk, so that a core and arrangement is solved once.

What the field says does not depend on turns, wires, leads, loads, supplies or frequency (the parts of the core loss are
kept at one frequency and go their own ways from there). A slice of single conductors depends on turns, wires, frequency
and temperature, but on neither leads, loads nor supplies. What each depends on is its key, to the last bit.
"""

from __future__ import annotations

import hashlib
import logging
import os
import tempfile
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import FLUX_TARGET, Characteristics, Progress
from fem.characteristics.laws import saturating_iron
from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.leakage.planar import BlockForce
from fem.characteristics.magnetising.curve import Magnetising
from fem.characteristics.resistance.coils import AcState, grouped_coils
from fem.characteristics.resistance.slice import SliceRatios, ac_slice
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from fem.estimation.fields.files import Unreadable, read_values, write_values
from fem.estimation.fields.source import Places, lengths_of, solve_characteristics, solve_with_slopes
from fem.estimation.provenance import computed_by
from fem.kept import Recent
from fem.quantity import Band, Unknown
from geometries.assembly.by_key import ByKey
from geometries.assembly.section_of import section_of
from geometries.shapes.blocks import Block
from geometries.shapes.dual import Dual
from geometries.shapes.section import Section

CAPACITY = 64
"""Fields kept in memory."""
MOST_BYTES = 200_000_000
"""On disk; the least recently used files go first. One takes some 50 kB."""
VARIABLE = "REWOUND_CACHE"
"""Environment variable that names the folder on disk, or says "off"."""
ABANDONED = 3600.0
"""Age at which a file that someone began to write is taken for abandoned [s]; writing takes milliseconds."""
_ANEW = ("section", "blocks", "iron")
"""What follows from the design in no time and is not on disk."""
_KINDS = (Magnetising, Leakage, BlockForce, Slopes, Band, Unknown)
"""What is kept is made of."""

_log = logging.getLogger(__name__)
T = TypeVar("T")


def characteristics_key(design: Design, blocks: tuple[Block, ...], sheet: Sheet) -> str:
    """Return what the field's curves and numbers depend on, as a digest.

    The section with joints and shunts, its depth, the windings at its end faces, the laws of the sheets, the core loss,
    the discretisation error aimed at, and the solver itself.
    """
    core = design.core
    parts: list[object] = [computed_by(), FLUX_TARGET, type(core).__name__]
    parts += _exactly(section_of(core, blocks, shunt=design.fitted_shunt))
    parts += [core.stack_depth, core.stacking_factor, core.joint.value, core.joint_gap]
    parts.append(None if core.second is None else core.second.spacing)
    parts += [(block.name, block.end_clearance, block.share) for block in blocks]
    parts += [sheet.density, sheet.loss]
    for curve in (sheet.curve, sheet.shunt):
        parts.append(None if curve is None else (curve.H.tobytes(), curve.B.tobytes(), curve.saturation_polarisation))
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def slice_key(state: AcState) -> str:
    """Return what a slice of single conductors depends on, as a digest.

    The section, turns, conductors and metal of each coil, the frequency, the temperature, and the solver itself.
    """
    parts: list[object] = [computed_by(), "slice", type(state.core).__name__]
    parts += _exactly(section_of(state.core, state.blocks, joint_regions=False, shunt=state.shunt))
    parts += [grouped_coils(state), [(w.net_turns, w.material) for w in state.windings]]
    parts += [state.frequency, state.temperature, state.transposed]
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def slopes_key(field: str, lengths: ByKey) -> str:
    """Return what derivatives by lengths depend on, as a digest: the field's, and what moves how with which key.

    So designs that differ in turns alone share them, while of two that lie alike one may be given what in the other
    follows.
    """

    def told(part: Any) -> object:
        if isinstance(part, Dual):
            return part.value, part.grad.tobytes()
        if isinstance(part, tuple):
            return [told(inner) for inner in part]
        if is_dataclass(part):
            return [told(getattr(part, item.name)) for item in fields(part)]
        return part

    return hashlib.sha256(repr([field, "slopes", told(lengths)]).encode()).hexdigest()


def _exactly(section: Section) -> list[object]:
    """Return all of a section; its own digest takes what is less than a nanometre apart for the same."""
    return [section.regions, section.outline, section.cuts, section.halved]


def default_folder() -> Path | None:
    """Return where fields are kept on disk: as `REWOUND_CACHE` says, else in the user's cache; None if off."""
    given = os.environ.get(VARIABLE)
    if given is not None:
        return None if given.lower() in {"", "off", "0"} else Path(given)
    from platformdirs import user_cache_path

    return user_cache_path("rewound", appauthor=False) / "fields"


@dataclass(slots=True)
class Kept:
    """Characteristics, derivatives and slices by key, in memory and, where a folder is given, on disk; for `estimate`.

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
    _memory: Recent[Any] = field(init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _full: bool = False

    def __post_init__(self) -> None:
        self._memory = Recent(self.capacity)

    def __call__(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /
    ) -> tuple[Characteristics, None]:
        """Return the characteristics of a design, solved where they are not kept yet."""
        key = characteristics_key(design, blocks, sheet)
        solve = lambda: solve_characteristics(design, blocks, sheet, progress)[0]  # noqa: E731
        found = self._get(key, _whole(design, blocks, sheet), solve)
        # Blocks of many conductors are even in the field: alike in it, they may hold another number of them.
        return found if found.blocks == blocks else replace(found, blocks=blocks), None

    def slopes(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress, /, only: str = ""
    ) -> Slopes:
        """Return derivatives by the lengths of a design, solved together with the rest where they are not kept yet."""
        field, lengths = characteristics_key(design, blocks, sheet), lengths_of(design, only)

        def solve() -> Slopes:
            found, _, slopes = solve_with_slopes(design, blocks, sheet, progress, lengths)
            self._get(field, _whole(design, blocks, sheet), lambda: found, counted=False)
            return slopes

        return self._get(slopes_key(field, lengths), lambda values: Slopes(**values), solve)

    def slices(self, state: AcState) -> SliceRatios:
        """Return what a circuit takes of a slice, solved where it is not kept yet."""
        return self._get(slice_key(state), lambda values: SliceRatios(**values), lambda: ac_slice(state).ratios)

    def beside(self, key: str, make: Callable[[], Mapping[str, Any]]) -> Mapping[str, Any]:
        """Return what follows from designs besides their fields, made where it is not kept yet.

        Parameters
        ----------
        key
            All that it depends on, but for what computes it.
        make
            Returns it: values as `write_values` takes them, by name.
        """
        return self._get(hashlib.sha256(f"{computed_by()} {key}".encode()).hexdigest(), dict, make, counted=False)

    def places(
        self, design: Design, blocks: tuple[Block, ...], sheet: Sheet, state: tuple[complex, complex], *, solve: Places
    ) -> dict[str, float]:
        """Return the flux density by place in a state, solved unless this core's last one on disk is the same."""
        if self.folder is None:
            return solve()
        key = hashlib.sha256(f"{characteristics_key(design, blocks, sheet)} places".encode()).hexdigest()
        values = self._read(key)
        if values is None or not np.array_equal(values["state"], state):
            values = {"state": np.array(state), "flux_density": solve()}
            self._write(key, values)
        places: dict[str, float] = values["flux_density"]
        return places

    def _get(
        self, key: str, whole: Callable[[Mapping[str, Any]], T], solve: Callable[[], T], *, counted: bool = True
    ) -> T:
        def found() -> T:
            values = self._read(key)
            made = solve() if values is None else whole(values)
            if values is None:
                self._write(key, made)
            with self._lock:
                self.solved += counted and values is None
                self.read += counted and values is not None
            return made

        kept: T = self._memory.get(key, found)
        return kept

    def _read(self, key: str) -> dict[str, Any] | None:
        """Return what the disk has; a damaged file is thrown away."""
        if self.folder is None:
            return None
        path = self.folder / f"{key}.npz"
        try:
            values = read_values(path, _KINDS, key)
            os.utime(path)  # used last
        except FileNotFoundError:
            return None
        except Unreadable as error:
            _log.warning("kept field not used, solved again: %s", error)
            try:
                path.unlink(missing_ok=True)
            except OSError as left:
                _log.warning("it cannot be deleted: %s", left)
            return None
        except OSError as error:
            _log.warning("kept field not used, solved again: %s", error)
            return None
        return values

    def _write(self, key: str, found: Any) -> None:
        """Keep on disk. A full or read-only disk costs the time that would have been saved, and is said once."""
        if self.folder is None:
            return
        values = found
        if not isinstance(found, Mapping):
            values = {item.name: getattr(found, item.name) for item in fields(found) if item.name not in _ANEW}
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            handle, aside = tempfile.mkstemp(dir=self.folder, suffix=".part")
            os.close(handle)
            try:
                write_values(Path(aside), values, _KINDS, key)
                Path(aside).replace(self.folder / f"{key}.npz")
            finally:
                Path(aside).unlink(missing_ok=True)
            prune(self.folder, self.most_bytes)
        except OSError as error:
            if not self._full:
                _log.warning("fields are not kept in %s: %s", self.folder, error.strerror or error)
            self._full = True


def _whole(design: Design, blocks: tuple[Block, ...], sheet: Sheet) -> Callable[[Mapping[str, Any]], Characteristics]:
    """Return what makes characteristics of what is on disk."""

    def whole(values: Mapping[str, Any]) -> Characteristics:
        core = design.core
        _, iron, *_ = saturating_iron(sheet.curve, core.stacking_factor, core.joint, sheet.shunt)
        section = section_of(core, blocks, shunt=design.fitted_shunt)
        return Characteristics(section=section, blocks=blocks, iron=iron, **values)

    return whole


def prune(folder: Path, most_bytes: int) -> None:
    """Delete what a killed process left half written, then the least recently used files beyond this size."""
    known = []
    for file in folder.iterdir():
        try:
            about = file.stat()
        except FileNotFoundError:  # another process was quicker
            continue
        if file.suffix == ".npz":
            known.append((about.st_mtime_ns, about.st_size, file))
        elif file.suffix == ".part" and time.time() - about.st_mtime > ABANDONED:
            file.unlink(missing_ok=True)
    total = sum(size for _, size, _ in known)
    for _, size, file in sorted(known):
        if total <= most_bytes:
            return
        file.unlink(missing_ok=True)
        total -= size
