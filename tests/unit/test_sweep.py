"""Axes, store, selection and the engine of sweeps; a real estimate behind a few points."""

import json
import math
from collections.abc import Iterator
from contextlib import closing
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fem.design.job import read_job
from fem.design.tables import read_tables
from fem.design.transformer import Design
from fem.estimation.by_length import by_length
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.sweeps import points as engine
from fem.sweeps.axes import Axis, AxisError, job_at, points, read_axis
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.flat import flat
from fem.sweeps.rows.store import Row, Status, Store, StoreError
from fem.sweeps.select import Goal, SelectionError, check_keys, front, kept, ordered, read_condition, read_front
from fem.sweeps.workers import task as task_module
from fem.sweeps.workers.dispatch import Ended, WorkersGone
from fem.sweeps.workers.pool import Pool
from fem.sweeps.workers.task import Task, point_key, run_task
from tests.support.alike import alike
from tests.support.stand_in import rows

EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("windings.secondary.turns=1:4", (1, 2, 3, 4)),
        ("leads.area=35,50,70mm2", ("35 mm2", "50 mm2", "70 mm2")),
        ("core.joint_gap=0.05:0.15:0.05mm", ("0.05 mm", "0.1 mm", "0.15 mm")),
        ("load.resistance=1:100:log3 mohm", ("1 mohm", "10 mohm", "100 mohm")),
        ("core.joint=butt,welded", ("butt", "welded")),
        ("shunt.fitted=true,false", (True, False)),
        ("core.stacking_factor=0.9,0.95", (0.9, 0.95)),
        ("leads.area=2 AWG,70mm2", ("2 AWG", "70 mm2")),
    ],
)
def test_axes_as_they_are_typed(text: str, values: tuple[object, ...]) -> None:
    assert read_axis(text).values == values


@pytest.mark.parametrize("text", ["turns", "=1:2", "a=", "a=3:1", "a=1:2:0", "a=1:2:-1", "a=0:5:log3", "a=1:9:log2.5"])
def test_axes_that_cannot_be_read(text: str) -> None:
    with pytest.raises(AxisError):
        read_axis(text)


@given(st.integers(-50, 50), st.integers(1, 200), st.sampled_from([0.1, 0.25, 0.3, 1.0, 2.5]))
def test_ranges_hold_both_ends(low: int, steps: int, size: float) -> None:
    """Whole numbers of steps, whatever binary fractions do."""
    values = read_axis(f"k={low}:{low + steps * size:.10g}:{size}").values
    assert len(values) == steps + 1
    assert float(values[-1]) == pytest.approx(low + steps * size, rel=1e-9)


def test_points_cross_or_zip() -> None:
    axes = (Axis(key="a.b", values=(1, 2)), Axis(key="c", values=("x", "y")))
    assert points(axes) == [{"a.b": a, "c": c} for a in (1, 2) for c in ("x", "y")]
    assert points(axes, zipped=True) == [{"a.b": 1, "c": "x"}, {"a.b": 2, "c": "y"}]
    with pytest.raises(AxisError, match="equally many"):
        points((axes[0], Axis(key="c", values=("x",))), zipped=True)
    with pytest.raises(AxisError, match="varied twice"):
        points((axes[0], axes[0]))
    job = {"a": {"b": 0, "z": 1}}
    assert job_at(job, {"a.b": 5, "new.key": 6}) == {"a": {"b": 5, "z": 1}, "new": {"key": 6}}
    assert job == {"a": {"b": 0, "z": 1}}


def row(position: int, status: Status = Status.DONE, key: str = "", **results: float | str) -> Row:
    return Row(
        key=key or f"k{position}", position=position, point={"n": position}, status=status, reason="", results=results
    )


def test_the_store_survives_and_takes_no_row_twice(tmp_path: Path) -> None:
    file = tmp_path / "rows.sqlite"
    with Store(file) as store:
        store.add([row(1, x=1.5), row(0)])
        store.add([row(1, x=2.5), row(2, Status.FAILED)])
        assert store.note("job", "one") is None
    with Store(file) as store:
        assert [r.position for r in store.rows()] == [0, 1, 2]
        assert next(r for r in store.rows() if r.position == 1).results == {"x": 2.5}
        assert store.done() == {"k0", "k1"}  # what failed is tried again
        assert store.note("job", "two") == "one"


