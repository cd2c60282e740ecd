"""The command `start`: what is asked, what is refused, and that no answer is lost. Answers are invented."""

import io
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fem
from fem.cli import run
from fem.design.asking.questions import NotUnderstood, questions
from fem.design.asking.written import faults_of, waiting, written
from fem.design.job import read_job
from fem.design.schema import job_schema
from tests.support.kept import KEPT

CORE = ["230 V", "50 hz", "B 16", "three", "48 mm", "", "26 x 76 mm", "64 mm", "", "weld", ""]
PRIMARY = ["unknown", "10 turns, 10 V", "?", "0.65 ohm"]
SECONDARY = ["", "2", "70 sq mm", "", "1.2 m", ""]
WORK = ["carbon steel", "27 mm x 0.9 mm", "40 mm", "700 °C", "2 s"]
ANSWERS = [*CORE, *PRIMARY, *SECONDARY, *WORK]


@pytest.fixture
def told(monkeypatch, capsys, tmp_path):
    """Answer from a pipe; return exit code, the file, and the lines on standard error."""

    def start(*answers):
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{answer}\n" for answer in answers)))
        file = tmp_path / "my.toml"
        code = run(["start", "-o", str(file)])
        out, err = capsys.readouterr()
        assert out == ""
        return code, file, err.splitlines()

    return start


def test_answers_make_a_job_that_estimates(told):
    code, file, lines = told(*ANSWERS)
    assert (code, lines[-1]) == (0, f"rewound start: go on with: rewound estimate {file}")
    assert "\x1b" not in "".join(lines)
    text = file.read_text("utf-8")
    assert all("#" in line for line in text.splitlines() if " = " in line and not line.startswith("title"))
    design = read_job(file)
    assert (design.mains.breaker, design.core.joint.value, design.leads.conductor.area) == ("B16", "welded", 70e-6)
    assert {"core.outer_leg_width", "core.joint_gap", "leads.spacing"} <= {taken.key for taken in design.taken}
    found = fem.estimate(design, wanted=set(), characteristics=KEPT)
    assert found.open_circuit.secondary_voltage_rms == pytest.approx(2, rel=0.05)


def test_a_standard_sheet_and_nothing_known_make_one_too(told):
    answers = [
        "120 V",
        "",
        "",
        "",
        "ei 120",
        "50 mm",
        "",
        "",
        "300",
        "",
        "2.1 ohm",
        "round",
        "6",
        "2 mm x thick",
        "8 mm x 2 mm",
    ]
    code, file, lines = told(*answers, "8.3 mm x 2.3 mm", "1 m", "", "none")
    assert code == 0
    design = read_job(file)
    assert (design.core.lamination, design.core.leg_width) == ("EI120", 0.04)
    assert (design.mains.frequency, design.windings.arrangement.value) == (60.0, "concentric")
    assert design.windings.secondary.conductor.insulated == "8.3 mm x 2.3 mm"
    assert design.work_piece is None
    assert not design.core.joint_told
    assert any("expected a length" in line for line in lines)  # "2 mm x thick" was asked for again


def test_a_bad_answer_is_said_in_one_line_and_asked_for_again(told):
    code, _, lines = told("230 A", "1,5 kV", "230 V", "", "Z16", "", "four", "three", "48 V", *ANSWERS[4:])
    assert code == 0
    assert [line[line.index("expected") :].partition("; units")[0] for line in lines if "expected" in line] == [
        'expected a voltage with its unit, such as "230 V"; got "230 A"',
        'expected a voltage with its unit, such as "230 V"; got "1,5 kV": write 1.5 kV',
        'expected a breaker such as "B16", "C16", "UL 489 20 A" or "20 A", or a fuse such as "gG16" or "BS 1362 13 A", '
        '1 to 125 A; got "Z16"',
        'expected "shell" or "two-leg"; got "four"',
        'expected a length with its unit, such as "38 mm"; got "48 V"',
    ]


def test_a_bare_number_has_the_unit_that_the_question_names(told):
    core = ["230", "50", "B16", "three", "1 7/8 in", "24", "1 x 3 in", "64", "", "weld", ""]
    code, file, lines = told(
        *core, "", "10 turns, 10", "1.5", "", "1", "8 x 3", "", "1.2", "45", *WORK[:1], "27 x 0.9", "40", "700", "2"
    )
    assert code == 0
    named = [unit for line in lines for unit in re.findall(r", in (\w+)\?$", line)]
    assert set(named) == {"V", "Hz", "mm", "m", "degC", "s"}
    said = [line.partition("taken as ")[2] for line in lines if "taken as" in line]
    assert said == [
        "230 V", "50 Hz", "24 mm", "1 in x 3 in", "64 mm", "10 turns, 10 V", "1.5 mm", "8 mm x 3 mm", "1.2 m", "45 mm",
        "27 mm x 0.9 mm", "40 mm", "700 degC", "2 s",
    ]  # fmt: skip
    design = read_job(file)
    assert (design.core.window_height, design.leads.spacing) == pytest.approx((0.0762, 0.045))


