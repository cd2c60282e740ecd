"""The Cholesky wrapper: against another factorisation, and where the library underneath answers wrongly in silence."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix, diags
from scipy.sparse.linalg import splu

from fem.field.cholesky import Cholesky, NotPositiveDefinite

SIZE = 200


def system(seed: int) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], csc_matrix]:
    """A diagonally dominant, hence positive definite, matrix: its lower triangle's places and values, and all of it."""
    pattern, rng = np.random.default_rng(7), np.random.default_rng(seed)
    row, column = pattern.integers(0, SIZE, (2, 4 * SIZE))
    off = coo_matrix((rng.uniform(-1, 1, row.size), (row, column)), (SIZE, SIZE)).tocsr()
    symmetric = off + off.T
    full = csc_matrix(symmetric + diags(abs(symmetric) @ np.ones(SIZE) + rng.uniform(1, 2, SIZE)))
    full.sort_indices()
    lower = coo_matrix(full)
    keep = lower.row >= lower.col
    rows, columns, values = lower.row[keep], lower.col[keep], lower.data[keep]
    order = np.lexsort((rows, columns))
    return rows[order].astype(np.int64), columns[order].astype(np.int64), values[order], full


@pytest.fixture
def factor() -> Cholesky:
    rows, columns, _, _ = system(0)
    return Cholesky(rows=rows, columns=columns, size=SIZE)


def test_agrees_with_lu_for_each_new_set_of_numbers(factor: Cholesky) -> None:
    rhs = np.random.default_rng(3).normal(size=SIZE)
    for seed in (0, 1, 2, 1, 0):  # and back: nothing of earlier numbers may linger
        _, _, values, full = system(seed)
        factor.factor(values)
        # Rows are dominant by at least 1 with sums below some 20: a condition of 40, so both are exact to some 1e-14.
        assert_allclose(factor.solve(rhs), splu(full).solve(rhs), rtol=0, atol=1e-13 * np.abs(rhs).max())
        assert_allclose(factor.multiply(rhs), full @ rhs, rtol=1e-12, atol=1e-12)


def test_several_right_hand_sides_at_once(factor: Cholesky) -> None:
    _, _, values, full = system(1)
    factor.factor(values)
    rhs = np.random.default_rng(3).normal(size=(SIZE, 3))
    kept = rhs.copy()
    assert_allclose(full @ factor.solve(rhs), rhs, rtol=0, atol=1e-12)
    assert np.array_equal(rhs, kept), "the right-hand side was overwritten"


def test_the_values_given_are_not_altered(factor: Cholesky) -> None:
    _, _, values, _ = system(1)
    kept = values.copy()
    factor.factor(values)
    factor.solve(np.ones(SIZE))
    assert np.array_equal(values, kept)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_numbers_that_are_not_finite_are_refused(factor: Cholesky, bad: float) -> None:
    _, _, values, _ = system(0)
    values[17] = bad
    with pytest.raises(NotPositiveDefinite, match="finite"):
        factor.factor(values)


def test_indefinite_matrix_is_refused_and_the_next_one_solved(factor: Cholesky) -> None:
    rows, columns, values, full = system(0)
    wrong = values.copy()
    wrong[np.flatnonzero(rows == columns)[SIZE // 2]] *= -1
    with pytest.raises(NotPositiveDefinite, match=f"{SIZE} unknowns is not positive definite"):
        factor.factor(wrong)
    factor.factor(values)
    assert_allclose(full @ factor.solve(np.ones(SIZE)), np.ones(SIZE), rtol=1e-12)


def test_wrong_number_of_values_is_refused(factor: Cholesky) -> None:
    _, _, values, _ = system(0)
    for wrong in (values[:-1], np.append(values, 1.0), values[None]):
        with pytest.raises(NotPositiveDefinite, match=f"expected {values.size}"):
            factor.factor(wrong)


def test_unsorted_or_repeated_places_are_refused() -> None:
    rows, columns, _, _ = system(0)
    swapped = np.arange(rows.size)
    swapped[[3, 4]] = swapped[[4, 3]]
    with pytest.raises(ValueError, match="unique and sorted"):
        Cholesky(rows=rows[swapped], columns=columns[swapped], size=SIZE)
    with pytest.raises(ValueError, match="unique and sorted"):
        Cholesky(rows=np.append(rows, rows[-1]), columns=np.append(columns, columns[-1]), size=SIZE)


def test_solving_before_any_numbers_is_refused(factor: Cholesky) -> None:
    with pytest.raises(RuntimeError, match="nothing has been factored"):
        factor.multiply(np.ones(SIZE))


def test_two_factors_do_not_share_anything() -> None:
    rows, columns, first, full = system(0)
    _, _, second, _ = system(1)
    a, b = (Cholesky(rows=rows, columns=columns, size=SIZE) for _ in range(2))
    a.factor(first)
    b.factor(second)
    assert_allclose(full @ a.solve(np.ones(SIZE)), np.ones(SIZE), rtol=1e-12)
