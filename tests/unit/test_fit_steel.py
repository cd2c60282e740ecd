"""A steel's curve as a fit hands it on: the file, the job, the doubts of a curve that tells its own."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.fitting.steel import SteelPoint, points, steel_curve, steel_table
from fem.fitting.unknowns import unknowns_of
from fem.materials.bh import read_bh_table
from fem.readings.described import Readings
from fem.readings.reading import readings_of
from fem.trust.doubt import Z90
from fem.trust.doubts import doubts_of
from fem.trust.draws import draws
from fem.trust.scored import balanced, scored
from fem.trust.steel_curve import density_over_table, field_over_table
from tests.support.every_kind import design_of

CURVE = tuple(
    SteelPoint(flux_density=B, field=H, low=H / 1.2, high=1.2 * H, before=H, left=left)
    for B, H, left in ((0.4, 40.0, 0.3), (0.6, 39.9, 0.3), (1.0, 80.0, 0.4), (1.4, 500.0, 0.6), (1.6, 2500.0, 0.9))
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "steel.csv"
    path.write_text(str(steel_table(CURVE)))
    return path


def cored(**more: object) -> Design:
    design = design_of("shell")
    return design.model_copy(update={"core": type(design.core).model_validate({**design.core.model_dump(), **more})})


def test_a_written_curve_is_read_with_its_doubt(table: Path) -> None:
    curve = read_bh_table(table, 2.06)
    assert curve.within is not None
    # what falls back is left out, as no curve does
    assert curve.B.tolist() == [0.0, 0.4, 1.0, 1.4, 1.6]
    assert curve.within[1:] == pytest.approx(0.2)
    some = draws(doubts_of(cored(bh_table=str(table))), 1024)
    off = np.log(field_over_table(some, curve))
    # nine times out of ten within so much of itself, and nothing besides
    assert np.quantile(off, [0.05, 0.95], axis=0) == pytest.approx(np.outer([-1, 1], np.full(4, np.log(1.2))), rel=0.03)
    assert np.all(density_over_table(some, curve) == 1.0)
    own = density_over_table(some, replace(curve, within=None))
    assert own.std() == pytest.approx(0.02 / Z90, rel=0.05)


def test_little_is_not_written() -> None:
    assert steel_table([replace(point, left=0.8) for point in CURVE]) is None
    assert steel_table(()) is None


def test_a_grade_beside_a_table_gives_loss_and_density(table: Path) -> None:
    grade, measured = sheet_of(cored().core), sheet_of(cored(bh_table=str(table), specific_loss="4 W/kg").core)
    assert measured.curve.name == "steel"
    assert measured.density == grade.density
    assert measured.loss.guaranteed == pytest.approx(4.0)
    assert measured.loss.specific(1.0, 60.0) / grade.loss.specific(1.0, 60.0) == pytest.approx(
        4.0 / grade.loss.guaranteed
    )
    names = {doubt.name for doubt in doubts_of(cored(specific_loss="4 W/kg"))}
    assert "loss.measured" in names
    assert not {"loss.building", "loss.grade"} & names


@pytest.mark.parametrize(
    ("text", "said"),
    [("0.1", "must be three numbers"), ("0.1,5", r"H_within 5 must lie within 0 and 3"), ("0.1,x", "three numbers")],
)
def test_a_bad_doubt_is_refused(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "steel.csv"
    path.write_text(f"H_A_per_m,B_T,H_within\n0,0,0\n100,{text}\n")
    with pytest.raises(ValueError, match=said):
        read_bh_table(path, None)


def test_points_of_a_curve_lie_apart() -> None:
    tests = [{"primary_voltage": f"{volts} V", "current": "1 A"} for volts in (100, 105, 150)]
    tests += [{"current": "2 A"}, {"primary_voltage": "60 V", "power": "5 W"}]
    taken = readings_of(Readings.model_validate({"no_load": tests}))
    assert points(taken, 230.0, "current") == 3  # 105 V tells no more than 100 V; the last is on the mains
    assert points(taken, 230.0, "power") == 1


def test_one_factor_goes_on_as_a_curve_too() -> None:
    # one no-load current tells one factor: the table's field strength times its median, its spread at every row
    design = design_of("shell")
    doubts = unknowns_of(design, primary=False, secondary=False)
    names, scores = [doubt.name for doubt in doubts], np.zeros((512, len(doubts)))
    scores[:, names.index("steel.field")] = 0.8 + 0.2 * balanced(512, 1)[:, 0]
    found = steel_curve(Case(design=design, wanted=frozenset()), scored(doubts, scores))
    factor = 1.25 ** (0.8 / Z90)  # its 95 % quantile, of a named grade
    assert [p.field / p.before for p in found] == pytest.approx([factor] * len(found), rel=0.01)
    # flux density is not in doubt here, and was: what is left is below the factor's own fifth
    assert max(p.left for p in found) < 0.22
    assert steel_table(found) is not None