def test_a_file_that_is_no_store(tmp_path: Path) -> None:
    (tmp_path / "text.sqlite").write_text("not a database, but long enough to be looked at as one" * 50, "utf-8")
    with pytest.raises(StoreError, match="not a sweep's store"):
        Store(tmp_path / "text.sqlite")
    with pytest.raises(StoreError, match="no such place"):
        Store(tmp_path / "nowhere" / "rows.sqlite")


def test_conditions_order_and_front() -> None:
    rows = [row(0, a=1.0, b=5.0), row(1, a=2.0, b=4.0), row(2, a=2.0, b=6.0), row(3, Status.REFUSED, a=9.0)]
    assert [r.position for r in kept(rows, [read_condition("a >= 200 %")])] == [1, 2]
    assert [r.position for r in ordered(kept(rows, []), "b")] == [2, 0, 1]
    assert [r.position for r in ordered(kept(rows, []), "b", least_first=True)] == [1, 0, 2]
    assert [r.position for r in front(rows[:3], (Goal(key="a", largest=True), Goal(key="b", largest=True)))] == [2]
    both = front(rows[:3], read_front("a:min,b:min"))
    assert sorted(r.position for r in both) == [0, 1]
    with pytest.raises(SelectionError, match='unknown result "aa"; did you mean "a"'):
        check_keys(rows, ["aa"])
    for text in ("a > many", "gain more", ""):
        with pytest.raises(SelectionError):
            read_condition(text)
    for text in ("a:max", "a:best,b:min", "a:max,b:min,c:min,d:min"):
        with pytest.raises(SelectionError):
            read_front(text)


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=25))
def test_a_front_is_what_nothing_beats(pairs: list[tuple[int, int]]) -> None:
    """Against the definition, pair by pair."""
    rows = [row(k, a=float(a), b=float(b)) for k, (a, b) in enumerate(pairs)]
    found = {r.position for r in front(rows, read_front("a:max,b:min"))}
    for k, (a, b) in enumerate(pairs):
        beaten = any(x >= a and y <= b and (x, y) != (a, b) for x, y in pairs)
        assert (k in found) is not beaten


def test_kept_characteristics_serve_other_turns_cables_and_loads() -> None:
    """One field for all of them, and the same numbers as without keeping anything."""
    design = read_job(str(EXAMPLE))
    store = Kept()
    fixed = design.vary("windings.primary.height", 0.031).vary("windings.primary.build", 0.0222)
    variants = [
        fixed,
        fixed.vary("leads.area", "50 mm2"),
        fixed.vary("load.resistance", 2e-3),
        fixed.vary("windings.primary.turns", 225),
        fixed.vary("mains.voltage", 240.0),
        fixed.vary("mains.frequency", 60.0),
    ]
    found = [estimate(v, wanted=frozenset(), characteristics=store) for v in variants]
    assert store.solved == 1
    fresh = estimate(variants[3], wanted=frozenset())
    assert flat(found[3].to_dict()) == flat(fresh.to_dict())


@pytest.fixture(scope="module")
def job() -> dict[str, object]:
    return read_tables(EXAMPLE)


def test_derivatives_along_a_length_are_told_beside_the_results(job: dict[str, object]) -> None:
    """Of a block as of lone designs; against what a millimetre does, from both sides: the third order is left out.

    Where the length moves no field, and of a result that is not asked for, there is none.
    """
    key, length = "short_circuit.secondary_current_rms_A", "core.stack_depth"

    def rows_at(points: list[dict[str, object]], along: tuple[str, str]) -> list[Row]:
        return [row for some in sweep(varied(job, points), job_file=True, along=along) for row in some]  # type: ignore[arg-type]

    pair = rows_at([{length: "56 mm", "mains.voltage": volts} for volts in ("230 V", "220 V")], (key, length))
    found = [row.results[f"{key} per {length}_m"] for row in pair]
    (lone,) = rows_at([{length: "56 mm", "mains.voltage": "220 V"}], (key, length))
    assert lone.results[f"{key} per {length}_m"] == pytest.approx(found[1], rel=1e-9)
    (effect,) = (e for e in by_length(read_job(str(EXAMPLE)), source=task_module._kept()) if e.key == length)
    change = effect.short_circuit_current_change
    assert change is not None
    assert found[0] == pytest.approx(change * pair[0].results[key] / effect.more, rel=effect.more / effect.length)
    for along in ((key, "leads.length"), ("work_piece.peak_temperature_K", length), ("no.such", length)):
        (row,) = rows_at([{"mains.voltage": "220 V"}], along)
        assert row.status is Status.DONE
        assert not [name for name in row.results if " per " in name]


