"""Files that are no job and no table: refused at once, in lines of bounded length, and without waiting."""

import io
import os
import socket
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest

from fem.cli import run
from fem.design.job import read_job
from fem.design.tables import MOST_BYTES, MOST_FAULTS, MOST_VALUES, JobError, read_tables

EXAMPLE = (files("fem") / "examples" / "bandsaw_brazing.toml").read_text("utf-8")
SECONDS = 2.0
NO_FILE = "not a plain file but a pipe, a socket or a device"


def lines_of(path: str | Path) -> tuple[str, ...]:
    """Return the faults of a job file, without its name."""
    started = time.process_time()
    with pytest.raises(JobError) as caught:
        read_job(path)
    assert time.process_time() - started < SECONDS
    lines = caught.value.lines
    assert 1 <= len(lines) <= MOST_FAULTS + 1
    assert all("\n" not in line and len(line.removeprefix(str(path))) < 400 for line in lines)
    return tuple(line.removeprefix(f"{path}: ") for line in lines)


def written(folder: Path, content: str | bytes) -> Path:
    job = folder / "job.toml"
    job.write_bytes(content if isinstance(content, bytes) else content.encode())
    return job


def leg(width: str) -> str:
    return edited('leg_width = "52 mm"', f'leg_width = "{width}"')


def edited(old: str, new: str) -> str:
    assert old in EXAMPLE
    return EXAMPLE.replace(old, new, 1)


@pytest.fixture
def special(tmp_path: Path):
    """Return a pipe nobody writes into, a socket, a device without end, a file of 100 GB that takes no room."""
    os.mkfifo(tmp_path / "pipe")
    server = socket.socket(socket.AF_UNIX)
    server.bind(str(tmp_path / "socket"))
    with (tmp_path / "large").open("wb") as file:
        file.truncate(10**11)
    (tmp_path / "loop").symlink_to("loop")
    yield {name: tmp_path / name for name in ("pipe", "socket", "large", "loop")} | {"device": Path("/dev/zero")}
    server.close()


KINDS = {
    "pipe": NO_FILE,
    "socket": NO_FILE,
    "device": NO_FILE,
    "large": "it holds more than {} kB",
    "loop": "Too many levels of symbolic links",
}


@pytest.mark.parametrize("kind", KINDS)
def test_what_is_no_plain_file_is_neither_job_nor_table(tmp_path, special, kind):
    reason = KINDS[kind]
    assert lines_of(special[kind]) == (f"cannot be read: {reason.format(100)}",)
    table = edited('steel = "M530-50A"', f'bh_table = "{special[kind]}"')
    (line,) = lines_of(written(tmp_path, table))
    assert line == f"core.bh_table: {special[kind]} cannot be read: {reason.format(1000)}"


@pytest.mark.parametrize("command", [("estimate",), ("card",), ("sweep", "--vary", "leads.length=1:2m")])
def test_every_command_refuses_a_pipe(special, capsys, command):
    name, *options = command
    assert run([name, str(special["pipe"]), *options]) == 2
    assert capsys.readouterr() == ("", f"{special['pipe']}: cannot be read: {NO_FILE}\n")


def test_a_sweep_over_tables_does_not_wait_for_one(special, capsys):
    job = written(special["pipe"].parent, EXAMPLE.replace('steel = "M530-50A"', "", 1))
    assert run(["sweep", str(job), "-q", "--vary", f"core.bh_table={special['pipe']}"]) == 1
    assert "no row meets the conditions" in capsys.readouterr().out


class Piped(io.TextIOWrapper):
    """What a pipe brings to standard input."""

    def __init__(self, content: str) -> None:
        super().__init__(io.BytesIO(content.encode()), encoding="utf-8")


COMMANDS = [("estimate",), ("card",), ("sweep", "--vary", "leads.length=1:2m")]


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    ("content", "line"),
    [
        ("#" * (MOST_BYTES + 1), "cannot be read: it holds more than 100 kB\n"),
        ("turns =", "line 1: not TOML: invalid value\n"),
        ("voltage = 1.0.0", "line 1: not TOML: "),
    ],
)
def test_what_is_no_job_is_refused_from_standard_input_too(capsys, monkeypatch, command, content, line):
    monkeypatch.setattr(sys, "stdin", Piped(content))
    name, *options = command
    assert run([name, "-", *options]) == 2
    out, err = capsys.readouterr()
    assert (out, err[: len(line) + 16]) == ("", f"standard input: {line}")


