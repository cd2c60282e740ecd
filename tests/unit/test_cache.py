"""Fields kept on disk: the same numbers come back, damage and lack of space cost nothing but time."""

import logging
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import fields
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import ac_slice
from fem.design.job import read_job
from fem.design.sheet import Sheet, sheet_of
from fem.design.transformer import Design
from fem.estimation import provenance
from fem.estimation.by_length import by_length
from fem.estimation.fields import files as cache_files
from fem.estimation.fields import kept as cache
from fem.estimation.fields import source
from fem.estimation.fields.kept import Kept, characteristics_key, default_folder, prune, slice_key, slopes_key
from fem.estimation.fields.source import Solved, lengths_of
from fem.estimation.one_design import estimate
from fem.sweeps.rows.flat import flat
from fem.sweeps.workers import task
from geometries.assembly.by_key import ByKey, by_key
from geometries.shapes.blocks import Block
from geometries.shapes.dual import Dual
from geometries.windings.arrangement import place

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def design() -> Design:
    return read_job(str(files("fem.examples") / "bandsaw_brazing.toml"))


@pytest.fixture(scope="module")
def solved(design: Design, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, object]]:
    """Return a folder that holds the example's field, and its estimate."""
    folder = tmp_path_factory.mktemp("fields")
    kept = Kept(folder=folder)
    found = estimate(design, wanted=frozenset(), characteristics=kept)
    assert (kept.solved, kept.read) == (1, 0)
    return folder, flat(found.to_dict())


def test_what_is_kept_spares_loading_what_solves(moving: tuple[Path, Characteristics, Slopes], tmp_path: Path) -> None:
    """All parts but those with a field of their own: neither meshes nor matrices are needed for them."""
    folder = shutil.copytree(moving[0], tmp_path / "fields")
    code = f"""
import sys, fem
from pathlib import Path
wanted = set(fem.Part) - {{fem.Part.PICTURES, fem.Part.SHORTED_PLACES, fem.Part.CONDUCTOR_SLICE}}
design = fem.example_design().vary("work_piece.switch_off", "0.2 s")  # as much is loaded for a short burst
fem.estimate(design, wanted=wanted, characteristics=fem.Kept(folder=Path({str(folder)!r})))
print(*sys.modules)
"""
    run = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert {"scipy", "skfem", "gmsh", "pint", "matplotlib", "rich"}.isdisjoint(run.stdout.split())


def test_the_last_flux_by_place_is_kept(design: Design, tmp_path: Path) -> None:
    """The solver is replaced by what counts it: the same state is not solved again, another is."""
    kept, solutions = Kept(folder=tmp_path), list[int]()
    blocks, sheet = place(design.core, design.windings), sheet_of(design.core)

    def solve() -> dict[str, float]:
        solutions.append(len(solutions))
        return {"centre leg": float(len(solutions))}

    states = [(1e-3 - 2e-3j, 5e3 + 0j), (1e-3 - 2e-3j, 5e3 + 0j), (1e-3 - 2e-3j, 5e3 + 1e-12j)]
    told = [kept.places(design, blocks, sheet, state, solve=solve)["centre leg"] for state in states]
    assert told == [1.0, 1.0, 2.0]


def equal(a: object, b: object) -> bool:
    if isinstance(a, np.ndarray):
        return isinstance(b, np.ndarray) and a.dtype == b.dtype and np.array_equal(a, b)
    if hasattr(a, "__dataclass_fields__"):
        return type(a) is type(b) and all(equal(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))  # type: ignore[arg-type]
    if isinstance(a, dict):
        return isinstance(b, dict) and a.keys() == b.keys() and all(equal(a[k], b[k]) for k in a)
    if isinstance(a, tuple):
        return isinstance(b, tuple) and len(a) == len(b) and all(map(equal, a, b))
    return type(a) is type(b) and a == b


