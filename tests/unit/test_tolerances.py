"""A number with its tolerance is the number, and replaces the typical doubt of its key."""

import copy
import pickle
from math import log, sqrt
from pathlib import Path

import numpy as np
import pytest
from pydantic import ValidationError

import fem
from fem.design.job import read_job
from fem.design.schema import job_schema
from fem.design.tables import JobError, read_tables
from fem.design.told import takes_tolerance, tolerances
from fem.design.transformer import Design, as_given
from fem.examples import BUILT_IN
from fem.sweeps.axes import AxisError
from fem.sweeps.sample import read_tolerance, sampled
from fem.trust.doubts import doubts_of
from fem.trust.draws import draws
from geometries.described.quantities import FRACTION, LENGTH, TEMPERATURE, VOLTAGE, Dimension, told_quantity
from geometries.described.tolerances import Told

JOB = Path(__file__).parents[2] / "fem" / "examples" / f"{BUILT_IN}.toml"
PLAIN = read_job(JOB)


@pytest.mark.parametrize(
    ("text", "dimension", "value", "within"),
    [
        ("52 mm +-0.1 mm", LENGTH, 0.052, 1e-4),
        ("52 +-0.1 mm", LENGTH, 0.052, 1e-4),
        ("52 mm ± 100 um", LENGTH, 0.052, 1e-4),
        ("5.2 cm +/-1%", LENGTH, 0.052, 0.52e-3),
        ("230 V +-3 %", VOLTAGE, 230.0, 6.9),
        ("35 degC +-5 K", TEMPERATURE, 308.15, 5.0),
        ("35 +-5 degC", TEMPERATURE, 308.15, 5.0),
        ("0.95 +-0.01", FRACTION, 0.95, 0.01),
        ("1 7/8 +- 1/64 in", LENGTH, 0.047625, 0.396875e-3),
        ("230 VAC +- 3 volts", VOLTAGE, 230.0, 3.0),
    ],
)
def test_it_is_read(text: str, dimension: Dimension, value: float, within: float) -> None:
    found = told_quantity(text, dimension, unit_needed=True)
    assert found == value
    assert isinstance(found, Told)
    assert found.within == pytest.approx(within, rel=1e-12)


def job(tmp_path: Path, *changed: tuple[str, str]) -> Path:
    text = JOB.read_text(encoding="utf-8")
    for old, new in changed:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        (
            'leg_width = "52 mm"',
            'leg_width = "52 mm +-0.1"',
            'core.leg_width: "52 mm +-0.1": tolerance 0.1: it needs a',
        ),
        ('leg_width = "52 mm"', 'leg_width = "52 mm +-0.1 V"', '"V" is not its unit; units: m, cm, mm, um, in, %'),
        ('leg_width = "52 mm"', 'leg_width = "52 mm +- -1 mm"', "core.leg_width: expected a tolerance above 0"),
        ('leg_width = "52 mm"', 'leg_width = "52 mm +-0 mm"', "core.leg_width: expected a tolerance above 0"),
        ('leg_width = "52 mm"', 'leg_width = "52 mm +-55 mm"', "the tolerance is as wide as the value"),
        ('temperature = "35 degC"', 'temperature = "35 degC +-5 %"', "write its tolerance in K"),
        ('frequency = "50 Hz"', 'frequency = "50 Hz +-1 %"', "mains.frequency: takes no tolerance"),
        ('area = "70 mm2"', 'area = "70 mm2 +-1 %"', "leads.area: "),
        ('{ strip = "30 mm x 0.9 mm" }', '{ strip = "30 mm x 0.9 mm +-1 %" }', "work_piece.section.strip: "),
        ('switch_off = "2.2 s"', 'switch_off = "2.2 s +-0.1 s"', "work_piece.switch_off: takes no tolerance"),
    ],
)
def test_refusals_are_one_line(tmp_path: Path, old: str, new: str, line: str) -> None:
    with pytest.raises(JobError) as refused:
        read_job(job(tmp_path, (old, new)))
    assert len(refused.value.lines) == 1
    assert line in refused.value.lines[0]


def told(tmp_path: Path) -> Design:
    return read_job(
        job(
            tmp_path,
            ('leg_width = "52 mm"', 'leg_width = "52 mm +-0.1 mm"'),
            ('outer_leg_width = "26 mm"', 'outer_leg_width = "26 mm ± 0.2 mm"'),
            ('voltage = "230 V"', 'voltage = "230 V +-3 %"'),
            ('{ round = "1.7 mm" }', '{ round = "1.7 mm +-0.017 mm" }'),
            ('contact_resistance = "0.05 mohm"', 'contact_resistance = "0.05 mohm +-20 %"'),
            ('source_resistance = "0.45 ohm"', 'source_resistance = "0.45 ohm +-10 %"'),
        )
    )


def test_the_design_is_the_same(tmp_path: Path) -> None:
    design = told(tmp_path)
    assert design == PLAIN
    assert as_given(design) == as_given(PLAIN)
    assert hash(design.core) == hash(PLAIN.core)


