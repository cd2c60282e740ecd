"""Sweeps and the command line by the clock, against goals of our own: wall time, memory, workers."""

import os
import resource
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from fem.design.tables import read_tables
from fem.design.transformer import Design
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.field.static.model import build_model, solve_model
from fem.sweeps.axes import points, read_axis
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.store import Status, Store
from fem.sweeps.sample import read_tolerance, sampled
from geometries.assembly.mesh import mesh_section
from geometries.assembly.morph import morphed_section
from tests.benchmarks.side_by_side import tell
from tests.benchmarks.test_field_speed import STATE, a_section, filled

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]

EXAMPLE = str(files("fem.examples") / "bandsaw_brazing.toml")
REWOUND = [sys.executable, "-m", "fem"]


def environment(cache: Path | str) -> dict[str, str]:
    return {**os.environ, "OMP_NUM_THREADS": "1", "REWOUND_CACHE": str(cache)}


def test_ten_thousand_designs_over_ten_geometries(tmp_path: Path) -> None:
    """Ten stack depths, ten lead lengths, ten loads and ten supplies, on two workers, from nothing."""
    axes = [
        "core.stack_depth=55:64:1mm",
        "leads.length=0.8:1.7:0.1m",
        "load.resistance=1:10:1mohm",
        "mains.source_resistance=0.2:0.65:0.05ohm",
    ]
    vary = [part for axis in axes for part in ("--vary", axis)]
    out = tmp_path / "rows.csv"
    start = time.perf_counter()
    command = [*REWOUND, "sweep", EXAMPLE, *vary, "--workers", "2", "-q", "-o", str(out)]
    subprocess.run(command, check=True, capture_output=True, env=environment(tmp_path / "fields"))
    took = time.perf_counter() - start
    with Store(tmp_path / "rows.sqlite") as store:
        counts = {status: 0 for status in Status}
        for row in store.rows():
            counts[row.status] += 1
    tell(f"10,000 designs over 10 geometries, two workers: {took:.1f} s, goal 60 s; {counts[Status.DONE]} done")
    assert counts[Status.DONE] == 10_000
    assert took < 60


FIFTY_FIELDS = [
    "core.stack_depth=50:64.7:0.3mm",
    "leads.length=0.8:1.7:0.1m",
    "load.resistance=1:10:1mohm",
    "mains.source_resistance=0.2:0.675:0.025ohm",
]
"""Of as many stacks, each with leads, loads and supplies crossed: 100 000 designs."""


def test_a_hundred_thousand_designs_over_fifty_fields(tmp_path: Path) -> None:
    """Fields kept before; two workers, rows in a store and a CSV, the best few chosen: goal 5 000 designs a second.

    Ten times as many are ten times as long: a million within five minutes.
    """

    def swept(axes: list[str]) -> tuple[float, float]:
        """Return wall and processor time."""
        vary = [part for axis in axes for part in ("--vary", axis)]
        out = tmp_path / f"{len(axes)}.csv"
        chosen = ["--workers", "2", "-q", "--keep", "saturation.margin > 5 %", "--sort", "load.power_W", "-o", str(out)]
        start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        command = [*REWOUND, "sweep", EXAMPLE, *vary, *chosen]
        subprocess.run(command, check=True, capture_output=True, env=environment(tmp_path / "fields"))
        took, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
        return took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    (solving, _), (took, worked) = swept(FIFTY_FIELDS[:1]), swept(FIFTY_FIELDS)
    with (tmp_path / "4.csv").open(encoding="utf-8") as file:
        done = sum(",done," in line for line in file)
    tell(
        f"100,000 designs over 50 kept fields, two workers, {os.cpu_count()} cores: {took:.1f} s, {done / took:.0f} a "
        f"second, goal 5000; {worked / done * 1e6:.0f} us of processor time each; fields {solving:.1f} s before"
    )
    assert done == 100_000
    assert took < 20


def test_two_thousand_draws() -> None:
    """Mains, source, leads, joints and load at random, each number another, in this process: goal half a second."""
    job = read_tables(EXAMPLE)
    within = ("mains.voltage=+-6%", "mains.source_resistance=+-50%", "leads.length=+-10%", "load.resistance=+-20%")
    every = sampled(job, [{}], [read_tolerance(text) for text in within], count=2000, seed=1)

    def run() -> float:
        start = time.perf_counter()
        assert sum(len(rows) for rows in sweep(varied(job, every), job_file=True)) == 2000
        return time.perf_counter() - start

    run()
    took = min(run() for _ in range(3))
    tell(f"2000 draws whose field is kept, one process: {took:.2f} s, goal 0.5 s")
    assert took < 0.5


