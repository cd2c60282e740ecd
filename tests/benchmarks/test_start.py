"""What a person waits for after a command, in units of what loading the libraries that it stands on takes."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks.side_by_side import compare
from tests.benchmarks.test_sweep_speed import EXAMPLE, REWOUND, environment

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]

BARE = "import numpy, scipy.sparse.linalg, scipy.optimize, skfem, gmsh, pydantic, pint, typer, rich"


def load() -> None:
    subprocess.run([sys.executable, "-c", BARE], check=True, env=environment("off"))


@pytest.mark.parametrize(
    ("command", "most"),
    [
        (("--help",), 0.5),
        (("list", "steels"), 0.5),
        (("schema",), 0.5),
        (("estimate", "no such job.toml"), 0.5),
        (("estimate", EXAMPLE, "-q"), 3.0),
    ],
    ids=["help", "list", "schema", "refused", "cold"],
)
def test_command_against_loading(command: tuple[str, ...], most: float) -> None:
    def run() -> None:
        subprocess.run([*REWOUND, *command], check=False, capture_output=True, env=environment("off"))

    assert compare(" ".join(command[:2]), load, run, goal=most).median < most


@pytest.mark.parametrize(("lines", "most"), [("harmonics", 1.5), ("", 2.0)], ids=["first lines", "whole"])
def test_kept_estimate_against_loading(lines: str, most: float, tmp_path: Path) -> None:
    """Until the idle current's lines are there, and until all are."""

    def run() -> None:
        command = [*REWOUND, "estimate", EXAMPLE, "-q"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, env=environment(tmp_path), text=True) as running:
            assert running.stdout is not None
            for line in running.stdout:
                if lines and line.startswith(lines):
                    running.kill()

    whole = [*REWOUND, "estimate", EXAMPLE, "-q"]
    subprocess.run(whole, check=True, capture_output=True, env=environment(tmp_path))
    told = f"kept estimate, {'first lines' if lines else 'whole'}"
    assert compare(told, load, run, goal=most).median < most
