"""Job files: every fault at once, each in one clear line with key, value and what is allowed."""

import tomllib
from importlib.resources import files

import pytest

from fem.constants import ROOM
from fem.design.duty import Duty
from fem.design.job import read_job
from fem.design.leads import Leads
from fem.design.limits import Limits
from fem.design.load import Load
from fem.design.mains import Mains
from fem.design.schema import job_schema
from fem.design.tables import JobError
from fem.design.transformer import Design
from fem.design.work_piece import Jaws, WorkPieceDescription
from fem.materials.steel import steel_names
from geometries.cores.shell import ShellCore
from geometries.described.quantities import COMMON, FRACTION, Dimension, parse_quantity
from geometries.windings.arrangement import Windings
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding

EXAMPLE = (files("fem") / "examples" / "bandsaw_brazing.toml").read_text("utf-8")
MODELS = (Design, Mains, ShellCore, Windings, Winding, Conductor, Leads, Load, Limits)


def faults_of(tmp_path, *edits: tuple[str, str]) -> list[str]:
    """Return the lines of what is wrong with the example after some edits, without the file's name."""
    text = EXAMPLE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    file = tmp_path / "job.toml"
    file.write_text(text, "utf-8")
    with pytest.raises(JobError) as caught:
        read_job(file)
    assert all(line.startswith(f"{file}: ") and "\n" not in line for line in caught.value.lines)
    return [line.removeprefix(f"{file}: ") for line in caught.value.lines]


TOO_LONG = "core.leg_width: 48 m is outside 3 mm to 500 mm"
BAD = [
    ('leg_width = "52 mm"', 'leg_width = "48 m"', TOO_LONG),
    ('leg_width = "52 mm"', 'leg_width = "-48 mm"', "core.leg_width: -48 mm is outside 3 mm to 500 mm"),
    (
        'leg_width = "52 mm"',
        'leg_width = "38 V"',
        'core.leg_width: expected a length with its unit, such as "38 mm"; got "38 V"; units: m, cm, mm, um, in',
    ),
    (
        'leg_width = "52 mm"',
        "leg_width = 48",
        'core.leg_width: expected a length with its unit, such as "38 mm"; got 48',
    ),
    ("turns = 236\n", "", "windings.primary.turns: missing"),
    (
        "turns = 236\n",
        "truns = 236\n",
        'windings.primary.truns: unknown key "truns"; did you mean "turns"?',
    ),
    ("[mains]", "[main]", 'main: unknown key "main"; did you mean "mains"?'),
    (
        "[windings.secondary]",
        "[windings.secondry]",
        'windings.secondry: unknown key "secondry"; did you mean "secondary" or "sections"?',
    ),
    (
        "turns = 3\n",
        "turns = 2.5\n",
        "windings.secondary.turns: turns 2.5: whole turns only (go and return through both windows)",
    ),
    ("turns = 3\n", f"turns = 1{400 * '0'}\n", "windings.secondary.turns: a whole number beyond 64 bits"),
    ("turns = 3\n", f"turns = 1{5000 * '0'}\n", "not TOML: a whole number has thousands of digits"),
    (
        'outer_leg_width = "26 mm"',
        'outer_leg_width = "24 V"',
        'core.outer_leg_width: expected a length with its unit, such as "38 mm"; got "24 V"; units: m, cm, mm, um, in',
    ),
    (
        'outer_leg_width = "26 mm"',
        'outer_leg_width = ["24 mm", "1 mm"]',
        "core.outer_leg_width.1: 1 mm is outside 3 mm to 500 mm",
    ),
    ('type = "shell"', 'type = "toroid"', 'core.type: expected "shell" or "two-leg"; got "toroid"'),
    (
        'steel = "M530-50A"',
        'steel = "M530"',
        'core.steel: unknown steel "M530"; did you mean "M530-65A" or "M530-50A"?; known: ' + ", ".join(steel_names()),
    ),
    (
        'material = "copper"',
        'material = "cooper"',
        'windings.primary.material: unknown metal "cooper"; did you mean "copper"?; '
        "known: copper, aluminium, copper-clad aluminium",
    ),
    (
        'joint = "welded"',
        'joint = "glued"',
        'core.joint: expected "butt", "interleaved" or "welded"; got "glued"',
    ),
    ('joint = "welded"', 'joint = "welded"\njoint_gap = "1 nm"', "core.joint_gap: 1 nm is outside 1 um to 5 mm"),
    (
        'area = "70 mm2"',
        "area = 70",
        'leads.area: expected an area or a gauge, such as "70 mm2" or "2/0 AWG"; got 70',
    ),
    (
        "conductor = { round",
        "conductor = { round = { a = 1 } } #",
        'windings.primary.conductor.round: expected a diameter, an area or a gauge, such as "1.6 mm", "2 mm2" or '
        '"14 AWG"; got "{\'a\': 1}"',
    ),
    (
        'breaker = "B16"',
        'breaker = "Z16"',
        'mains.breaker: expected a breaker such as "B16", "C16", "UL 489 20 A" or "20 A", or a fuse such as "gG16" or '
        '"BS 1362 13 A", 1 to 125 A; got "Z16"',
    ),
    (
        'breaker = "B16"',
        'breaker = "gG12"',
        "mains.breaker: gG fuses are known of 10, 16, 20, 25, 32, 40, 50, 63 A, got 12.0",
    ),
    (
        'breaker = "B16"',
        'breaker = "BS 1362 16 A"',
        "mains.breaker: rating must lie above 0 and up to 13 A for 'BS 1362', got 16.0",
    ),
    (
        "[work_piece.joint]",
        '[work_piece.second_path]\nlength = "51 m"\n[work_piece.joint]',
        "work_piece.second_path.length: 51 m is outside 200 um to 50 m",
    ),
    (
        "[work_piece.joint]",
        '[work_piece.second_path]\nlength = "1 m"\nmetal = "tungsten"\n[work_piece.joint]',
        'work_piece: unknown second_path.surface of tungsten "oxidised"; known: bright',
    ),
    (
        "[work_piece.joint]",
        '[work_piece.ring]\nlength = "2 m"\ndiameter = "1 m"\n[work_piece.joint]',
        "work_piece.ring: give exactly one of length and diameter; both given",
    ),
    (
        'length = "44 mm"                    # between the jaws\n',
        'ring = { length = "2 m" }\n',
        "work_piece: a ring round the leg is its own circuit; leave out jaws",
    ),
    (
        'length = "44 mm"                    # between the jaws\n',
        "",
        "work_piece: give exactly one of length and ring; none given",
    ),
    (
        "[work_piece.joint]                  # the lap with its foil of solder, in the middle\n"
        'resistance = "0.03 mohm"',
        '[work_piece.second_path]\nlength = "1 m"\n'
        '[work_piece.carbons]\nsection = { round = "9 mm" }\nlength = "20 mm"',
        "work_piece: second_path and carbons: give one of the two; a second path lies between clamping jaws",
    ),
    (
        'resistance = "0.03 mohm"',
        'filler_melts_at = "20 degC"',
        "work_piece.joint.filler_melts_at: 20 degC is outside 50 degC to 1727 degC",
    ),
    ('title = "Bandsaw blade brazing supply"', "title = 5", "title: expected a text in quotes; got 5"),
    ('temperature = "35 degC"', 'temperature = "40 C"', "temperature: 40 C is a charge; write 40 degC"),
    ("turns = 3\n", "turns =\n", f"line {EXAMPLE.splitlines().index('turns = 3') + 1}: not TOML: invalid value"),
    ("turns = 3\n", f"turns = {5000 * '['}\n", "brackets are nested too deeply"),
]


