"""Kept fields and stores, damaged in every way a disk or a hand can: no crash, and no number but the right one."""

from __future__ import annotations

import random
import sqlite3
from collections import Counter
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from unittest.mock import patch

from fem.design.job import read_job
from fem.design.tables import read_tables
from fem.estimation.fields import kept as cache
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.flat import flat
from fem.sweeps.rows.keeping import Keeping
from fem.sweeps.rows.store import StoreError

EXAMPLE = files("fem.examples") / "bandsaw_brazing.toml"
POINTS = 24


def _flipped(good: bytes, draw: random.Random) -> bytes:
    bad = bytearray(good)
    for _ in range(draw.choice((1, 1, 1, 3, 40))):
        bad[draw.randrange(len(bad))] ^= 1 << draw.randrange(8)
    return bytes(bad)


def _cut(good: bytes, draw: random.Random) -> bytes:
    return good[: draw.randrange(len(good))]


def _zeroed(good: bytes, draw: random.Random) -> bytes:
    start, length = draw.randrange(len(good)), draw.choice((16, 512, 4096, 20_000))
    return good[:start] + bytes(len(good[start : start + length])) + good[start + length :]


def _swapped(good: bytes, draw: random.Random) -> bytes:
    size = draw.choice((8, 512, 4096))
    chunks = [good[k : k + size] for k in range(0, len(good), size)]
    a, b = draw.randrange(len(chunks)), draw.randrange(len(chunks))
    chunks[a], chunks[b] = chunks[b], chunks[a]
    return b"".join(chunks)


def _grown(good: bytes, draw: random.Random) -> bytes:
    return good + draw.randbytes(draw.choice((1, 32, 4096)))


def _something_else(good: bytes, draw: random.Random) -> bytes:
    return draw.choice((b"", b"\0" * 5000, draw.randbytes(5000), EXAMPLE.read_bytes(), good[::-1]))


DAMAGES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _flipped,
    _flipped,
    _cut,
    _zeroed,
    _swapped,
    _grown,
    _something_else,
)


def damaged_fields(count: int, seed: int, folder: Path) -> list[str]:
    """Damage a kept field as many times and estimate with it; return what was wrong."""
    design = read_job(str(EXAMPLE))
    estimate(design, wanted=frozenset(), characteristics=Kept(folder=folder))
    expected = flat(estimate(design, wanted=frozenset(), characteristics=Kept(folder=folder)).to_dict())
    (file,) = folder.glob("*.npz")
    good = file.read_bytes()
    draw, wrong = random.Random(seed), []
    genuine = Kept(folder=folder)
    estimate(design, wanted=frozenset(), characteristics=genuine)
    (solved,) = genuine._memory._values().values()
    ends: Counter[str] = Counter()
    for number in range(count):
        damage = draw.choice(DAMAGES)
        bad = damage(good, draw)
        file.write_bytes(bad)
        kept = Kept(folder=folder)
        with (
            patch.object(cache, "solve_characteristics", lambda *_: (solved, None)),  # as it was, in no time
            patch.object(cache._log, "warning"),  # thousands of them
        ):
            found = flat(estimate(design, wanted=frozenset(), characteristics=kept).to_dict())
        ends["read" if kept.read else "solved"] += 1
        if found != expected or bool(kept.read) != (bad == good) or file.read_bytes() != good:
            wrong.append(f"field {number}, {damage.__name__}: read {kept.read}")
            file.write_bytes(good)
    print(f"\n{count} damaged fields: {ends['solved']} solved anew, {ends['read']} not changed; {len(wrong)} wrong")  # noqa: T201
    return wrong


def damaged_stores(count: int, seed: int, folder: Path) -> list[str]:
    """Damage a store as many times and resume with it; return what was wrong."""
    job = read_tables(Path(str(EXAMPLE)))
    points = [{"leads.length": f"{1 + k / 10:g} m"} for k in range(POINTS)]
    rows = [row for some in sweep(varied(job, points), job_file=True) for row in some]
    every = [(row.point, row.key) for row in rows]
    right = {row.key: row for row in rows}
    file = folder / "rows.sqlite"
    kept = Keeping(file, resume=False, job=job)
    kept.add(list(rows))
    kept.close()
    good, draw = file.read_bytes(), random.Random(seed)
    wrong, ends = [], Counter[str]()
    for number in range(count):
        for left in folder.iterdir():
            left.unlink()
        damage = draw.choice(DAMAGES)
        file.write_bytes(damage(good, draw))
        try:
            kept = Keeping(file, resume=True, job=job)
            found = kept.known(every)
            missing = [row for row in rows if row not in found]
            kept.add(list(missing))
            left_over = kept.close()
            again = Keeping(file, resume=True, job=job)
            whole = again.known(every)
            again.close()
        except StoreError as error:
            ends["refused"] += 1
            if "\n" in str(error):
                wrong.append(f"store {number}, {damage.__name__}: more than a line: {error}")
            continue
        except (sqlite3.Error, ValueError, TypeError, KeyError, OSError) as error:
            wrong.append(f"store {number}, {damage.__name__}: {type(error).__name__}: {error}")
            continue
        ends["whole" if not missing else "in part"] += 1
        if any(right[row.key] != row for row in found) or len({row.key for row in found}) != len(found):
            wrong.append(f"store {number}, {damage.__name__}: a wrong or doubled row")
        if whole != rows or left_over:
            wrong.append(f"store {number}, {damage.__name__}: not whole after resuming: {left_over}")
    told = ", ".join(f"{ends[name]} {name}" for name in ("whole", "in part", "refused"))
    print(f"\n{count} damaged stores of {POINTS} rows: {told}; {len(wrong)} wrong")  # noqa: T201
    return wrong
