"""Physical relations between two estimates: what one change of a job must do to its results."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass
from typing import Any

from fem.design.transformer import Design
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.sweeps.axes import job_at
from geometries.windings.arrangement import place
from tests.campaign.always import results
from tests.campaign.designs import read
from tests.campaign.drawing import Draw

Changes = Mapping[str, Any]
QUICK: Set[Part] = frozenset()
SOLVED = 2e-3
"""Two meshes of one field: planar flux within 3e-4 and leakage within 6e-4 of a mesh of its own (see DEVELOPERS.md),
each estimate twice, and the interpolation of the curve between its points."""


class NotHere(Exception):
    """The relation does not apply to this design, or the changed design is refused."""


@dataclass(frozen=True, kw_only=True)
class Subject:
    """A design to be changed.

    Parameters
    ----------
    job, design
        Its tables and what they describe.
    found
        Its `Estimate.to_dict`, with the parts in `wanted`.
    kept
        Fields solved so far.
    draw
        For what the change is.
    """

    job: dict[str, Any]
    design: Design
    found: dict[str, Any]
    wanted: Set[Part]
    kept: Kept
    draw: Draw

    def changed(self, changes: Changes, wanted: Set[Part] = QUICK, *, gone: Iterable[str] = ()) -> dict[str, Any]:
        """Return the estimate of a changed job: dotted keys set, others taken out.

        Raises
        ------
        NotHere
            If that is refused.
        """
        job = job_at(self.job, dict(changes))
        for key in gone:
            job = without(job, key)
        return self.of(job, wanted)

    def of(self, job: dict[str, Any], wanted: Set[Part] = QUICK) -> dict[str, Any]:
        """Return the estimate of another job.

        Raises
        ------
        NotHere
            If that is refused.
        """
        design = read(job)
        if design is None:
            raise NotHere
        try:
            return estimate(design, wanted=wanted, characteristics=self.kept).to_dict()
        except (DoesNotFit, OutOfRange, NotConverged) as error:
            raise NotHere from error

    def again(self, wanted: Set[Part] = QUICK) -> dict[str, Any]:
        """Return the estimate of the job as it is, with other parts."""
        return self.of(self.job, wanted)


Relation = Callable[[Subject], list[str]]


def sized(subject: Subject) -> dict[str, Any]:
    """Return the job with both windings' height and build given as they are, so that fewer turns keep the field."""
    windings = subject.design.windings
    if windings.primary.extra is not None:
        raise NotHere
    blocks = place(subject.design.core, windings)
    sizes = {}
    for name in ("primary", "secondary"):
        mine = [block for block in blocks if block.winding == name]
        sizes[f"windings.{name}.height"] = f"{sum(block.height for block in mine)!r} m"
        sizes[f"windings.{name}.build"] = f"{max(block.build for block in mine)!r} m"
    return job_at(subject.job, sizes)


def without(job: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Return a job's tables without a dotted key; the others are shared."""
    first, _, rest = key.partition(".")
    if not rest or not isinstance(job.get(first), Mapping):
        return {name: value for name, value in job.items() if name != first or rest}
    return {**job, first: without(job[first], rest)}


def unlike(
    one: Mapping[str, Any], other: Mapping[str, Any], tolerance: float = 0.0, *, keys: Iterable[str] | None = None
) -> list[str]:
    """Return which results differ, at most three; keys that only one has count as different."""
    mine, others = results(one), results(other)
    found = []
    for key in keys if keys is not None else sorted(set(mine) | set(others)):
        a, b = mine.get(key, "missing"), others.get(key, "missing")
        if a == b:
            continue
        if isinstance(a, float | int) and isinstance(b, float | int) and abs(a - b) <= tolerance * max(abs(a), abs(b)):
            continue
        found.append(f"{key}: {a!r} against {b!r}")
    return found[:3] + ([f"and {len(found) - 3} more"] if len(found) > 3 else [])


def at_most(name: str, small: float, large: float, tolerance: float) -> list[str]:
    """Return a line where `small` is above `large`."""
    return [f"{name}: {small:.8g} above {large:.8g}"] if small > large * (1 + tolerance) else []
