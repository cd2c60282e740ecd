"""Rows computed one after the other in a process of their own.

This one may have imported NGSolve, whose BLAS CHOLMOD then calls: its last digits are others.
"""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from fem.design.tables import read_tables
from fem.sweeps.axes import Point
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.store import Row
from fem.sweeps.workers.pool import Pool


def rows_alone(job: Path, points: Sequence[Point]) -> dict[str, Row]:
    """Return the rows of a job's points by key."""
    with closing(Pool(1)) as pool:
        found = sweep(varied(read_tables(job), points), workers=pool, job_file=True)
        return {row.key: row for rows in found for row in rows}