def test_what_does_not_fit_is_asked_about_again(told):
    code, file, lines = told(*[*CORE, *PRIMARY, "", "3", "70 mm2", "", "1.2 m", "", "none"], "2", "", "")
    assert code == 0
    assert any(line.startswith("windings.secondary: 3 turns of 17.4 mm cable reach") for line in lines)
    assert read_job(file).windings.secondary.turns == 2


@pytest.mark.parametrize("count", range(1, len(ANSWERS)))
def test_no_answer_is_lost_where_the_input_ends(told, count):
    code, file, lines = told(*ANSWERS[:count])
    assert code == 1
    left = tomllib.loads(file.read_text("utf-8"))
    assert left["mains"]["voltage"] == "230 V"
    if count > 7:
        assert (left["core"]["leg_width"], left["core"]["stack_depth"]) == ("48 mm", "64 mm")
    if count in (20, 21):  # the leads' length is told, the work not yet begun: all else can be left out
        assert read_job(file).title
        return
    assert "not answered yet" in lines[-1]
    for key in re.search("yet: (.*); tell", lines[-1])[1].split(", "):
        assert re.search(rf"^# {key.rpartition('.')[2]} = +# NOT ANSWERED YET", file.read_text("utf-8"), re.MULTILINE)


def test_nothing_is_written_of_nothing(told):
    code, file, lines = told()
    assert (code, file.exists()) == (1, False)
    assert lines[-1] == f"rewound start: nothing was answered, so {file} is not written"


def test_ctrl_c_keeps_what_was_answered(monkeypatch, capsys, tmp_path):
    lines = iter(["230 V\n", "50 Hz\n"])

    class Pressed(io.StringIO):
        def readline(self, *_):
            try:
                return next(lines)
            except StopIteration:
                raise KeyboardInterrupt from None

    monkeypatch.setattr("sys.stdin", Pressed())
    file = tmp_path / "my.toml"
    assert run(["start", "-o", str(file)]) == 130
    assert tomllib.loads(file.read_text("utf-8"))["mains"] == {"voltage": "230 V", "frequency": "50 Hz"}
    assert "not answered yet: core.leg_width, " in capsys.readouterr().err.replace("core.type, ", "")


@pytest.mark.parametrize(
    ("text", "turns"),
    # 230 V over the volts of a turn: 230 / 0.98 = 234.7, 10 x 230 / 9.8, 5 x 230 / 4.3 = 267.4
    [("0.98 V", 235), ("10 turns, 9.8 V", 235), ("10 turns 9.8 V", 235), ("5: 4.3 VAC", 267)],
)
def test_a_search_coil_tells_the_turns(text, turns):
    coil = next(question for question in questions() if "search coil" in question.asks)
    found = coil.answer(text, {"mains.voltage": "230 V +-3 %"})
    assert found["windings.primary.turns"] == turns
    for bad in ("9.8", "0 V", "10 turns", "-3 V", "1 uV"):
        with pytest.raises(NotUnderstood):
            coil.answer(bad, {"mains.voltage": "230 V"})


def test_a_file_that_is_there_stays(monkeypatch, capsys, tmp_path):
    file = tmp_path / "my.toml"
    file.write_text("mine")
    assert run(["start", "-o", str(file)]) == 2
    assert (
        capsys.readouterr().err == f"rewound start: {file} is there already and stays as it is; name another with -o\n"
    )
    assert file.read_text() == "mine"
    assert run(["start", "-o", str(Path("/no/such/folder/my.toml"))]) == 2


def test_an_endless_pipe_of_nothing_ends(told):
    code, file, _ = told(*[""] * 500)
    assert code == 1
    assert tomllib.loads(file.read_text("utf-8"))["mains"]["frequency"] == "50 Hz"


def test_every_key_that_is_asked_for_is_one_of_the_schema():
    schema = job_schema()

    def keys(table, place=""):
        for name, value in table.get("properties", {}).items():
            yield place + name
            for kind in (value, *value.get("anyOf", ()), *value.get("oneOf", ())):
                if "$ref" in kind:
                    yield from keys(schema["$defs"][kind["$ref"].rpartition("/")[2]], f"{place}{name}.")

    assert {key for question in questions() for key in question.keys} <= set(keys(schema))


@settings(deadline=None, max_examples=60)
@given(st.integers(0, len(questions()) - 1), st.text(max_size=40))
def test_any_answer_is_taken_or_refused_in_a_line_and_the_file_is_toml(place, text):
    answers = {}
    for question, good in zip(questions(), ANSWERS, strict=True):
        if question.wanted(answers):
            answers = question.answer(good, answers)
    assert not waiting(answers)
    assert not faults_of(answers)
    try:
        answers = questions()[place].answer(text, answers)
    except NotUnderstood as fault:
        refusal = str(fault)
        assert "\n" not in refusal
    assert tomllib.loads(written(answers))["title"]