AXES = (
    Axis(key="windings.secondary.turns", values=(3, 9)),
    Axis(key="leads.area", values=("35 mm2", "50 mm2", "70 mm2")),
)


def test_serial_and_shuffled_rows_are_equal(job: dict[str, object]) -> None:
    every = points(AXES)
    serial = {r.key: r for rows in sweep(varied(job, every), job_file=True) for r in rows}
    assert len(serial) == 6
    refused = [r for r in serial.values() if r.status is Status.REFUSED]
    assert len(refused) == 3
    assert all("mm too much" in r.reason for r in refused)
    shuffled = {r.key: r for rows in sweep(varied(job, every[::-1]), job_file=True) for r in rows}
    for key, expected in serial.items():
        assert alike(shuffled[key].results, expected.results)
    known = set(list(serial)[:4])
    rest = [r.key for rows in sweep(varied(job, every), known=known, job_file=True) for r in rows]
    assert set(rest) == set(serial) - known


@pytest.mark.slow
def test_geometries_come_out_the_same_in_any_order_process_and_alone(
    job: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """New cores, meshes moved from one canonical mesh or from several, stacks of one section.

    To the last digit, but for a run of all tests: there NGSolve may have brought its own BLAS into this process, whose
    sums run otherwise, 1e-12 in what is solved and more in what is iterated on it.
    """
    every = points(
        (
            Axis(key="core.window_height", values=("72 mm", "76 mm", "88 mm")),
            Axis(key="core.stack_depth", values=("50 mm", "56 mm")),
        )
    )
    serial = {r.key: r for rows in sweep(varied(job, every), job_file=True) for r in rows}
    assert all(r.status is Status.DONE for r in serial.values())
    task_module._kept.cache_clear()
    shuffled = {r.key: r for rows in sweep(varied(job, every[3:] + every[2::-1]), job_file=True) for r in rows}
    monkeypatch.setattr(engine, "CHUNK", 1)
    with closing(Pool(2)) as pool:
        again = sweep(varied(job, every[::-1]), workers=pool, job_file=True)
        pooled = {r.key: r for rows in again for r in rows}
    for key, expected in serial.items():
        assert dict(shuffled[key].results) == dict(expected.results)
        assert pooled[key].results.keys() == expected.results.keys()
        for name, value in expected.results.items():
            same = pytest.approx(value, rel=1e-9) if isinstance(value, float) else value
            assert pooled[key].results[name] == same, name
    for point, jobs in varied(job, every[:3]):
        alone = estimate(Design.model_validate(jobs, context={"job_file": True}), wanted=frozenset())
        (row,) = (r for r in serial.values() if dict(r.point) == dict(point))
        assert dict(row.results) == flat(alone.to_dict())


def test_keys_tell_designs_and_questions_apart(job: dict[str, object]) -> None:
    from fem.estimation.parts import Part

    one, two = (j for _, j in varied(job, points(AXES)[:2]))
    assert len({point_key(one, frozenset()), point_key(two, frozenset()), point_key(one, {Part.SWITCH_ON})}) == 3
    assert point_key(one, frozenset()) == point_key(json.loads(json.dumps(one)), frozenset())


def test_flat_results_are_finite(job: dict[str, object]) -> None:
    found = flat({"a": {"b": math.inf, "c": 1, "d": "x", "e": [1, 2]}, "title": "t"})
    assert found == {"a.b": None, "a.c": 1, "a.d": "x"}


@given(st.lists(st.integers(1, 80), max_size=30))
def test_tasks_hold_every_point_once_and_solve_fields_ahead(sizes: list[int]) -> None:
    """The first chunk of a group comes before the second of any of its neighbours: two workers solve two fields."""
    groups = [[(100 * g + k, f"{g}", {}, {}) for k in range(size)] for g, size in enumerate(sizes)]
    chunks = list(engine._chunks(groups, engine.CHUNK))
    assert sorted(e[0] for c in chunks for e in c) == [e[0] for g in groups for e in g]
    seen: set[str] = set()
    for chunk in chunks:
        fields = {key for _, key, _, _ in chunk}
        assert 0 < len(chunk) <= engine.CHUNK
        assert len(fields) <= engine.GEOMETRIES
        if fields <= seen:
            (number,) = map(int, fields)
            of_round = range(number - number % engine.AHEAD, min(len(sizes), number + 1))
            assert {str(n) for n in of_round} <= seen
        seen |= fields


class Mortal:
    """Runs tasks at once; one that holds a poisoned point dies, one with a bug fails, one that is forgotten is lost."""

    def __init__(self, slots=2, *, poisoned=(), bugs=(), forgotten=(), patience=2, gone_after=10**9):
        self.slots, self.patience, self.gone_after = slots, patience, gone_after
        self.poisoned, self.bugs, self.forgotten = set(poisoned), set(bugs), set(forgotten)
        self.under_way: list[Task] = []
        self.most, self.deaths, self.alone = 0, 0, 0

    def room(self):
        if self.gone_after <= 0:
            raise WorkersGone("the workers are gone")
        return self.slots - len(self.under_way)

    def begin(self, task):
        self.under_way.append(task)
        self.most = max(self.most, len(self.under_way))
        self.gone_after -= 1

    def ended(self, seconds):
        task, has = self.under_way.pop(), set()
        has = {point["n"] for point in task.points}
        if has & self.forgotten:
            self.forgotten -= has
            return [Ended(task)]
        if has & self.poisoned:
            self.deaths += 1
            return [Ended(task, died=True)]
        return [Ended(task, fault="LookupError: nothing")] if has & self.bugs else [Ended(task, rows(task))]

    def close(self):
        pass


def swept(workers: Mortal, count: int = 100) -> dict[int, Row]:
    jobs = [({"n": n}, {"title": str(n)}) for n in range(count)]
    found = [row for some in sweep(jobs, workers=workers) for row in some]
    assert len({row.position for row in found}) == len(found)
    return {row.position: row for row in found}


@pytest.mark.parametrize("poisoned", [[], [5], [3, 70, 99]])
@pytest.mark.parametrize("patience", [1, 2])
def test_a_point_that_kills_its_worker_takes_no_other_with_it(poisoned: list[int], patience: int) -> None:
    workers = Mortal(poisoned=poisoned, patience=patience)
    found = swept(workers)
    assert sorted(found) == list(range(100))
    assert [n for n in sorted(found) if found[n].status is Status.FAILED] == poisoned
    assert all("died" in found[n].reason for n in poisoned)
    lots = len({n // 32 for n in poisoned})
    assert workers.deaths == patience * (lots + len(poisoned))


def test_a_point_with_a_bug_fails_alone_and_what_is_forgotten_is_computed_again() -> None:
    found = swept(Mortal(bugs=[7], forgotten=[50]))
    assert sorted(found) == list(range(100))
    assert [n for n in sorted(found) if found[n].status is Status.FAILED] == [7]
    assert found[7].reason == "LookupError: nothing"


@pytest.mark.parametrize("slots", [1, 2, 8])
def test_as_many_tasks_are_under_way_as_there_is_room(slots: int) -> None:
    workers = Mortal(slots)
    assert len(swept(workers, 2000)) == 2000
    assert workers.most == slots


def until(kind: type[BaseException], some: Iterator[list[Row]]) -> tuple[list[Row], bool]:
    """Return the rows there are before it ends, and whether it ends so."""
    found: list[Row] = []
    try:
        for more in some:
            found += more
    except kind:
        return found, True
    return found, False


def test_rows_stay_when_the_workers_are_gone() -> None:
    workers = Mortal(1, gone_after=3)
    found, ended = until(WorkersGone, sweep([({"n": n}, {"title": str(n)}) for n in range(200)], workers=workers))
    assert ended
    assert len(found) == 3 * 32


def test_rows_computed_here_survive_ctrl_c(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of the task it falls into too."""

    def interrupted(task: Task):  # type: ignore[no-untyped-def]
        yield from rows(task)[:5]
        raise KeyboardInterrupt

    monkeypatch.setattr(engine, "rows_of", interrupted)
    found, ended = until(KeyboardInterrupt, sweep([({"n": n}, {"title": str(n)}) for n in range(20)]))
    assert ended
    assert len(found) == 5


def test_other_versions_give_no_row(job: dict[str, object], monkeypatch: pytest.MonkeyPatch) -> None:
    """A cluster's worker with another version, or another table under the same name."""
    tasks = list(engine._tasks(varied(job, points(AXES)[:2]), frozenset(), frozenset(), True))
    monkeypatch.setattr(task_module, "computed_by", lambda: "other sources")
    (some,) = map(run_task, tasks)
    assert [r.status for r in some] == [Status.FAILED] * 2
    assert all("other versions" in r.reason for r in some)
