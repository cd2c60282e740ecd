"""Designs solved side by side are those solved alone: in any order and split, refused ones among them.

The truth is the lone estimate, to 1e-12 of each number; of what is a difference of two near ones, a dip, to 1e-13 of
these.
"""

import random
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from fem.design.tables import read_tables
from fem.design.transformer import Design
from fem.estimation.one_design import estimate
from fem.report.text.sweep import write_csv
from fem.sweeps.axes import Point, job_at
from fem.sweeps.points import sweep
from fem.sweeps.rows.cells import Cells
from fem.sweeps.rows.flat import flat
from fem.sweeps.rows.store import Row, Status, Store
from fem.sweeps.workers import task
from tests.support.alike import alike
from tests.support.seeds import FRESH

JOB = read_tables(str(files("fem.examples") / "bandsaw_brazing.toml"))
RULES: dict[str, Any] = {
    "mains.voltage": lambda draw: f"{draw.uniform(120, 420):.4f} V",
    "mains.source_resistance": lambda draw: f"{draw.choice([0.0, 0.4, draw.uniform(0, 3)])} ohm",
    "mains.source_inductance": lambda draw: f"{draw.choice([0.0, draw.uniform(0, 2)])} mH",
    "mains.run_length": lambda draw: f"{draw.uniform(1, 60)} m",
    "mains.run_area": lambda draw: "1.5 mm2",
    "mains.breaker": lambda draw: draw.choice(["B16", "C10", "gG16", "UL 489 20 A", "BS 1362 13 A"]),
    "leads.length": lambda draw: f"{draw.choice([0.0, draw.uniform(0.1, 9), -1.0, draw.uniform(0.1, 9)])} m",
    "leads.spacing": lambda draw: draw.choice(["24 mm", "40 mm", f"{draw.uniform(24, 80)} mm"]),
    "leads.area": lambda draw: draw.choice(["35 mm2", "70 mm2", "2/0 AWG", "150 mm2"]),
    "leads.joint_resistance": lambda draw: f"{draw.choice([0.0, draw.uniform(0, 1)])} mohm",
    "load.resistance": lambda draw: f"{draw.choice([0.0, 10 ** draw.uniform(-5, 1)])} ohm",
    "limits.flux_density": lambda draw: f"{draw.uniform(1, 2)} T",
    "temperature": lambda draw: draw.choice(["20 degC", "60 degC"]),
}


def drawn(seed: int, count: int) -> list[tuple[Point, dict[str, Any]]]:
    """Return points of some of the rules each, with their jobs."""
    draw = random.Random(seed)
    keys = draw.sample(list(RULES), 8)
    keys += ["mains.run_area"] if "mains.run_length" in keys else []
    keys += ["mains.run_length"] if "mains.run_area" in keys else []
    every = [{key: RULES[key](draw) for key in dict.fromkeys(keys)} for _ in range(count)]
    return [(point, job_at(JOB, point)) for point in every]


def swept(jobs: list[tuple[Point, dict[str, Any]]]) -> dict[str, Row]:
    return {row.key: row for rows in sweep(jobs, job_file=True) for row in rows}


@pytest.mark.parametrize("seed", [11, FRESH])
def test_a_block_is_its_members(seed: int) -> None:
    jobs = drawn(seed, 24)
    together = swept(jobs)
    shuffled = random.Random(seed).sample(jobs, len(jobs))
    split = swept(shuffled[:7]) | swept(shuffled[7:])
    alone: dict[str, Row] = {}
    for one in jobs:
        alone |= swept([one])
    assert together.keys() == split.keys() == alone.keys()
    if seed != FRESH:  # of a few drawn anew none may be alike
        assert any(isinstance(row.results, Cells) for row in together.values())
    for key, row in alone.items():
        for other in (together[key], split[key]):
            assert (other.status, other.reason, dict(other.point)) == (row.status, row.reason, dict(row.point))
            assert alike(other.results, row.results), row.point


def test_a_member_is_an_estimate() -> None:
    jobs = drawn(14, 12)
    for row in swept(jobs).values():
        if row.status is not Status.REFUSED:
            design = Design.model_validate(job_at(JOB, row.point), context={"job_file": True})
            whole = estimate(design, wanted=frozenset(), characteristics=task._kept())
            assert alike(row.results, flat(whole.to_dict())), row.point


@pytest.mark.slow
def test_a_member_behind_shunts_is_an_estimate() -> None:
    windings = {**JOB["windings"], "spacing": "10 mm"}
    job = {**JOB, "windings": windings, "shunt": {"height": "6 mm", "total_gap": "2 mm"}}
    points: list[Point] = [
        {"mains.voltage": volts, "leads.length": length} for volts in ("200 V", "230 V") for length in ("1 m", "3 m")
    ]
    for row in swept([(point, job_at(job, point)) for point in points]).values():
        assert isinstance(row.results, Cells)
        design = Design.model_validate(job_at(job, row.point), context={"job_file": True})
        whole = estimate(design, wanted=frozenset(), characteristics=task._kept())
        assert alike(row.results, flat(whole.to_dict())), row.point


def test_rows_of_a_block_are_kept_and_written_as_others_are(tmp_path: Path) -> None:
    rows = sorted(swept(drawn(15, 24)).values(), key=lambda row: row.position)
    plain = [replace(row, results=dict(row.results)) for row in rows]
    assert rows == plain
    with Store(tmp_path / "block.sqlite") as store:
        store.add(rows)
        assert list(store.rows()) == plain
    write_csv(rows, tmp_path / "block.csv")
    write_csv(plain, tmp_path / "plain.csv")
    assert (tmp_path / "block.csv").read_bytes() == (tmp_path / "plain.csv").read_bytes()


def test_one_whose_core_leaves_the_data_is_refused_and_no_other(tmp_path: Path) -> None:
    """A table that ends at 1.45 T and says nothing of saturation; halves of the block find who goes beyond."""
    (tmp_path / "sheet.csv").write_text(
        "H_A_per_m,B_T\n0,0\n50,0.6\n100,1.0\n200,1.2\n400,1.3\n1000,1.4\n2000,1.45\n", "utf-8"
    )
    core = {**JOB["core"], "bh_table": str(tmp_path / "sheet.csv")}
    del core["steel"]
    job = {**JOB, "core": core}
    jobs = [(point, job_at(job, point)) for k in range(10) for point in ({"mains.voltage": f"{180 + 10 * k} V"},)]
    together = swept(jobs)
    alone: dict[str, Row] = {}
    for one in jobs:
        alone |= swept([one])
    assert [row.reason for row in together.values()] == [alone[key].reason for key in together]
    refused = [row for row in together.values() if row.status is Status.REFUSED]
    assert 2 < len(refused) < 8
    assert all("ends too early" in row.reason for row in refused)
    assert all(alike(row.results, alone[key].results) for key, row in together.items())
