"""The tables of published values: every row says where it is from, how sure that is and why its tolerance."""

from dataclasses import asdict

import pytest

from fem.verification.published import Measure
from tests.support.values import published, published_keys


@pytest.mark.parametrize("key", published_keys(""))
def test_row_is_complete_and_its_tolerance_narrow(key: str) -> None:
    row = published(key)
    given = asdict(row)
    assert all(text.strip() for name, text in given.items() if name not in ("measure", "tolerance"))
    if row.measure is Measure.AT_LEAST:
        assert row.tolerance == 0  # a guarantee is one-sided and has none
    else:
        assert row.tolerance > 0
    if row.measure is Measure.ABSOLUTE:
        # Half a digit of the coarsest printed numbers is 2 %, and a hundredth of a per cent more where fringing adds.
        assert row.tolerance < 0.035 * row.number
    else:
        assert row.tolerance <= 0.03


@pytest.mark.parametrize(
    ("key", "value"), [("wire_internal", 4e-7 / 8), ("slot_filled", 4e-7 * 3.141592653589793 * 30 / (3 * 10))]
)
def test_numbers_follow_from_their_formulas(key: str, value: float) -> None:
    assert published(key).number == pytest.approx(value, rel=1e-6)