@pytest.mark.parametrize(("old", "new", "line"), BAD)
def test_each_fault_is_one_line_with_key_value_and_what_is_allowed(tmp_path, old, new, line):
    assert faults_of(tmp_path, (old, new)) == [line]


def test_all_faults_are_found_at_once_also_where_the_fit_is_one_of_them(tmp_path):
    found = faults_of(
        tmp_path,
        ('voltage = "230 V"', 'voltage = "230 mm"'),
        ('steel = "M530-50A"', 'steel = "iron"'),
        ("turns = 3\n", "turns = 4\n"),
        ('spacing = "45 mm"', 'spacing = "4 mm"'),
    )
    keys = [line.split(":")[0] for line in found]
    assert keys == ["mains.voltage", "core.steel", "leads", "windings.secondary"]


def test_a_winding_that_does_not_fit_says_by_how_many_millimetres(tmp_path):
    # By hand: 8 cables of 11.3 mm in 2 columns are 45.2 mm high above 35.8 mm (2 + 17 x 1.811 + 3), 80 mm is there.
    (line,) = faults_of(tmp_path, ("turns = 3\n", "turns = 4\n"))
    assert line.startswith("windings.secondary: 4 turns, 2 in hand, of 11.3 mm cable reach 81.0 mm")
    assert line.endswith("1.0 mm too much")


TABLES = [
    ("0,0\n100,1\n90,1.2\n", "table.csv, line 4: 90 A/m, 1.2 T after 100 A/m, 1 T; both columns must rise"),
    # sqrt(2) 230 V / (2 pi 50 Hz 236 turns 52 mm 56 mm 0.95) = 1.586 T
    (
        "0,0\n100,0.8\n200,1\n",
        "table.csv ends at 1 T, this core needs 1.59 T; give saturation_polarisation (1 T to 2.5 T) or more rows",
    ),
    (
        "0,0\n100,1\n1e6,1.01\n",
        "table.csv, line 4: slope from the row before is 1.0001e-08 H/m; air alone gives 1.2566e-06 H/m, "
        "so drop this row",
    ),
]


