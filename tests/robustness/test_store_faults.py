"""Stores that are damaged, something else's, of another version, locked or full: a line, and no row lost or wrong."""

import os
import pickle
import sqlite3
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

from fem.cli import run
from fem.sweeps.rows import keeping, store
from fem.sweeps.rows.keeping import Keeping
from fem.sweeps.rows.salvage import salvage
from fem.sweeps.rows.store import APPLICATION, SCHEMA, DamagedStore, Row, Status, Store, StoreError
from tests.support.stand_in import COMMAND

EXAMPLE = str(files("fem.examples") / "bandsaw_brazing.toml")
ROOT = Path(__file__).parents[2]


def row(number: int, size: int = 40) -> Row:
    results = {f"r{k}": number + k / 7 for k in range(size)}
    return Row(
        key=f"key {number}", position=number, point={"n": number}, status=Status.DONE, reason="", results=results
    )


def filled(file: Path, count: int = 60) -> list[Row]:
    rows = [row(n) for n in range(count)]
    with Store(file) as kept:
        kept.add(rows)
    return rows


def edited(file: Path, *statements: str) -> None:
    connection = sqlite3.connect(file)
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE points SET row = replace(row, '3', '4') WHERE position = 7",
        "UPDATE points SET row = (SELECT row FROM points WHERE position = 8) WHERE position = 7",
        """UPDATE points SET row = replace(row, '"done"', '"refused"') WHERE position = 7""",
        "UPDATE points SET row = CAST(x'ff00fe' AS TEXT) WHERE position = 7",
        "UPDATE points SET position = 'seven' WHERE position = 7",
        "UPDATE points SET key = 'key 99' WHERE position = 7",
    ],
)
def test_a_damaged_row_is_none(damage: str, tmp_path: Path) -> None:
    file = tmp_path / "rows.sqlite"
    rows = filled(file)
    edited(file, damage)
    again = Keeping(file, resume=True, job={})
    assert again.notes == [f"1 damaged rows in {file} are computed anew"]
    known = again.known([(r.point, r.key) for r in rows])
    assert known == [r for r in rows if r.position != 7]
    again.add([rows[7]])
    assert again.close() == ""
    last = Keeping(file, resume=True, job={})
    assert last.notes == []
    assert last.known([(r.point, r.key) for r in rows]) == rows
    last.close()


def test_what_is_whole_of_a_damaged_file_goes_on_in_a_new_one(tmp_path: Path) -> None:
    file = tmp_path / "rows.sqlite"
    rows = filled(file)
    content = bytearray(file.read_bytes())
    for page in (11, 12):
        content[4096 * page : 4096 * (page + 1)] = bytes(4096)
    file.write_bytes(content)
    with pytest.raises(DamagedStore, match="is damaged"):
        Store(file)
    again = Keeping(file, resume=True, job={})
    known = again.known([(r.point, r.key) for r in rows])
    again.close()
    assert 30 < len(known) < 60
    assert all(r in rows for r in known)
    (note,) = again.notes
    assert note.endswith(f"{len(known)} of its rows are whole and stay, the damaged file is now {file}.damaged")
    assert (tmp_path / "rows.sqlite.damaged").read_bytes()[100:] == bytes(content[100:])
    assert sorted(found.name for found in tmp_path.iterdir()) == ["rows.sqlite", "rows.sqlite.damaged"]


def test_a_damaged_store_stays_where_no_new_one_can_be_made(tmp_path: Path) -> None:
    file = tmp_path / "rows.sqlite"
    filled(file, 3)
    (tmp_path / "rows.sqlite.new").mkdir()
    with pytest.raises(StoreError, match="damaged, and a new one cannot be made"):
        salvage(file)
    assert file.exists()


def test_it_says_what_it_is_and_what_it_is_not(tmp_path: Path) -> None:
    ours, other = tmp_path / "ours.sqlite", tmp_path / "other.sqlite"
    filled(ours, 1)
    assert int.from_bytes(ours.read_bytes()[68:72], "big") == APPLICATION
    edited(other, "CREATE TABLE birds (name TEXT)")
    before = other.read_bytes()
    with pytest.raises(StoreError, match="an SQLite file of something else"):
        Store(other)
    assert other.read_bytes() == before
    edited(ours, "PRAGMA user_version = 99")
    with pytest.raises(StoreError, match=f"store of version 99, this is version {SCHEMA}: name another file"):
        Store(ours)


def test_a_store_in_use_is_said_and_its_rows_wait(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "PATIENCE", 0.05)
    monkeypatch.setattr(keeping, "AGAIN", 0.0)
    file = tmp_path / "rows.sqlite"
    kept = Keeping(file, resume=False, job={})
    other = sqlite3.connect(file, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreError, match=r"rows\.sqlite is in use by another program"):
        Store(file)
    kept.add([row(1)])
    kept.add([row(2)])
    other.execute("COMMIT")
    kept.add([row(3)])  # now the others go in too
    other.execute("BEGIN IMMEDIATE")
    kept.add([row(4)])
    assert "in use by another program: database is locked: 1 rows are not in it" in kept.close()
    other.close()
    with Store(file) as found:
        assert found.done() == {"key 1", "key 2", "key 3"}


def test_a_log_that_a_killed_process_left_is_taken_over(tmp_path: Path) -> None:
    file = tmp_path / "rows.sqlite"
    code = (
        "import os, pickle, sys; from fem.sweeps.rows.store import Store\n"
        "kept = Store(sys.argv[1]); kept.add(pickle.load(sys.stdin.buffer)); os.kill(os.getpid(), 9)"
    )
    rows = pickle.dumps([row(n) for n in range(9)])
    subprocess.run([sys.executable, "-c", code, str(file)], cwd=ROOT, input=rows, check=False)
    assert Path(f"{file}-wal").stat().st_size > 0
    with Store(file) as kept:
        assert list(kept.rows()) == [row(n) for n in range(9)]


def test_a_full_disk_loses_no_row(tmp_path: Path) -> None:
    """No file may grow beyond 256 kB here, some of the 120 rows; the table of all goes to standard output, a pipe."""
    out = tmp_path / "rows.csv"
    sweep = [sys.executable, *COMMAND, "sweep", EXAMPLE, "--vary", "leads.length=1:2.19:0.01m", "-o"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "REWOUND_CACHE": "off"}

    def limited(where: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["bash", "-c", 'ulimit -f 256; exec "$@"', "bash", *sweep, where, "--store", "rows.sqlite", "-q"],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )

    done = limited("/dev/stdout")
    assert done.returncode == 2
    lines = done.stderr.splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("rewound: rows.sqlite cannot be written: ")
    assert lines[0].endswith(" rows are not in it")
    assert sum(",done," in line for line in done.stdout.splitlines()) == 120
    free = [*sweep, str(out), "--store", "rows.sqlite", "--resume", "-q"]
    again = subprocess.run(free, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    assert "rows taken over" in again.stderr
    assert out.read_text("utf-8").count(",done,") == 120


def test_a_store_that_cannot_be_opened_is_one_line_and_exit_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other.sqlite"
    edited(other, "CREATE TABLE birds (name TEXT)")
    code = run(["sweep", EXAMPLE, "--vary", "leads.length=1:2m", "--store", str(other), "--resume", "-q"])
    assert code == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
