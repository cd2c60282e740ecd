"""What is written: nothing that is read or was written is lost; what cannot be written is told before the work."""

import errno
import os
import resource
import signal
import stat
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

import fem.estimation.card
import fem.estimation.one_design
import fem.report.figures.estimate
import fem.sweeps.run
import fem.verification.run
from fem.cli import run
from fem.report.files.whole import check_writable, replacing, write_text
from fem.report.text.sweep import write_csv
from fem.sweeps.rows.store import Row, Status, Store

BUILT_IN = Path(fem.__path__[0], "examples", "bandsaw_brazing.toml")
EXAMPLE = BUILT_IN.read_text("utf-8")
TABLE = "H_A_per_m,B_T\n0,0\n100,0.8\n5000,1.6\n50000,2.0\n"
ROW = Row(key="k", position=0, point={"leads.length": "1 m"}, status=Status.DONE, reason="", results={"a_A": 1.0})


@pytest.fixture
def bench(monkeypatch, tmp_path):
    """Stand in a folder with a job and its B-H table; return a list of what was worked at."""
    worked = []
    monkeypatch.chdir(tmp_path)
    (tmp_path / "my.toml").write_text(EXAMPLE.replace('steel = "M530-50A"', 'bh_table = "curve.csv"'), "utf-8")
    (tmp_path / "curve.csv").write_text(TABLE, "utf-8")

    def work(*_, **__):
        worked.append(1)
        raise KeyboardInterrupt

    for module, name in (
        (fem.estimation.one_design, "estimate"),
        (fem.estimation.card, "card"),
        (fem.verification.run, "verify"),
        (fem.sweeps.run, "run_sweep"),
    ):
        monkeypatch.setattr(module, name, work)
    return worked


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ("estimate my.toml --json my.toml", "--json my.toml would replace the job file, my.toml"),
        ("estimate my.toml --json link.toml", "--json link.toml would replace the job file, my.toml"),
        ("estimate my.toml --vtu hard.toml", "--vtu hard.toml would replace the job file, my.toml"),
        ("estimate my.toml --vtu ./curve.csv", "--vtu curve.csv would replace the B-H table, "),
        ("estimate job.svg --fields . --json no_load.vtu", "--fields no_load.vtu are in each other's way"),
        ("estimate my.toml --sheet my.toml", "--sheet my.toml would replace the job file, my.toml"),
        ("estimate my.toml --sheet new --json ./new", "--json new and --sheet new are in each other's way"),
        ("estimate my.toml --sheet nowhere/x", "cannot write nowhere/x: No such file or directory"),
        ("estimate my.toml --sheet - --json -", "standard output takes one of them"),
        ("estimate my.toml --json new --vtu ./new", "--json new and --vtu new are in each other's way"),
        ("estimate my.toml --json dangling --vtu new", "--json dangling and --vtu new are in each other's way"),
        ("estimate my.toml --json new --figures new", "--json new and --figures new/cross-section.svg are in each"),
        ("estimate my.toml --json pictures/flux-density.png --figures pictures", "are in each other's way"),
        ("estimate job.svg --figures .", "--figures cross-section.svg would replace the job file, job.svg"),
        ("card my.toml --json my.toml", "--json my.toml would replace the job file, my.toml"),
        ("sweep my.toml --vary leads.length=1:2m -o my.toml", "-o my.toml would replace the job file, my.toml"),
        ("sweep my.toml --vary leads.length=1:2m -o curve.csv", "-o curve.csv would replace the B-H table, "),
        ("sweep my.toml --vary core.bh_table=curve.csv,hard.csv -o hard.csv", "-o hard.csv would replace the B-H"),
        ("sweep my.toml --vary leads.length=1:2m -o my.sqlite", "-o my.sqlite and the sweep's store my.sqlite are in"),
        ("sweep my.toml --vary leads.length=1:2m -o a-wal --store a", "-o a-wal and the sweep's store a-wal are in"),
        ("sweep my.toml --vary leads.length=1:2m --store my.toml", "the sweep's store my.toml would replace the job"),
        ("sweep my.toml --vary leads.length=1:2m --store curve.csv --resume", "the sweep's store curve.csv would rep"),
        ("sweep my.toml --vary leads.length=1:2m -o .", "cannot write .: Is a directory"),
        ("estimate my.toml --json nowhere/x", "cannot write nowhere/x: No such file or directory"),
        ("estimate my.toml --json my.toml/x", "cannot write my.toml/x: Not a directory"),
        ("estimate my.toml --json pictures", "cannot write pictures: Is a directory"),
        ("estimate my.toml --figures my.toml", "cannot write my.toml: Not a directory"),
        ("estimate my.toml --figures my.toml/new", "cannot write my.toml/new: Not a directory"),
        (f"estimate my.toml --vtu {'x' * 256}", "File name too long"),
        ("estimate my.toml --json rows.sqlite", "--json rows.sqlite would replace the store of a sweep"),
        ("sweep my.toml --vary leads.length=1:2m -o rows.sqlite --store new", "-o rows.sqlite would replace the store"),
        (f"estimate -q --json {BUILT_IN}", f"--json {BUILT_IN} would replace the job file, {BUILT_IN}"),
        ("verify --json nowhere/x", "cannot write nowhere/x: No such file or directory"),
    ],
)
def test_what_would_be_lost_is_refused_before_the_work(bench, capsys, tmp_path, arguments, says):
    (tmp_path / "pictures").mkdir()
    Store(tmp_path / "rows.sqlite").close()
    (tmp_path / "link.toml").symlink_to("my.toml")
    (tmp_path / "dangling").symlink_to("new")
    (tmp_path / "job.svg").write_bytes((tmp_path / "my.toml").read_bytes())
    (tmp_path / "cross-section.svg").hardlink_to(tmp_path / "job.svg")
    (tmp_path / "hard.toml").hardlink_to(tmp_path / "my.toml")
    (tmp_path / "hard.csv").hardlink_to(tmp_path / "curve.csv")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert run(arguments.split()) == 2
    out, err = capsys.readouterr()
    assert not bench
    assert out == ""
    assert says in err
    assert len(err.splitlines()) == 1
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_places_that_are_good_are_worked_for(bench, capsys, tmp_path):
    """The refusals above are not of everything: an old output, a new folder of figures, a device twice."""
    (tmp_path / "old.json").write_text("old")
    assert run(["estimate", "my.toml", "--json", "old.json", "--figures", "a/b/c", "--vtu", "new.vtu"]) == 130
    assert run(["estimate", "my.toml", "--json", "/dev/null", "--vtu", "/dev/null"]) == 130
    assert run(["sweep", "my.toml", "--vary", "leads.length=1:2m", "-o", "rows.csv"]) == 130
    assert len(bench) == 3
    assert (tmp_path / "old.json").read_text() == "old"
    assert not (tmp_path / "a").exists()


