"""Rows computed one after the other in a process of their own.

This one may have imported NGSolve, whose BLAS CHOLMOD then calls: its last digits are others.
"""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from fem.study.axes import Point
from fem.study.job import read_tables
from fem.study.pool import Pool
from fem.study.store import Row
from fem.study.sweep import sweep, varied


def rows_alone(job: Path, points: Sequence[Point]) -> dict[str, Row]:
    """Return the rows of a job's points by key."""
    with closing(Pool(1)) as pool:
        found = sweep(varied(read_tables(job), points), workers=pool, job_file=True)
        return {row.key: row for rows in found for row in rows}
