"""What is printed: one clear line at most where a stream cannot take it, and nothing that a terminal would obey."""

import csv
import errno
import io
import json
import os
import signal
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import fem.estimation.card
import fem.estimation.one_design
import fem.report.figures.estimate
import fem.sweeps.run
import fem.verification.run
from fem.cli import run
from fem.report.figures.estimate import save
from fem.report.figures.style import new_figure
from fem.report.text.printable import cell, printable
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.run import Outcome

BUILT_IN = Path(fem.__path__[0], "examples", "bandsaw_brazing.toml")


ROW = Row(key="k", position=0, point={"leads.length": "1 m"}, status=Status.DONE, reason="", results={"a_A": 1.0})


class Stream(io.TextIOWrapper):
    """A standard output that cannot be written to."""

    def __init__(self, number: int) -> None:
        super().__init__(io.BytesIO(), encoding="ascii")
        self.number = number

    def flush(self) -> None:
        raise OSError(self.number, os.strerror(self.number))

    def close(self) -> None:
        """Do not flush once more when it is forgotten: Python 3.13 complains where that fails."""


@pytest.mark.parametrize(
    ("number", "code", "says"),
    [(errno.ENOSPC, 2, "rewound: cannot write to standard output: No space left on device\n"), (errno.EPIPE, 141, "")],
)
@pytest.mark.parametrize("arguments", ["estimate -q --json out.json", "estimate -q --json - --vtu out.json"])
def test_without_standard_output_the_rest_is_written(computed, capsys, monkeypatch, arguments, number, code, says):
    monkeypatch.setattr(sys, "stdout", Stream(number))
    assert run(arguments.split()) == code
    assert capsys.readouterr().err == says
    assert Path("out.json").stat().st_size > 1000
    for command in ("schema", "list metals", "--version", "example"):
        assert run(command.split()) == code


def test_without_standard_error_nothing_else_is_printed(computed, capsys, monkeypatch):
    monkeypatch.setattr(sys, "stderr", None)
    assert run(["estimate", "--json", "-"]) == 0
    json.loads(capsys.readouterr().out)
    monkeypatch.setattr(sys, "stderr", Stream(errno.ENOSPC))
    assert run(["estimate", "--json", "-", "--vtu", "out.vtu"]) == 0
    json.loads(capsys.readouterr().out)


def test_a_terminal_that_knows_only_ascii(computed, monkeypatch, hand_made):
    from dataclasses import replace

    titled = replace(hand_made, title="Lötgerät 変圧器")
    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda design, **_: titled)
    for arguments in ("estimate -q", "estimate -q --json -"):
        stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
        monkeypatch.setattr(sys, "stdout", stream)
        assert run(arguments.split()) == 0
        text = stream.buffer.getvalue().decode("utf-8")
        assert text.startswith(r"L\xf6tger\xe4t \u5909\u5727\u5668") or json.loads(text)["title"] == titled.title