def test_two_workers_against_one() -> None:
    """Two hundred window heights, each with a section and fields of its own, in two lots, one worker and two in
    turn; processes and imports included."""

    def seconds(workers: int, first: float) -> tuple[float, float]:
        """Return wall and processor time; the latter with all its workers'."""
        vary = ["--vary", f"core.window_height={first:g}:{first + 4.95:g}:0.05mm", "--workers", str(workers)]
        start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [*REWOUND, "sweep", EXAMPLE, *vary, "-q"], check=True, capture_output=True, env=environment("off")
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        worked = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        return time.perf_counter() - start, worked

    found = np.array([[seconds(workers, 76.0 + 5 * lot) for workers in (1, 2)] for lot in range(2)])
    (one, worked_one), (two, worked_two) = np.mean(found, axis=0) / 100
    ratio = one / two
    tell(
        f"200 geometries, two workers against one: {ratio:.2f} times, goal 1.7; {one:.2f} s against {two:.2f} s a "
        f"geometry, {worked_one:.2f} s and {worked_two:.2f} s of processor time"
    )
    assert ratio >= 1.7


def resident() -> int:
    """Return this process's resident memory [bytes]."""
    return int(Path("/proc/self/statm").read_text("ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def rise(held: list[int], settled: int) -> float:
    """Return by how much memory rises per geometry after the first few [bytes], as told; a straight line's slope."""
    late = np.array(held[settled:])
    slope = float(np.polyfit(np.arange(late.size), late, 1)[0])
    tell(
        f"memory over {len(held)} geometries: {late[0] / 1e6:.0f} MB after {settled} to {late[-1] / 1e6:.0f} MB, "
        f"{slope:.0f} bytes a geometry"
    )
    return slope


def test_memory_over_two_thousand_geometries() -> None:
    """Moved meshes and planar fields, every tenth meshed anew: less than 10 kB a geometry once all is loaded.

    A worker is replaced after 1600 tasks of at most four geometries each: 64 MB.
    """
    rng = np.random.default_rng(3)
    held = []
    for k in range(2000):
        section = a_section(rng).half()
        mesh = mesh_section(section) if k % 10 == 0 else morphed_section(section)
        solve_model(build_model(mesh, filled), STATE)
        held.append(resident())
    assert rise(held, 500) < 10e3


def test_memory_over_characteristics() -> None:
    """All that a sweep computes for a new core, three dimensions included, with as many kept as a worker keeps.

    Shuffled, so that every mesh and topology that is kept is met before memory is looked at.
    """
    kept, held = Kept(), []
    every = points((read_axis("core.window_height=76:85.96:0.04mm"),))
    shuffled = [every[k] for k in np.random.default_rng(3).permutation(len(every))]
    for _, job in varied(read_tables(EXAMPLE), shuffled):
        estimate(Design.model_validate(job, context={"job_file": True}), wanted=frozenset(), characteristics=kept)
        held.append(resident())
    assert kept.solved == len(held)
    assert rise(held, 100) < 10e3


def test_points_without_a_solve() -> None:
    """What a lone design costs where its field is kept: goal 10 ms; and one of a block."""
    job, kept = read_tables(EXAMPLE), Kept()
    every = points((read_axis("leads.length=0.8:2.79:0.01m"),))
    designs = [Design.model_validate(one, context={"job_file": True}) for _, one in varied(job, every)]

    def alone() -> None:
        for design in designs:
            estimate(design, wanted=frozenset(), characteristics=kept)

    def together() -> None:
        assert sum(len(rows) for rows in sweep(varied(job, every), job_file=True)) == len(every)

    each = []
    for run in (alone, together):
        run()
        start = time.perf_counter()
        run()
        each.append((time.perf_counter() - start) / len(every) * 1e3)
    tell(
        f"a design whose field is kept: {each[0]:.1f} ms alone, goal 10 ms; {each[1]:.2f} ms in a block of {len(every)}"
    )
    assert each[0] < 10
