"""What a whole cold estimate costs, in memory and against the example's processor time, on designs that ask for much.

Cores and windings are invented: proportions from the ends of what a job file takes.
"""

import json
import os
import subprocess
import sys
from typing import Any

import pytest

pytestmark = pytest.mark.slow

MEMORY = 1000.0
"""Most a process may take [MB]."""
TIMES_THE_EXAMPLE = 24.0 / 5.0
"""Most processor time against that of the example in the same run: 24 s where that takes 5."""

RUN = """
import json, resource, sys, time
from importlib.resources import files
from fem.design.transformer import Design
from fem.estimation.one_design import estimate
from fem.design.job import read_job
given = json.load(sys.stdin)
example = str(files("fem.examples") / "bandsaw_brazing.toml")
estimate(read_job(example) if given is None else Design.model_validate(given))
print(json.dumps([time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024]))
"""


def cost(given: dict[str, Any] | None) -> tuple[float, float]:
    """Return processor seconds and the most memory [MB] of a process that estimates a design, or the example."""
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "REWOUND_CACHE": "off"}
    done = subprocess.run(
        [sys.executable, "-c", RUN],
        input=json.dumps(given),
        capture_output=True,
        text=True,
        env=environment,
        check=True,
    )
    seconds, memory = json.loads(done.stdout.splitlines()[-1])
    return seconds, memory


@pytest.fixture(scope="module")
def example() -> float:
    return cost(None)[0]


COPPER = {"material": "copper"}
DESIGNS: dict[str, dict[str, Any]] = {
    "many sections in a slender window": {
        "core": {
            "type": "shell", "leg_width": "13.65 mm", "outer_leg_width": "5.32 mm", "yoke_height": "4.1 mm",
            "window_width": "15.9 mm", "window_height": "418.8 mm", "stack_depth": "6.6 mm", "joint": "interleaved",
            "leg_gap": "0.0133 mm", "steel": "M530-50A",
        },
        "mains": {"voltage": "46 V", "frequency": "50 Hz"},
        "windings": {
            "arrangement": "interleaved", "sections": 9, "spacing": "7.18 mm", "leg_clearance": "7.36 mm",
            "yoke_clearance": "5.9 mm",
            "primary": {"turns": 2529, "conductor": {"round": "0.164 mm"}, **COPPER},
            "secondary": {"turns": 36, "wires_in_hand": 17, "conductor": {"round": "0.428 mm"}, **COPPER},
        },
    },
    "wide legs round a narrow window": {
        "core": {
            "type": "shell", "leg_width": "226 mm", "outer_leg_width": "127 mm", "yoke_height": "69 mm",
            "window_width": "5.34 mm", "window_height": "106 mm", "stack_depth": "16 mm", "joint": "welded",
            "leg_gap": "0.0535 mm", "steel": "M530-50A",
        },
        "mains": {"voltage": "24 V", "frequency": "50 Hz"},
        "windings": {
            "arrangement": "interleaved", "sections": 2, "spacing": "4 mm", "leg_clearance": "0.23 mm",
            "yoke_clearance": "0.56 mm",
            "primary": {"turns": 20, "height": "12 mm", "build": "4.6 mm", "conductor": {"round": "1.2 mm"}, **COPPER},
            "secondary": {"turns": 4, "height": "20 mm", "build": "4.5 mm", "conductor": {"round": "2 mm"}, **COPPER},
        },
    },
    "two cores with shunts": {
        "core": {
            "type": "two-leg", "leg_width": "60 mm", "yoke_height": "55 mm", "window_width": "20 mm",
            "window_height": "200 mm", "stack_depth": "250 mm", "joint": "interleaved", "leg_gap": "0.05 mm",
            "second": {"spacing": "40 mm", "primaries": "series"}, "steel": "M530-50A",
        },
        "mains": {"voltage": "230 V", "frequency": "50 Hz"},
        "windings": {
            "arrangement": "side-by-side", "spacing": "26 mm", "leg_clearance": "0.5 mm", "yoke_clearance": "1 mm",
            "primary": {"turns": 40, "height": "80 mm", "build": "18 mm", "conductor": {"round": "3 mm"}, **COPPER},
            "secondary": {"turns": 2, "height": "80 mm", "build": "17 mm", "conductor": {"round": "14 mm"}, **COPPER},
        },
        "shunt": {"height": "24 mm", "total_gap": "0.05 mm"},
    },
    "sixty thick wires on either leg": {
        "core": {
            "type": "two-leg", "leg_width": "40 mm", "yoke_height": "40 mm", "window_width": "60 mm",
            "window_height": "120 mm", "stack_depth": "60 mm", "joint": "welded", "steel": "M530-50A",
        },
        "mains": {"voltage": "24 V", "frequency": "400 Hz"},
        "windings": {
            "arrangement": "side-by-side", "legs": "each", "spacing": "3 mm", "leg_clearance": "1 mm",
            "yoke_clearance": "2 mm",
            "primary": {"turns": 60, "conductor": {"round": "4.5 mm"}, **COPPER},
            "secondary": {"turns": 12, "wires_in_hand": 5, "conductor": {"round": "4.5 mm"}, **COPPER},
        },
    },
}  # fmt: skip


@pytest.mark.parametrize("name", DESIGNS)
def test_memory_and_processor_time_are_bounded(name: str, example: float) -> None:
    seconds, memory = cost(DESIGNS[name])
    assert memory < MEMORY
    assert seconds < TIMES_THE_EXAMPLE * example