def test_without_standard_input_nothing_is_there(capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", None)
    assert run(["estimate", "-"]) == 2
    assert capsys.readouterr().err.startswith("standard input: mains: missing\n")


def test_a_job_from_standard_input_is_the_job(monkeypatch):
    monkeypatch.setattr(sys, "stdin", Piped(EXAMPLE))
    assert read_job("-") == read_job(Path(str(files("fem") / "examples" / "bandsaw_brazing.toml")))
    assert read_tables("-") == read_tables("-")  # a pipe gives it once, a sweep looks twice


TEXTS = {
    "brackets": ("a=" + 40_000 * "[", "brackets are nested too deeply"),
    "nested": ("a=" + 200 * "[" + 200 * "]", "a: nested deeper than 10 tables"),
    "tables": ("[" + 15 * "a." + "a]", "a.a.a.a.a.a.a.a.a.a.a: nested deeper than 10 tables"),
    "dotted key": (
        "a" + 40_000 * ".a" + "=1",
        "line 1: more than 30 dots outside of texts; no key has that many parts",
    ),
    "quoted dots": ('a = "' + 2000 * ".'\\\"" + '"', "a: a text of 6000 characters, "),
    "open quotes": ("#\n" + 30_000 * '"\\' + 40 * ".", "line 2: not TOML: "),
    "dotted header": ("\n".join([f"[{29 * 'a.'}a]", *(f"{29 * 'a.'}k{i}=1" for i in range(1500))]), "a.a."),
    "values": ("\n".join(f"k{i}=1" for i in range(9000)), f"more than {MOST_VALUES} values; this is no job file"),
    "list": ("a=[" + 40_000 * "1," + "]", f"more than {MOST_VALUES} values; this is no job file"),
    "long": ("#" * (MOST_BYTES + 1), "cannot be read: it holds more than 100 kB"),
    "empty": ("", "mains: missing"),
    "NUL": (b"\0" * 5000, "line 1: not TOML: invalid statement"),
    "UTF-16": (EXAMPLE.encode("utf-16"), "line 1: byte 0xFF is not UTF-8; save the file as UTF-8 text"),
    "twice": (
        edited("turns = 236", "turns = 236\nturns = 4"),
        f"line {EXAMPLE.splitlines().index('turns = 236') + 2}: not TOML: cannot overwrite a value",
    ),
    "long name twice": (f"[{'k' * 40_000}]\n[{'k' * 40_000}]\n", "line 2: not TOML: cannot declare ('kkk"),
    "month 13": ("a = 2000-13-01", "line 1: not TOML: "),
    "title": (edited('title = "', f'title = "{50_000 * "k"}'), "title: a text of 50028 characters"),
    "curly quotes": (
        edited('leg_width = "52 mm"', "leg_width = \u201c52 mm\u201d"),
        f"line {EXAMPLE[: EXAMPLE.index('leg_width = ')].count(chr(10)) + 1}: not TOML: invalid value; "
        'write straight quotes: "52 mm"',
    ),
    "escape": (
        edited('title = "', 'title = "\\u001b[2J'),
        "title: holds a character that cannot be read, U+001B",
    ),
    "date": (
        edited('voltage = "230 V"', "voltage = 1979-05-27"),
        'mains.voltage: expected a voltage with its unit, such as "230 V"; got 1979-05-27',
    ),
    "infinite": (edited("turns = 236", "turns = inf"), "windings.primary.turns: expected a whole number; got inf"),
    "no number": (
        edited("stacking_factor = 0.95", "stacking_factor = nan"),
        "core.stacking_factor: expected a fraction; got nan, which is not a finite number",
    ),
    "digits": (
        leg(900 * "1" + " mm"),
        'core.leg_width: expected a length; got "1111',
    ),
    "power": (
        leg("1 m**999999999"),
        "core.leg_width: expected a length with its unit",
    ),
    "tower": (
        leg("9**9**9 mm"),
        "core.leg_width: expected a length with its unit",
    ),
    "other digits": (
        leg("\u0664\u0668 mm"),
        "core.leg_width: expected a length with its unit",
    ),
    "other letters": (
        leg("48 \u043c\u043c"),
        "core.leg_width: expected a length with its unit",
    ),
    "breaker": (edited('"B16"', f'"{900 * "1"}"'), 'mains.breaker: expected a breaker such as "B16"'),
}


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_that_is_no_job(tmp_path, name):
    content, beginning = TEXTS[name]
    assert lines_of(written(tmp_path, content))[0].startswith(beginning)


def test_no_more_faults_are_told_than_one_can_read(tmp_path):
    lines = lines_of(written(tmp_path, "\n".join(f"{100 * 't'}{i} = 1" for i in range(400))))
    assert len(lines) == MOST_FAULTS + 1
    assert lines[-1] == f"and {403 - MOST_FAULTS} more faults"


ROWS = {
    "long line": (b"x" * 900_000, "t.csv, line 1: header is 'xxx"),
    "long row": (b"H_A_per_m,B_T\n" + b"1," * 400_000, "t.csv, line 2: '1,1,1"),
    "not UTF-8": (b"H_A_per_m,B_T\n0,0\n\xff", "t.csv, line 3: byte 1 is not UTF-8 text"),
    "no number": (b"H_A_per_m,B_T\n0,0\nnan,1\n2,3", "t.csv, line 3: nan A/m, 1 T is not finite"),
    "beyond": (b"H_A_per_m,B_T\n0,0\n100,1\n1e9,1258", "t.csv, line 4: 1e+09 A/m, 1258 T is beyond 1e+07 A/m"),
    "steep": (b"H_A_per_m,B_T\n0,0\n1e-300,1\n200,2", "t.csv, line 3: 1e-300 A/m, 1 T is steeper than 1e+07 times"),
    "nothing": (b"", "t.csv: the file has no table"),
}


@pytest.mark.parametrize("name", ROWS)
def test_a_table_that_is_none(tmp_path, name):
    content, beginning = ROWS[name]
    (tmp_path / "t.csv").write_bytes(content)
    (line,) = lines_of(written(tmp_path, edited('steel = "M530-50A"', 'bh_table = "t.csv"')))
    assert line.startswith(f"core.bh_table: {beginning}")


def test_other_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path):
    (tmp_path / "t.csv").write_bytes(b"\xef\xbb\xbfH_A_per_m,B_T\r\n0,0\r\n100,1\r\n5000,1.6\r\n")
    text = edited('steel = "M530-50A"', 'bh_table = "t.csv"').replace("\n", "\r\n")
    assert read_job(written(tmp_path, "\ufeff" + text)).windings.secondary.turns == 3