def test_the_disk_gives_back_every_bit(design: Design, solved: tuple[Path, dict[str, object]]) -> None:
    folder, expected = solved
    kept = Kept(folder=folder)
    assert flat(estimate(design, wanted=frozenset(), characteristics=kept).to_dict()) == expected
    assert (kept.solved, kept.read) == (0, 1)
    blocks, sheet = place(design.core, design.windings), sheet_of(design.core)
    first, _ = kept(design, blocks, sheet, lambda _: None)
    file = next(folder.glob("*.npz"))
    again = Kept(folder=folder)
    second, _ = again(design, blocks, sheet, lambda _: None)
    assert isinstance(first, Characteristics)
    assert equal(first, second)
    assert file.stat().st_size < 200_000


@pytest.mark.parametrize(
    "damage", ["cut short", "a bit flipped", "empty", "text", "another key", "another schema", "other numbers"]
)
def test_a_damaged_file_is_solved_again_and_rewritten(
    damage: str,
    design: Design,
    solved: tuple[Path, dict[str, object]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    """The solver is replaced by what it said before; that it is asked, is the test."""
    source = next(solved[0].glob("*.npz"))
    blocks, sheet = place(design.core, design.windings), sheet_of(design.core)
    genuine, _ = Kept(folder=solved[0])(design, blocks, sheet, lambda _: None)
    good = bytearray(source.read_bytes())
    target = tmp_path / source.name
    if damage == "another schema":
        monkeypatch.setattr(cache_files, "SCHEMA", cache_files.SCHEMA + 1)
    if damage == "another key":
        other = Kept(folder=tmp_path)
        other._write("0" * 64, genuine)
        (tmp_path / f"{'0' * 64}.npz").rename(target)
    elif damage == "other numbers":  # reads well: only the digest tells
        with np.load(source) as file:
            arrays = {name: file[name] for name in file.files}
        np.savez(target, **{name: array[::-1] if array.size > 1 else array for name, array in arrays.items()})
        with target.open("ab") as end:
            end.write(good[-32:])
    elif damage == "a bit flipped":
        good[len(good) // 2] ^= 1
        target.write_bytes(good)
    else:
        target.write_bytes({"cut short": good[:-500], "empty": b"", "text": b"not a field"}.get(damage, good))
    monkeypatch.setattr(cache, "solve_characteristics", lambda *_: (genuine, None))
    kept = Kept(folder=tmp_path)
    with caplog.at_level(logging.WARNING):
        kept(design, blocks, sheet, lambda _: None)
    assert kept.solved == 1
    assert "solved again" in caplog.text
    after = Kept(folder=tmp_path)
    after(design, blocks, sheet, lambda _: None)
    assert (after.solved, after.read) == (0, 1)
    assert not list(tmp_path.glob("*.part"))


def test_no_flipped_bit_is_read(solved: tuple[Path, dict[str, object]], tmp_path: Path) -> None:
    """In the zip file's own tables too, which no checksum of its members covers."""
    source = next(solved[0].glob("*.npz"))
    good, file = source.read_bytes(), tmp_path / source.name
    assert cache_files._opened(source)
    for bit in range(0, 8 * len(good), 997):
        bad = bytearray(good)
        bad[bit // 8] ^= 1 << bit % 8
        file.write_bytes(bad)
        with pytest.raises(cache_files.Unreadable, match="digest"):
            cache_files._opened(file)


def test_a_damaged_file_is_thrown_away_even_if_nothing_takes_its_place(
    design: Design, solved: tuple[Path, dict[str, object]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    file = tmp_path / next(solved[0].glob("*.npz")).name
    file.write_bytes(b"not a field")
    monkeypatch.setattr(cache, "solve_characteristics", stopped)
    with pytest.raises(KeyboardInterrupt):
        Kept(folder=tmp_path)(design, place(design.core, design.windings), sheet_of(design.core), lambda _: None)
    assert not file.exists()


def thick(design: Design) -> Design:
    """Return the design with a secondary of six turns of one solid wire, thicker than a skin depth."""
    given = design.model_dump(exclude_unset=True)
    given["windings"]["secondary"] |= {"turns": 6, "wires_in_hand": 1, "conductor": {"round": 0.0105}}
    return Design.model_validate(given)


def test_a_slice_of_solid_conductors_is_solved_once_for_all_that_hangs_on_it(
    design: Design, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Leads, loads and supplies do not touch it; the numbers are those of a slice solved anew, to the last bit."""
    calls = []
    genuine = cache.ac_slice
    monkeypatch.setattr(cache, "ac_slice", lambda *a, **k: calls.append(1) or genuine(*a, **k))
    solid, kept = thick(design), Kept(folder=tmp_path)
    same = {
        "leads.length": 2.0,
        "load.resistance": 1e-3,
        "mains.voltage": 225.0,
    }
    variants = [solid, *(solid.vary(path, value) for path, value in same.items())]
    found = [flat(estimate(v, wanted=frozenset(), characteristics=kept).to_dict()) for v in variants]
    assert len(calls) == 1
    again = Kept(folder=tmp_path)
    assert flat(estimate(variants[1], wanted=frozenset(), characteristics=again).to_dict()) == found[1]
    assert (len(calls), again.solved, again.read) == (1, 0, 2)
    anew = SlicesAnew(again)
    assert flat(estimate(variants[1], wanted=frozenset(), characteristics=anew).to_dict()) == found[1]


class SlicesAnew:
    """Kept characteristics; slices are solved each time."""

    slices = staticmethod(ac_slice)

    def __init__(self, kept: Kept) -> None:
        self.kept = kept

    def __call__(self, *given):  # type: ignore[no-untyped-def]
        return self.kept(*given)


def test_what_a_slice_depends_on_and_what_not(design: Design) -> None:
    solid = thick(design)
    for name, height, build in (("primary", 0.031, 0.0225), ("secondary", 0.036, 0.0236)):
        solid = solid.vary(f"windings.{name}.height", height).vary(f"windings.{name}.build", build)

    def key(found: Design, frequency: float = 50.0, temperature: float = 300.0, transposed: bool = True) -> str:
        return slice_key(
            AcState(
                found.core,
                (found.windings.primary, found.windings.secondary),
                place(found.core, found.windings),
                frequency=frequency,
                temperature=temperature,
                transposed=transposed,
                shunt=found.fitted_shunt,
            )
        )

    for path, value in {"leads.length": 2.0, "load.resistance": 1e-3, "mains.voltage": 115.0}.items():
        assert key(solid.vary(path, value)) == key(solid), path
    other = [key(solid, frequency=60.0), key(solid, temperature=301.0), key(solid, transposed=False)]
    other += [key(replace_core(solid, name, CORE[name])) for name in ("window_width",)]
    changed = {
        "windings.secondary.turns": 5,
        "windings.secondary.material": "aluminium",
        "windings.secondary.height": 0.0361,
        "windings.primary.turns": 225,
        "windings.leg_clearance": 1.6e-3,
    }
    other += [key(solid.vary(path, value)) for path, value in changed.items()]
    assert len({key(solid), *other}) == len(other) + 1


def test_a_folder_that_cannot_be_written_costs_only_time(
    design: Design, tmp_path: Path, solved: tuple[Path, dict[str, object]], monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    blocks, sheet = place(design.core, design.windings), sheet_of(design.core)
    genuine, _ = Kept(folder=solved[0])(design, blocks, sheet, lambda _: None)
    monkeypatch.setattr(cache, "solve_characteristics", lambda *_: (genuine, None))
    kept = Kept(folder=tmp_path / "file")
    kept(design, blocks, sheet, lambda _: None)
    assert kept.solved == 1


def test_what_a_field_depends_on_and_what_not(design: Design) -> None:
    """As physics has it: no turns, wires of the same block, leads, loads, supply; but core, joint, steel, blocks."""
    fixed = design.vary("windings.secondary.wires_in_hand", 7)  # more than are placed one by one
    fixed = fixed.vary("windings.secondary.conductor", {"cable": "6 mm2", "insulated": "5.5 mm"})
    for name, height, build in (("primary", 0.031, 0.0225), ("secondary", 0.0339, 0.0226)):
        fixed = fixed.vary(f"windings.{name}.height", height).vary(f"windings.{name}.build", build)

    def key(found: Design) -> str:
        return characteristics_key(found, place(found.core, found.windings), sheet_of(found.core, found.fitted_shunt))

    same = {
        "windings.primary.turns": 225,
        "windings.secondary.turns": 2,
        "leads.length": 2.0,
        "mains.frequency": 60.0,
        "mains.voltage": 115.0,
        "load.resistance": 1e-3,
        "temperature": 330.0,
    }
    for path, value in same.items():
        assert key(fixed.vary(path, value)) == key(fixed), path
    other = [key(replace_core(fixed, name, value)) for name, value in CORE.items()]
    other += [key(fixed.vary("windings.primary.height", 0.0305)), key(fixed.vary("windings.leg_clearance", 1.6e-3))]
    other += [key(fixed.vary("windings.end_clearance", 4e-3))]
    assert len({key(fixed), *other}) == len(other) + 1
    few = design.vary("windings.secondary.wires_in_hand", 1)
    lays = [few.vary("windings.secondary.lay", lay) for lay in ("2 + 1", "1 + 2", "along")]
    assert len({key(found) for found in (few.vary("windings.secondary.turns", 2), *lays)}) == 4
    assert key(few) == key(lays[0])  # what is taken, told


CORE = {
    "stack_depth": 0.065,
    "stacking_factor": 0.94,
    "window_width": 0.0265,
    "joint_gap": 2e-4,
    "joint": "interleaved",
    "steel": "M800-65A",
}


def replace_core(design: Design, name: str, value: object) -> Design:
    """Return the design with one key of its core changed."""
    given = design.model_dump(exclude_unset=True)
    given["core"][name] = value
    return Design.model_validate(given)


def test_bounded_on_disk_by_last_use(tmp_path: Path) -> None:
    import os

    for k in range(6):
        file = tmp_path / f"{k}.npz"
        file.write_bytes(bytes(100))
        os.utime(file, (1000 + k, 1000 + k))
    os.utime(tmp_path / "0.npz")
    prune(tmp_path, 350)
    assert sorted(f.name for f in tmp_path.glob("*.npz")) == ["0.npz", "4.npz", "5.npz"]


def test_what_a_killed_process_began_to_write_goes_and_what_another_writes_stays(tmp_path: Path) -> None:
    import os

    for name, age in (("old.part", 2 * cache.ABANDONED), ("new.part", 1.0), ("old.txt", 2 * cache.ABANDONED)):
        file = tmp_path / name
        file.write_bytes(bytes(10))
        os.utime(file, (file.stat().st_mtime - age,) * 2)
    prune(tmp_path, 350)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["new.part", "old.txt"]


def test_bounded_in_memory(design: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "solve_characteristics", lambda _, blocks, *__: (SimpleNamespace(blocks=blocks), None))
    kept = Kept(capacity=2)
    for depth in (0.06, 0.061, 0.062, 0.062, 0.06):
        other = replace_core(design, "stack_depth", depth)
        kept(other, place(other.core, other.windings), sheet_of(other.core), lambda _: None)
    assert kept.solved == 4  # 0.06 had to go
    assert len(kept._memory) == 2


def test_the_folder_follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("REWOUND_CACHE", str(tmp_path))
    assert default_folder() == tmp_path
    for word in ("off", "0", ""):
        monkeypatch.setenv("REWOUND_CACHE", word)
        assert default_folder() is None
    monkeypatch.delenv("REWOUND_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "rewound" / "fields"


def test_values_of_other_kinds_are_refused(tmp_path: Path) -> None:
    with pytest.raises(TypeError, match="cannot be kept"):
        cache_files.write_values(tmp_path / "x.npz", {"a": object()}, (), "k")


@pytest.mark.parametrize(
    "file", ["constants.py", "circuit/leads/mean_distance.py", "materials/insulation.csv", "materials/metals.csv"]
)
def test_any_source_changed_is_another_digest(file: str, tmp_path: Path) -> None:
    """Also one that no field, or only a part of the estimate, depends on: what does is nobody's list to keep."""
    for package in ("fem", "geometries"):
        shutil.copytree(ROOT / package, tmp_path / package, ignore=shutil.ignore_patterns("__pycache__"))
    whole = provenance.computed_by.__wrapped__
    before = whole(tmp_path)
    assert before == provenance.computed_by()
    changed = tmp_path / "fem" / file
    changed.write_bytes(changed.read_bytes() + b"\n")
    assert whole(tmp_path) != before


def test_other_sources_are_another_key_of_fields_and_of_points(design: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    def keys() -> set[str]:
        field = characteristics_key(design, place(design.core, design.windings), sheet_of(design.core))
        return {field, task.point_key({}, frozenset())}

    before = keys()
    for module in (cache, task):
        monkeypatch.setattr(module, "computed_by", lambda: "other")
    assert not before & keys()


def at(design: Design) -> tuple[Design, tuple[Block, ...], Sheet, Callable[[str], None]]:
    """Return what a source is asked with."""
    return design, place(design.core, design.windings), sheet_of(design.core, design.fitted_shunt), lambda _: None


@pytest.fixture(scope="module")
def moving(design: Design, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Characteristics, Slopes]:
    """Return a folder that holds the example's field and its derivatives, solved together, and both."""
    kept = Kept(folder=tmp_path_factory.mktemp("moving"))
    slopes, (found, _) = kept.slopes(*at(design)), kept(*at(design))
    assert (kept.solved, kept.read) == (1, 0)
    assert kept.folder is not None
    return kept.folder, found, slopes


def test_derivatives_are_kept_and_cost_the_field_no_digit(
    design: Design, solved: tuple[Path, dict[str, object]], moving: tuple[Path, Characteristics, Slopes]
) -> None:
    folder, found, slopes = moving
    assert equal(found, Kept(folder=solved[0])(*at(design))[0])
    again = Kept(folder=folder)
    assert equal(again.slopes(*at(design)), slopes)
    assert equal(again(*at(design))[0], found)
    assert (again.solved, again.read) == (0, 2)
    assert len(list(folder.glob("*.npz"))) == 2


def test_what_each_length_does_follows_from_what_is_kept_without_loading_what_solves(
    design: Design, moving: tuple[Path, Characteristics, Slopes], tmp_path: Path
) -> None:
    folder = shutil.copytree(moving[0], tmp_path / "fields")
    told = by_length(design, source=Kept(folder=folder))  # which adds the slice
    code = f"""
import sys, fem
from pathlib import Path
from fem.estimation.by_length import by_length
print(repr(by_length(fem.example_design(), source=fem.Kept(folder=Path({str(folder)!r})))), *sys.modules, sep="\\n")
"""
    run = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert run.stdout.splitlines()[0] == repr(told)
    assert {"scipy", "skfem", "gmsh", "pint", "matplotlib", "rich"}.isdisjoint(run.stdout.split())


@pytest.mark.parametrize("lost", ["derivatives torn", "derivatives never solved", "field torn"])
def test_what_is_lost_is_solved_again_and_the_other_is_taken(
    lost: str,
    design: Design,
    moving: tuple[Path, Characteristics, Slopes],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The solvers are replaced by what they said before; which of them is asked, is the test."""
    folder, found, slopes = moving
    field = characteristics_key(*at(design)[:3])
    for file in folder.glob("*.npz"):
        of_field = file.stem == field
        if of_field or lost != "derivatives never solved":
            torn = of_field == (lost == "field torn")
            (tmp_path / file.name).write_bytes(file.read_bytes()[: -900 if torn else None])
    asked = []
    monkeypatch.setattr(cache, "solve_characteristics", lambda *_: asked.append("field") or (found, None))
    monkeypatch.setattr(cache, "solve_with_slopes", lambda *_: asked.append("derivatives") or (found, None, slopes))
    kept = Kept(folder=tmp_path)
    assert equal(kept.slopes(*at(design)), slopes)
    assert equal(kept(*at(design))[0], found)
    assert asked == ["field" if lost == "field torn" else "derivatives"]
    assert len(list(tmp_path.glob("*.npz"))) == 2


def test_what_derivatives_depend_on_besides_the_field(design: Design) -> None:
    """Turns in a block of given sizes leave them alone; a length that is given and one that follows are not the same.

    With the height of a block given, it no longer follows the window's; the field itself is that of the same section.
    """

    def keys(found: Design) -> tuple[str, str]:
        field = characteristics_key(*at(found)[:3])
        return field, slopes_key(field, by_key(found.core, found.windings, found.fitted_shunt))

    given = design.vary("windings.secondary.wires_in_hand", 7)  # more than are placed one by one
    for name, height, build in (("primary", 0.031, 0.0225), ("secondary", 0.0339, 0.0226)):
        given = given.vary(f"windings.{name}.height", height).vary(f"windings.{name}.build", build)
    given = given.vary("windings.secondary.conductor", {"cable": "6 mm2", "insulated": "5.5 mm"})
    assert keys(given.vary("windings.primary.turns", 225)) == keys(given)
    told = given.vary("windings.end_clearance", given.windings.inner_end_clearance)
    assert keys(told)[0] == keys(given)[0]
    assert keys(told)[1] != keys(given)[1]
    assert set(keys(given.vary("core.stack_depth", 0.065))).isdisjoint(keys(given))


def test_fields_that_are_not_kept_are_solved_once_with_their_derivatives(
    design: Design, moving: tuple[Path, Characteristics, Slopes], monkeypatch: pytest.MonkeyPatch
) -> None:
    _, found, slopes = moving
    monkeypatch.setattr(source, "solve_characteristics", lambda *_: ("solved", None))
    monkeypatch.setattr(source, "solve_with_slopes", lambda *_: (found, None, slopes))
    solving, own, other = Solved(), at(design), at(design)
    assert solving.slopes(*own) is slopes
    assert solving(*own)[0] is found
    assert solving(*own)[0] == "solved"
    assert solving.slopes(*own) is slopes
    assert solving(*other)[0] == "solved"  # another case's


def test_derivatives_by_one_length_alone_are_those_by_all(design: Design) -> None:
    """Of structures and of what is kept under which key; a column of each derivative."""
    lengths = lengths_of(design)
    at = lengths.keys.index("core.window_height")
    alone = lengths_of(design, "core.window_height")
    pairs = [(a, b) for a, b in zip(_numbers(lengths), _numbers(alone), strict=True) if isinstance(a, Dual)]
    assert len(pairs) > 50
    assert all(b.value == a.value and b.grad.tolist() == [a.grad[at]] for a, b in pairs)
    assert slopes_key("field", alone) != slopes_key("field", lengths_of(design, "core.yoke_height"))


def _numbers(lengths: ByKey) -> list[Any]:
    def walk(part: Any) -> Iterator[Any]:
        inner = part if isinstance(part, tuple) else [getattr(part, item.name) for item in fields(part)]
        for item in inner:
            if isinstance(item, tuple) or (hasattr(item, "__dataclass_fields__") and not isinstance(item, Dual)):
                yield from walk(item)
            else:
                yield item

    return [number for part in (lengths.frame, lengths.blocks, lengths.section) for number in walk(part)]