def test_a_place_without_leave_to_write_is_refused_before_the_work(bench, capsys, monkeypatch):
    """Who runs the tests may be allowed everything: leave is taken away by what asks for it."""

    def denied(self, mode="r", *rest, **more):
        if "x" in mode:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return genuine(self, mode, *rest, **more)

    genuine = Path.open
    monkeypatch.setattr(Path, "open", denied)
    for place in ("--json new", "--figures new"):
        assert run(f"estimate my.toml {place}".split()) == 2
        assert capsys.readouterr().err == "rewound: cannot write new: Permission denied\n"
    monkeypatch.setattr(Path, "open", genuine)
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    Path("old").write_text("old")
    assert run(["estimate", "my.toml", "--json", "old"]) == 2
    assert capsys.readouterr().err == "rewound: cannot write old: Permission denied\n"
    assert not bench


def test_an_output_is_not_put_where_standard_output_goes(tmp_path, bench, capfd):
    with (tmp_path / "out.json").open("w") as stream:
        before = os.dup(1)
        os.dup2(stream.fileno(), 1)
        try:
            assert run(["estimate", "my.toml", "--json", "out.json"]) == 2
        finally:
            os.dup2(before, 1)
            os.close(before)
    assert "--json out.json is where standard output goes" in capfd.readouterr().err


def test_a_file_is_replaced_whole_or_not_at_all(tmp_path):
    file = tmp_path / "file"
    file.write_text("old")

    def half() -> None:
        with replacing(file) as stream:
            stream.write(b"half")
            stream.flush()
            assert file.read_text() == "old"
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half()
    assert file.read_text() == "old"
    with replacing(file) as stream:
        stream.write(b"new")
    assert file.read_text() == "new"
    assert list(tmp_path.iterdir()) == [file]


def test_the_mode_is_that_of_any_new_file_or_of_the_old_one(tmp_path):
    new, plain, old, link = (tmp_path / name for name in ("new", "plain", "old", "link"))
    before = os.umask(0o027)
    try:
        write_text(new, "x")
        plain.write_text("x")
    finally:
        os.umask(before)
    assert stat.S_IMODE(new.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode) == 0o640
    old.write_text("old")
    old.chmod(0o600)
    link.symlink_to(old)
    write_text(link, "new")
    assert link.is_symlink()
    assert (old.read_text(), stat.S_IMODE(old.stat().st_mode)) == ("new", 0o600)


def test_devices_and_pipes_are_written_to_as_they_are(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    check_writable(pipe)
    read = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()))
    reader.start()
    write_text(pipe, "text")
    reader.join(timeout=10)
    assert read == [b"text"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    write_text("/dev/null", "text")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)


@contextmanager
def full_disk():
    """Let no file grow beyond 4 kB: for all that writes in this process, the log of the tests too."""
    limits, answer = resource.getrlimit(resource.RLIMIT_FSIZE), signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, answer)


def test_a_full_disk_costs_only_what_does_not_fit(computed, capsys, tmp_path, monkeypatch):
    Path("out.json").write_text("old")
    monkeypatch.setattr(fem.report.figures.estimate, "FIGURES", fem.report.figures.estimate.FIGURES[:1])
    with full_disk():
        assert run(["estimate", "-q", "--json", "out.json", "--figures", "drawings", "--vtu", "out.vtu"]) == 2
    out, err = capsys.readouterr()
    assert "lead ends" in out
    assert err.splitlines() == [
        f"rewound: cannot write {name}: File too large" for name in ("out.json", "drawings", "out.vtu")
    ]
    assert Path("out.json").read_text() == "old"
    assert [path.name for path in tmp_path.rglob("*")] == ["out.json", "drawings"]


def test_rows_that_do_not_fit_leave_the_old_ones(tmp_path):
    file = tmp_path / "rows.csv"
    write_csv([ROW], file)
    before = file.read_bytes()
    with full_disk(), pytest.raises(OSError, match="File too large"):
        write_csv([ROW] * 1000, file)
    assert file.read_bytes() == before
    assert list(tmp_path.iterdir()) == [file]