@pytest.fixture
def streams(tmp_path):
    """Run a command of the shell with `rewound` in it; return its exit code and what it said."""

    def command(text):
        environment = {**os.environ, "PYTHONPATH": str(Path(fem.__path__[0]).parent), "PYTHONWARNINGS": "error"}
        done = subprocess.run(
            ["bash", "-o", "pipefail", "-c", text.replace("rewound", f"{sys.executable} -m fem")],
            env=environment,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        return done.returncode, done.stderr

    return command


@pytest.mark.parametrize(
    ("command", "code", "says"),
    [
        ("rewound list conductors | true", 141, ""),
        ("rewound --help | true", 141, ""),
        ("rewound schema > /dev/full", 2, "rewound: cannot write to standard output: No space left on device\n"),
        ("rewound --help > /dev/full", 2, "rewound: No space left on device\n"),
        ("rewound schema >&-", 2, "rewound: standard output is closed; /dev/null takes what nobody wants to read\n"),
        ("rewound list cheese 2> /dev/full", 2, ""),
        ("rewound list cheese 0<&- 2>&-", 2, ""),
    ],
)
def test_nothing_is_said_when_the_interpreter_ends(streams, command, code, says):
    assert streams(command) == (code, says)


@pytest.mark.parametrize("columns", ["0", "1", "7", "abc", "-5", ""])
def test_any_width_gives_the_whole_report(computed, monkeypatch, capsys, columns):
    monkeypatch.setenv("COLUMNS", columns)
    assert run(["estimate", "-q", "--whole"]) == 0
    widest = max(map(len, capsys.readouterr().out.splitlines()))
    assert widest == {"1": 20, "7": 20}.get(columns, 100)


HOSTILE = "\x1b]0;owned\x07 \x9b31m \u202e$\\frac{1}{0$ <b> -- \udc80\r\nnext"


def test_escape_sequences_do_not_reach_the_terminal_a_drawing_or_a_spreadsheet(
    computed, monkeypatch, capsys, hand_made, tmp_path
):
    from dataclasses import replace

    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda design, **_: replace(hand_made, title=HOSTILE))
    assert run(["estimate", "--json", "out.json"]) == 0
    assert run(["estimate", "\x1b[31m\n.toml"]) == 2
    row = replace(ROW, point={"title": HOSTILE}, reason=HOSTILE)
    monkeypatch.setattr(
        fem.sweeps.run,
        "run_sweep",
        lambda *_: Outcome(rows=(row,), stopped=False, gone="", unkept="", notes=(HOSTILE,)),
    )
    assert (
        run(
            [
                "sweep",
                str(BUILT_IN),
                "--vary",
                "title=a,b",
                "-o",
                "a.csv",
            ]
        )
        == 1
    )
    assert run(["estimate", "-q", "--json", "-"]) == 0
    out, err = capsys.readouterr()
    with Path("a.csv").open(encoding="utf-8") as file:
        written = "".join(next(csv.DictReader(file)).values())
    for text in (out, err, written):
        assert "next" in text or text is err
        assert not [c for c in text if not (c.isprintable() or c == "\n")]
    assert json.loads(Path("out.json").read_text("utf-8"))["title"] == HOSTILE
    figure, _ = new_figure(HOSTILE, "subtitle")
    svg, _ = save(figure, tmp_path, "hostile")
    ET.fromstring(svg.read_text("utf-8"))


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("=HYPERLINK(1)", "'=HYPERLINK(1)"),
        ("+1+cmd|' /C calc'!A0", "'+1+cmd|' /C calc'!A0"),
        ("-2+3", "'-2+3"),
        ("@SUM(1)", "'@SUM(1)"),
        ("\t=1", "'=1"),
        ("-5 degC", "-5 degC"),
        ("-1.5e-3", "-1.5e-3"),
        ("+0.5 mm", "+0.5 mm"),
        ("core.leg_width: too small", "core.leg_width: too small"),
    ],
)
def test_a_spreadsheet_computes_no_text_of_ours(text, written):
    assert cell(text) == written


def test_what_can_be_shown_stays_as_it_is():
    for text in ("Lötgerät 変圧器 230\u00a0V 👍🏽", "a b", "100 % $5 [x]"):
        assert printable(text) == text


@pytest.fixture
def heard():
    """Ctrl-C is heard, also where a shell has started the tests in the background, which ignores it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("heard")
def test_ctrl_c_waits_for_what_is_being_written(computed, capsys, monkeypatch, hand_made):
    written = []

    def interrupted(estimate, path):
        signal.raise_signal(signal.SIGINT)
        written.append(path)

    monkeypatch.setattr("fem.commands.estimate._write_figures", interrupted)
    assert run(["estimate", "-q", "--json", "out.json", "--figures", "drawings", "--vtu", "out.vtu"]) == 130
    out, err = capsys.readouterr()
    assert "--whole" in out
    assert err == "rewound: stopped\n"
    assert json.loads(Path("out.json").read_text("utf-8")) == hand_made.to_dict()
    assert written
    assert Path("out.vtu").exists()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.usefixtures("heard")
def test_a_second_ctrl_c_does_not_wait(computed, capsys, monkeypatch, tmp_path):
    def interrupted(estimate, path):
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr("fem.commands.estimate._write_figures", interrupted)
    assert run(["estimate", "-q", "--json", "out.json", "--figures", "drawings", "--vtu", "out.vtu"]) == 130
    assert [path.name for path in tmp_path.iterdir()] == ["out.json"]