def test_tolerances_live_through_copies(tmp_path: Path) -> None:
    design = told(tmp_path)
    expected = {
        "core.leg_width": 1e-4,
        "core.outer_leg_width": 2e-4,
        "mains.voltage": 6.9,
        "windings.primary.conductor.round": 0.017e-3,
        "work_piece.jaws.contact_resistance": 1e-5,
        "mains.source_resistance": 0.045,
    }
    copies = [
        design,
        pickle.loads(pickle.dumps(design)),
        copy.deepcopy(design),
        design.model_copy(update={"title": "other"}),
        design.vary("leads.length", "2 m"),
        Design.model_validate(design.model_dump()),
    ]
    for found in copies:
        assert tolerances(found) == pytest.approx(expected, rel=1e-9)
    varied = tolerances(design.vary("core.leg_width", "47 mm"))
    assert "core.leg_width" not in varied
    assert tolerances(PLAIN.vary("core.leg_width", "52 mm +-0.1 mm")) == pytest.approx({"core.leg_width": 1e-4})
    assert tolerances(fem.Mains(voltage="230 V +-3 %", frequency="50 Hz")) == pytest.approx({"voltage": 6.9})


def test_they_replace_typical_doubts(tmp_path: Path) -> None:
    found = {doubt.name: doubt for doubt in doubts_of(told(tmp_path))}
    typical = {doubt.name: doubt for doubt in doubts_of(PLAIN)}
    assert set(found) == {*typical, "mains.source_impedance"}
    limits = {
        "core.leg_width": (-1e-4, 1e-4),
        "mains.voltage": (0.97, 1.03),
        # resistance goes with the square of the diameter
        "primary.resistance": (0.98, 1.02),
        "mains.source_impedance": (0.9, 1.1),
        # places between half and twice what was measured
        "contact.jaws": (log(0.8) / log(2), log(1.2) / log(2)),
    }
    for name, doubt in found.items():
        if name in limits:
            assert doubt.told
            assert doubt.kind == "rectangular"
            assert doubt.quantile(np.array([0.0, 1.0])) == pytest.approx(limits[name], rel=1e-9)
        elif name != "core.outer_leg_width":
            assert doubt == typical[name]
    assert np.ptp(draws(tuple(found.values()), 256)["core.leg_width"]) == pytest.approx(2e-4, rel=0.01)


def test_every_key_that_takes_one_has_a_doubt() -> None:
    design = read_job(JOB)
    for key in sorted(takes_tolerance()):
        *path, last = key.split(".")
        part = design
        for name in path:
            part = getattr(part, name, None)
        value = getattr(part, last, None)
        if not isinstance(value, float) or not value:
            continue
        changed = design.vary(key, Told(value, value / 100))
        assert [d.key for d in doubts_of(changed) if d.told] == [key], key


def test_a_sweep_draws_within_the_jobs_own() -> None:
    tables = read_tables(JOB)
    tables["core"]["leg_width"] = "52 mm +-0.1 mm"
    tables["core"]["stacking_factor"] = "0.95 +-1 %"
    own = [read_tolerance("core.leg_width"), read_tolerance("core.stacking_factor")]
    drawn = sampled(tables, [{}], own, count=200, seed=0)
    widths = [float(str(point["core.leg_width"]).removesuffix(" mm")) for point in drawn]
    assert 51.9 <= min(widths) < 51.91
    assert 52.09 < max(widths) <= 52.1
    shares = [float(point["core.stacking_factor"]) for point in drawn]
    assert 0.9405 <= min(shares) < max(shares) <= 0.9595
    other = sampled(tables, [{}], [read_tolerance("core.leg_width=+-1mm")], count=200, seed=0)
    assert max(float(str(point["core.leg_width"]).removesuffix(" mm")) for point in other) > 52.9
    with pytest.raises(AxisError, match="the job tells no tolerance there"):
        sampled(tables, [{}], [read_tolerance("core.stack_depth")], count=2, seed=0)


def test_python_refuses_as_a_job_does() -> None:
    with pytest.raises(ValidationError, match="as wide as the value"):
        fem.Mains(voltage="230 V +-230 V", frequency="50 Hz")


def test_the_schema_tells_of_it() -> None:
    assert "+-0.1 mm" in job_schema()["description"]
    assert "core.leg_width" in job_schema()["description"]


@pytest.mark.slow
def test_bands_follow_and_numbers_do_not(tmp_path: Path) -> None:
    kept = fem.Kept()
    told_load = told(tmp_path).vary("load.resistance", "1.6 mohm +-20 %")
    plain, exact = (
        fem.estimate(design, wanted={fem.Part.BANDS}, characteristics=kept) for design in (PLAIN, told_load)
    )
    found, other = plain.to_dict(), exact.to_dict()
    typical, own = found.pop("bands"), other.pop("bands")
    assert found == other

    def width(bands: dict[str, dict[str, float]], key: str) -> float:
        return bands[key]["high"] - bands[key]["low"]

    # 90 % of a rectangular distribution of 3 % against a triangular one of 10 %, whose quantile is 1 - sqrt(0.1)
    # of its end; what else is in the voltage's doubt, a hundredth of the wide band's variance, stays
    key = "open_circuit.secondary_voltage_rms_V"
    mains = 0.03 * 0.9 / (0.1 * (1 - sqrt(0.1)))
    rest = 1 - dict((term["doubt"], term["share"]) for term in typical[key]["terms"])["mains"]
    assert rest < 0.02
    assert width(own, key) / width(typical, key) == pytest.approx(sqrt(mains**2 + rest), rel=0.03)
    assert width(own, "load.current_rms_A") > width(typical, "load.current_rms_A")
    assert own["load.current_rms_A"]["terms"][0]["doubt"] == "load"
