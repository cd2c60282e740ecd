"""Reading a magnetisation table: each fault is one line with file, line number and what is allowed."""

import numpy as np
import pytest

from fem.materials.bh import BHCurve, read_bh_table

GOOD = "# own measurement\nH_A_per_m,B_T\n0,0\n100,0.8\n\n# knee\n1000,1.4\n10000,1.7\n"


def written(tmp_path, text):
    path = tmp_path / "sheet.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_table_is_read_past_comments(tmp_path):
    curve = read_bh_table(written(tmp_path, GOOD), 2.0)
    assert curve.name == "sheet"
    assert curve.H.tolist() == [0.0, 100.0, 1000.0, 10000.0]
    # The curve passes through the rows; B = MU0 H + (B - MU0 H) leaves rounding only.
    assert curve.flux_density(curve.H) == pytest.approx(curve.B, rel=1e-15)
    assert curve.valid_to == np.inf


def test_byte_order_mark_and_blanks_do_not_matter(tmp_path):
    assert read_bh_table(written(tmp_path, "\ufeffH_A_per_m, B_T\n 0, 0\n1,1e-3\n2,2e-3\n"), None).B[-1] == 2e-3


@pytest.mark.parametrize(
    ("text", "saturation", "message"),
    [
        ("", 2.0, "sheet.csv: the file has no table; it must start with the header 'H_A_per_m,B_T'"),
        ("H,B\n0,0\n", 2.0, "sheet.csv, line 1: header is 'H,B'; it must be 'H_A_per_m,B_T'"),
        ("H_A_per_m,B_T\n0,0\n1;2\n", 2.0, "sheet.csv, line 3: '1;2' is not a row; it must be two numbers"),
        ("H_A_per_m,B_T\n0,0\n1,2,3\n", 2.0, "sheet.csv, line 3: '1,2,3' is not a row"),
        ("H_A_per_m,B_T\n0,0\n1,0.1\n", 2.0, "sheet.csv: 2 rows; at least 3"),
        ("H_A_per_m,B_T\n", None, "sheet.csv: 0 rows; at least 3"),
        (
            "H_A_per_m,B_T\n1,0\n2,0.1\n3,0.2\n",
            2.0,
            "sheet.csv, line 2: starts at 1 A/m, 0 T; the first row must be 0,0",
        ),
        (GOOD + "9000,1.8\n", 2.0, "sheet.csv, line 9: 9000 A/m, 1.8 T after 10000 A/m, 1.7 T; both columns must rise"),
        (GOOD + "11000,1.7\n", 2.0, "sheet.csv, line 9: 11000 A/m, 1.7 T after 10000 A/m, 1.7 T; both columns"),
        (
            GOOD + "20000,1.71\n",
            2.0,
            "sheet.csv, line 9: slope from the row before is 1e-06 H/m; air alone gives 1.2566e-06",
        ),
        (GOOD + "nan,1.8\n", 2.0, "sheet.csv, line 9: nan A/m, 1.8 T is not finite"),
        (
            GOOD,
            1.5,
            "sheet.csv, line 8: polarisation 1.6874 T at 10000 A/m, 1.7 T is above the saturation polarisation 1.5 T",
        ),
        (
            "H_A_per_m,B_T\n0,0\n100,8000\n1000,14000\n",
            None,
            "sheet.csv, line 3: polarisation at 100 A/m, 8000 T is above 2.5",
        ),
        (GOOD, 20300.0, "sheet.csv: saturation polarisation 20300 T must lie above 0 and not above 2.5 T"),
        (GOOD, -1.0, "sheet.csv: saturation polarisation -1 T must lie above 0"),
        (
            GOOD + "20000,1.7125663706143592\n",
            2.0,
            "sheet.csv, line 9: polarisation stands still at 1.6874 T, below the saturation polarisation 2 T",
        ),
    ],
)
def test_fault_is_one_line_with_the_place(tmp_path, text, saturation, message):
    with pytest.raises(ValueError) as caught:
        read_bh_table(written(tmp_path, text), saturation)
    assert str(caught.value).startswith(message)
    assert "\n" not in str(caught.value)


def test_other_encodings_are_refused_with_the_line(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes("H_A_per_m,B_T\n# µ\n0,0\n".encode("latin-1"))
    with pytest.raises(
        ValueError, match=r"^sheet.csv, line 2: byte 3 is not UTF-8 text; save the table as plain UTF-8"
    ):
        read_bh_table(path, None)


def test_rows_in_memory_are_counted_from_one():
    with pytest.raises(ValueError, match=r"own, row 3: 5 A/m, 0.2 T after 10 A/m, 0.1 T"):
        BHCurve(name="own", H=[0, 10, 5], B=[0, 0.1, 0.2], saturation_polarisation=None, source="test")
    with pytest.raises(ValueError, match=r"own: H has shape \(3,\), B has shape \(2,\)"):
        BHCurve(name="own", H=[0, 10, 20], B=[0, 0.1], saturation_polarisation=None, source="test")


def test_table_without_saturation_ends_at_its_last_row(tmp_path):
    curve = read_bh_table(written(tmp_path, GOOD), None)
    assert curve.valid_to == 1.7
    assert curve.field_strength(-1.7) == pytest.approx(-10000)
    with pytest.raises(ValueError, match=r"sheet: 1.9 T is above 1.7 T, the end of the table; give the saturation"):
        curve.field_strength([1.0, -1.9])
    for method in (curve.polarisation, curve.flux_density, curve.differential_permeability):
        with pytest.raises(ValueError, match=r"sheet: 12000 A/m is beyond 10000 A/m, the end of the table"):
            method(-12000.0)


def test_nothing_left_to_approach_is_a_straight_line():
    # The last row carries all of J_s: beyond it B = MU0 H + J_s exactly.
    mu0 = 1.25663706143591729539e-6
    H = np.array([0.0, 100.0, 1000.0, 20000.0])
    J = np.array([0.0, 1.0, 1.8, 2.0])
    curve = BHCurve(name="own", H=H, B=J + mu0 * H, saturation_polarisation=2.0, source="test")
    assert curve.polarisation([20000.0, 1e5, 1e6]) == pytest.approx([2.0, 2.0, 2.0], rel=1e-12)