@pytest.mark.parametrize(("rows", "message"), TABLES)
def test_a_magnetisation_table_beside_the_job_is_checked(tmp_path, rows, message):
    (tmp_path / "table.csv").write_text("H_A_per_m,B_T\n" + rows)
    assert faults_of(tmp_path, ('steel = "M530-50A"', 'bh_table = "table.csv"')) == [f"core.bh_table: {message}"]


def test_a_good_table_is_found_beside_the_job_from_any_folder(tmp_path, monkeypatch):
    (tmp_path / "table.csv").write_text("H_A_per_m,B_T\n0,0\n100,1\n5000,1.6\n")
    job = tmp_path / "job.toml"
    job.write_text(EXAMPLE.replace('steel = "M530-50A"', 'bh_table = "table.csv"'), "utf-8")
    monkeypatch.chdir("/")
    assert read_job(job).core.bh_table == str((tmp_path / "table.csv").resolve())
    (tmp_path / "table.csv").unlink()
    with pytest.raises(JobError, match=r"core\.bh_table: .*table\.csv cannot be read: No such file"):
        read_job(job)


@pytest.mark.parametrize(
    ("content", "line"),
    [
        (b"title = 'caf\xe9'\n", "line 1: byte 0xE9 is not UTF-8; save the file as UTF-8 text"),
        (b"\n\nx\n", "line 3: not TOML: expected '=' after a key in a key/value pair"),
        (b"title = '", "line 1: not TOML: unterminated string"),
    ],
)
def test_a_file_that_is_no_toml_gives_one_line_with_its_number(tmp_path, content, line):
    file = tmp_path / "job.toml"
    file.write_bytes(content)
    with pytest.raises(JobError) as caught:
        read_job(file)
    where, _, message = line.partition(": not TOML")
    assert len(caught.value.lines) == 1
    assert caught.value.lines[0].startswith(f"{file}: {where}")
    assert bool(message) == ("not TOML" in caught.value.lines[0])


def test_missing_files_and_folders_give_one_line(tmp_path):
    for path, message in ((tmp_path / "no.toml", "no such file"), (tmp_path, "is a folder; a job is a text file")):
        with pytest.raises(JobError) as caught:
            read_job(path)
        assert caught.value.lines == (f"{path}: {message}",)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    file = tmp_path / "job.toml"
    file.write_bytes(b"\xef\xbb\xbf" + EXAMPLE.encode())
    assert read_job(file).windings.secondary.turns == 3


def test_the_schema_knows_every_key_of_the_models_and_describes_it():
    schema = job_schema()
    tables = {**schema["$defs"], "Design": schema}
    for model in MODELS:
        properties = tables[model.__name__]["properties"]
        assert set(properties) == set(model.model_fields)
        for name, key in properties.items():
            assert key["description"] or name == "type"
            assert key.get("type") != "number"


def test_the_defaults_of_the_schema_are_those_of_the_models():
    schema = job_schema()
    tables = {**schema["$defs"], "Design": schema}
    checked = 0
    for model in MODELS:
        for name, key in tables[model.__name__]["properties"].items():
            field = model.model_fields[name]
            dimension = next((mark for mark in field.metadata if isinstance(mark, Dimension)), None)
            if dimension is not None and dimension is not FRACTION and "default" in key:
                # Six digits are printed.
                assert parse_quantity(key["default"], dimension) == pytest.approx(field.default, rel=1e-5)
                checked += 1
    assert checked >= 5
    assert "length" in COMMON


def test_every_key_of_the_example_is_in_the_schema():
    schema = job_schema()

    def walk(table, value):
        # a table that may be left out is any of a reference and null
        table = next((kind for kind in table.get("anyOf", ()) if "$ref" in kind), table)
        # of several kinds of core the example's is the first
        table = next((kind for kind in table.get("oneOf", ()) if "$ref" in kind), table)
        table = schema["$defs"][table["$ref"].rpartition("/")[2]] if "$ref" in table else table
        assert set(table.get("required", [])) <= set(value)
        for name, inner in value.items():
            assert name in table["properties"]
            if isinstance(inner, dict):
                walk(table["properties"][name], inner)

    walk(schema, tomllib.loads(EXAMPLE))


def test_there_is_one_room_where_a_job_names_none():
    told = [(Duty, "ambient"), (WorkPieceDescription, "ambient"), (Jaws, "temperature")]
    assert {model.model_fields[name].default for model, name in told} == {ROOM}
