"""Bad input from another folder, as a process of its own: exit code 2, one line for each fault, never a traceback."""

import os
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

EXAMPLE = (files("fem") / "examples" / "bandsaw_brazing.toml").read_text("utf-8")
ROOT = Path(str(files("fem"))).parent


def rewound(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "error", "OMP_NUM_THREADS": "1"}
    return subprocess.run(
        [sys.executable, "-m", "fem", *arguments],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def edited(*edits: tuple[str, str]) -> bytes:
    text = EXAMPLE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    return text.encode()


CASES = {
    "many faults at once": (
        edited(
            ('voltage = "230 V"', 'voltage = "38 mm"'),
            ('leg_width = "52 mm"', "leg_width = 48"),
            ('stack_depth = "56 mm"', 'stack_depth = "-64 mm"'),
            ("turns = 236\n", "turns = 2.5\n"),
            ("turns = 3\n", "truns = 3\n"),
            ('flux_density = "1.5 T"', 'flux_density = "15 T"'),
        ),
        [
            'job.toml: mains.voltage: expected a voltage with its unit, such as "230 V"; got "38 mm"; units: V, mV, kV',
            'job.toml: core.leg_width: expected a length with its unit, such as "38 mm"; got 48',
            "job.toml: core.stack_depth: -64 mm is outside 3 mm to 500 mm",
            "job.toml: windings.primary.turns: turns 2.5: whole turns only (go and return through both windows)",
            'job.toml: windings.secondary.truns: unknown key "truns"; did you mean "turns"?',
            "job.toml: limits.flux_density: 15 T is outside 100 mT to 2.5 T",
        ],
    ),
    "does not fit": (
        edited(("turns = 3\n", "turns = 4\n")),
        [
            "job.toml: windings.secondary: 4 turns, 2 in hand, of 11.3 mm cable reach 81.0 mm above the lower yoke, "
            "80.0 mm is there below the upper yoke's clearance: 1.0 mm too much"
        ],
    ),
    "table ends early": (
        edited(('steel = "M530-50A"', 'bh_table = "table.csv"')),
        [
            "job.toml: core.bh_table: table.csv ends at 1 T, this core needs 1.59 T; give saturation_polarisation "
            "(1 T to 2.5 T) or more rows"
        ],
    ),
    "not UTF-8": (b"title = 'caf\xe9'\n", ["job.toml: line 1: byte 0xE9 is not UTF-8; save the file as UTF-8 text"]),
    "not TOML": (
        edited(("turns = 3\n", "turns =\n")),
        [f"job.toml: line {EXAMPLE.splitlines().index('turns = 3') + 1}: not TOML: invalid value"],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_bad_job(tmp_path, name):
    content, lines = CASES[name]
    (tmp_path / "job.toml").write_bytes(content)
    (tmp_path / "table.csv").write_text("H_A_per_m,B_T\n0,0\n100,0.8\n200,1\n")
    done = rewound(tmp_path, "estimate", "job.toml", "--json", "-")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.splitlines() == lines


def test_a_missing_job(tmp_path):
    done = rewound(tmp_path, "estimate", "no.toml")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", "no.toml: no such file\n")


@pytest.mark.slow
def test_a_reader_that_stops_early_is_no_fault(tmp_path):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
    done = subprocess.run(
        f"{sys.executable} -m fem estimate -q | head -n 1",
        shell=True,
        cwd=tmp_path,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert (done.stdout, done.stderr) == ("Bandsaw blade brazing supply\n", "")
