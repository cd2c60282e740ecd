"""The command line: exit codes, what goes to stdout and what to stderr. The computation is not part of this."""

import json
from importlib.resources import files
from pathlib import Path

import pytest

import fem.cli
import fem.estimation.card
import fem.estimation.one_design
from fem.cli import run
from fem.commands.output import write_output
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.report.figures.estimate import FILES, figures_of
from fem.report.sheet.page import bench_sheet
from geometries.assembly.mesh import MesherUnavailable, MeshFailed


@pytest.fixture
def computed(monkeypatch, hand_made):
    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda design, **_: hand_made)


def test_without_a_job_the_example_is_estimated_and_that_is_said(computed, capsys):
    assert run(["estimate"]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("Bandsaw blade brazing supply: fits")
    assert len(err.splitlines()) == 1
    assert "built-in example" in err


def test_quiet_says_nothing(computed, capsys):
    assert run(["estimate", "-q"]) == 0
    assert capsys.readouterr().err == ""


def test_colour_is_kept_out_of_pipes(computed, capsys):
    run(["estimate"])
    out, _ = capsys.readouterr()
    assert "\x1b" not in out
    assert max(map(len, out.splitlines())) <= 100


def test_json_to_stdout_is_nothing_but_json(computed, capsys, hand_made):
    assert run(["estimate", "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out) == hand_made.to_dict()


def test_a_sheet_to_stdout_is_nothing_but_the_sheet(computed, capsys, hand_made):
    assert run(["estimate", "-q", "--sheet", "-"]) == 0
    assert capsys.readouterr() == (bench_sheet(hand_made), "")


def test_all_outputs_are_written(computed, capsys, tmp_path, hand_made):
    file, folder, vtu = tmp_path / "out.json", tmp_path / "new" / "figures", tmp_path / "idle.vtu"
    sheet = tmp_path / "sheet.html"
    places = ["--json", str(file), "--figures", str(folder), "--vtu", str(vtu), "--sheet", str(sheet)]
    assert run(["estimate", *places]) == 0
    assert sheet.read_text("utf-8") == bench_sheet(hand_made)
    assert json.loads(file.read_text("utf-8")) == hand_made.to_dict()
    assert len(list(folder.glob("*.svg"))) == len(list(folder.glob("*.png"))) == len(figures_of(hand_made))
    assert {path.name for path in folder.iterdir()} <= set(FILES)  # what is checked before the work
    assert vtu.stat().st_size > 0


def test_a_file_that_cannot_be_written_costs_neither_the_results_nor_the_other_files(
    computed, capsys, tmp_path, monkeypatch
):
    gone, good = tmp_path / "gone" / "out.json", tmp_path / "idle.vtu"
    gone.parent.mkdir()
    estimate = fem.estimation.one_design.estimate
    monkeypatch.setattr(
        fem.estimation.one_design, "estimate", lambda *a, **b: (gone.parent.rmdir(), estimate(*a, **b))[1]
    )
    assert run(["estimate", "-q", "--json", str(gone), "--vtu", str(good)]) == 2
    out, err = capsys.readouterr()
    assert "lead ends" in out
    assert err == f"rewound: cannot write {gone}: No such file or directory\n"
    assert good.exists()


@pytest.mark.parametrize(
    ("error", "code", "says"),
    [
        (
            NotConverged("idle current", residual=0.1, tolerance=1e-10, tried="50 steps"),
            3,
            "rewound: no convergence: idle current",
        ),
        (MesherUnavailable("gmsh cannot be loaded; apt-get install libglu1-mesa"), 69, "apt-get install"),
        (MeshFailed("gmsh: no convergence"), 3, "rewound: no mesh: gmsh"),
        (OutOfRange("table.csv ends at 1.2 T"), 2, "ends at 1.2 T"),
        (DoesNotFit([("shunt", "sticks out of the window")]), 2, "rewound: shunt: sticks out of the window"),
        (KeyboardInterrupt(), 130, "rewound: stopped"),
    ],
)
def test_what_goes_wrong_has_its_exit_code_and_one_line(monkeypatch, capsys, error, code, says):
    def fail(design, **_):
        raise error

    monkeypatch.setattr(fem.estimation.one_design, "estimate", fail)
    monkeypatch.setattr(fem.estimation.card, "card", fail)
    for command in (["estimate", "-q"], ["card", str(files("fem.examples") / "bandsaw_brazing.toml"), "-q"]):
        assert run(command) == code
        out, err = capsys.readouterr()
        assert out == ""
        assert says in err
        assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["estimate", "--nonsense"], "--nonsense"),
        (["nonsense"], "nonsense"),
        (["list"], "rewound list"),
        (["list", "cheese"], "'steels', 'conductors', 'laminations', 'metals'"),
        (["example", "cheese"], 'no example "cheese"; there is bandsaw_brazing'),
        (["estimate", "no.toml"], "no.toml: no such file"),
    ],
)
def test_wrong_usage_is_one_line(capsys, arguments, says):
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert len(err.splitlines()) == 1


