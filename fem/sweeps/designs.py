"""A sweep round a design made in Python: no job file, no store."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from contextlib import closing, nullcontext, suppress

from pydantic import ValidationError

from fem.design.transformer import Design
from fem.estimation.parts import Part
from fem.sweeps.axes import Axis, Value, check_points, points
from fem.sweeps.points import sweep as rows_of
from fem.sweeps.points import varied
from fem.sweeps.rows.store import Row
from fem.sweeps.workers.pool import Pool


def sweep(
    design: Design,
    vary: Mapping[str, Iterable[Value]] | Iterable[Mapping[str, Value]],
    *,
    wanted: Set[Part] = frozenset(),
    workers: int = 1,
) -> list[Row]:
    """Estimate variants of a design; one that does not fit or fails is a row that says why.

    Parameters
    ----------
    design
        What all have in common.
    vary
        Dotted keys of a job, each with its values, for every combination; or point by point, each the keys that it
        changes with one value each. SI numbers, or texts with a unit.
    wanted
        Costly parts to compute.
    workers
        Processes. Each of several starts the script anew, which therefore needs `if __name__ == "__main__":`.

    Returns
    -------
    list of Row
        In the order of the points; of combinations the last key's values side by side.

    Raises
    ------
    KeyError
        If the design has no such key.
    AxisError
        If there are too many points.
    WorkersGone
        If the processes cannot be kept running.
    """
    if isinstance(vary, Mapping):
        asked = points([Axis(key=key, values=tuple(values)) for key, values in vary.items()])
        tried: dict[str, Value | None] = dict.fromkeys(vary)
    else:
        asked, tried = [dict(point) for point in vary], {}
        check_points([len(asked)])
    tried |= {key: value for point in reversed(asked) for key, value in point.items()}
    for key, value in tried.items():
        with suppress(ValidationError):  # a wrong value is its row's business, a wrong key everybody's
            design.vary(key, value)
    with closing(Pool(workers)) if workers > 1 else nullcontext() as pool:
        found = rows_of(varied(design.model_dump(exclude_unset=True), asked), wanted=wanted, workers=pool)
        return sorted((row for some in found for row in some), key=lambda row: row.position)