def test_the_example_is_printed_as_it_is_and_can_be_estimated(computed, capsys, tmp_path):
    assert run(["example"]) == 0
    file = tmp_path / "my.toml"
    file.write_text(capsys.readouterr().out, "utf-8")
    assert run(["estimate", "-q", str(file)]) == 0


def test_the_schema_is_json(capsys):
    assert run(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["title"] == "Job file"


@pytest.mark.parametrize("what", ["steels", "conductors", "laminations", "metals", "work-pieces", "results"])
def test_lists(capsys, what):
    assert run(["list", what]) == 0
    out, err = capsys.readouterr()
    assert len(out.splitlines()) > 2
    assert err == ""


def test_version_and_help(capsys):
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("rewound ")
    for arguments in ([], ["--help"], ["estimate", "--help"]):
        assert run(arguments) == 0
        assert "Usage: rewound" in capsys.readouterr().out


def test_a_file_whose_name_has_a_line_end_is_told_in_one_line(tmp_path, capsys):
    assert write_output(tmp_path / "a\nb", lambda file: file.write_text(""), quiet=False)
    assert not write_output(tmp_path / "a\nc" / "d", lambda file: file.write_text(""), quiet=False)
    assert len(capsys.readouterr().err.splitlines()) == 2


@pytest.mark.parametrize(
    "command", ["", "estimate", "sweep", "card", "protocol", "list", "schema", "example", "verify"]
)
def test_help_has_a_short_name_too(capsys, command):
    found = []
    for option in ("-h", "--help"):
        assert run([*command.split(), option]) == 0
        found.append(capsys.readouterr().out)
    assert found[0] == found[1]
    assert "Usage: rewound" in found[0]


def test_a_shell_is_told_how_to_complete(capsys, monkeypatch):
    monkeypatch.setenv("_REWOUND_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", "rewound es")
    monkeypatch.setenv("COMP_CWORD", "1")
    with pytest.raises(SystemExit) as ended:
        fem.cli.app(prog_name="rewound")
    assert (ended.value.code, capsys.readouterr().out.split()) == (0, ["estimate"])


def test_each_step_is_said_once(monkeypatch, capsys, hand_made):
    """Several results need the same step, each for a part of it."""

    def computed(design, *, progress, **_):
        for step in ("resistances", "circuit", "resistances", "circuit", "done"):
            progress(step)
        return hand_made

    monkeypatch.setattr("fem.estimation.one_design.estimate", computed)
    assert run(["estimate", "--quiet", "--verbose"]) == 0
    assert capsys.readouterr().err.splitlines() == ["resistances", "circuit", "done"]


def test_a_length_without_its_unit_is_the_only_fault(capsys, tmp_path):
    """What follows from it, here yoke and outer legs, has none of its own."""
    text = Path(str(files("fem.examples") / "shortest.toml")).read_text("utf-8")
    (tmp_path / "my.toml").write_text(text.replace('leg_width = "52 mm"', "leg_width = 52"), "utf-8")
    assert run(["estimate", str(tmp_path / "my.toml")]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.endswith('core.leg_width: expected a length with its unit, such as "38 mm"; got 52')
