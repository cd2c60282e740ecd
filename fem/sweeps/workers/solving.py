"""Jobs solved side by side as far as they are alike, each with what became of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from pydantic import ValidationError

from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.estimation.block import COLUMNS, block_of, likeness, takes_block
from fem.estimation.by_length import Near, slope
from fem.estimation.case import Case
from fem.estimation.fields.source import Source
from fem.estimation.inputs.joints import one_cable
from fem.estimation.one_design import estimate, sections
from fem.estimation.parts import Part
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import unknowns
from fem.sweeps.rows.cells import Cells, Columns
from fem.sweeps.rows.flat import ends, flat
from fem.sweeps.rows.store import Status
from geometries.described.faults import Description, faults

Outcome = tuple[Status, str, Mapping[str, Any]]
"""How a point ended, why where it did not end well, and its results."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Solver:
    """Who solves jobs.

    Parameters
    ----------
    wanted
        Costly parts; with any of them jobs are solved one by one.
    source
        Where fields come from.
    job_file
        Whether bare numbers are refused where a unit is needed.
    along
        A result and a length by which its derivative is told beside the results, see `slope_key`; without costly parts.
    """

    wanted: Set[Part]
    source: Source
    job_file: bool
    along: tuple[str, str] | None = None

    def outcomes(
        self, jobs: Sequence[Mapping[str, Any]], text: Callable[[object], str]
    ) -> Iterator[tuple[Sequence[int], Sequence[Outcome]]]:
        """Yield what became of jobs, block by block: their places, and each one's outcome.

        Parameters
        ----------
        jobs
            Tables.
        text
            Returns a table as text, the same for equal tables.
        """
        groups: dict[object, list[int]] = {}
        tables: list[dict[str, Description]] = []
        known: dict[tuple[str, str], tuple[Description, object]] = {}
        for place, job in enumerate(jobs):
            own: dict[str, Description] = {}
            alike: list[object] = []
            for name, table in job.items():
                if self.wanted or name not in COLUMNS or not isinstance(table, Mapping):
                    alike.append((name, text(table)))
                    continue
                found = known.get(key := (name, text(table)))
                if found is None:
                    try:
                        checked = _model(name).model_validate(table, context={"job_file": self.job_file})
                        found = known[key] = checked, (name, likeness(name, checked))
                    except ValidationError:
                        alike.append(key)  # the whole job says it better
                        continue
                own[name] = found[0]
                alike.append(found[1])
            tables.append(own)
            groups.setdefault(tuple(alike), []).append(place)
        for places in groups.values():
            yield from self._group(places, jobs[places[0]], [tables[place] for place in places])

    def _group(
        self, places: list[int], job: Mapping[str, Any], tables: list[dict[str, Description]]
    ) -> Iterator[tuple[Sequence[int], Sequence[Outcome]]]:
        try:
            design = Design.model_validate(job, context={"job_file": self.job_file})
        except ValidationError as error:
            refused = "; ".join(f"{fault.key}: {fault.message}" for fault in faults(error))
            yield places, [(Status.REFUSED, refused, {})] * len(places)
            return
        parts: dict[object, list[int]] = {}
        if not self.wanted and takes_block(design):
            goes_on: dict[object, bool] = {}  # whether the secondary's cable goes on as the leads, two joints less
            for at, table in enumerate(tables):
                leads = table.get("leads")
                if (area := getattr(leads, "area", None)) not in goes_on:
                    goes_on[area] = one_cable(design.model_copy(update={"leads": leads}))
                parts.setdefault(goes_on[area], []).append(at)
        else:
            parts = {at: [at] for at in range(len(tables))}
        for part in parts.values():
            yield from self._solved(design, [places[at] for at in part], [tables[at] for at in part])

    def _solved(
        self, like: Design, places: Sequence[int], tables: Sequence[Mapping[str, Description]]
    ) -> Iterator[tuple[Sequence[int], Sequence[Outcome]]]:
        """Solve a block; where one of them fails, halves of it, down to single designs, which say why."""
        count = len(places)
        try:
            yield places, self._found(block_of(like, tables), count)
        except DoesNotFit as error:
            yield places, [(Status.REFUSED, str(error), {})] * count
        except (OutOfRange, NotConverged, ValueError, ArithmeticError, OSError) as error:
            if count > 1:
                for part in (slice(0, count // 2), slice(count // 2, count)):
                    yield from self._solved(like, places[part], tables[part])
            elif isinstance(error, OutOfRange):
                yield places, [(Status.REFUSED, str(error), {})]
            else:
                yield places, [(Status.FAILED, f"{type(error).__name__}: {error}", {})]

    def _found(self, design: Design, count: int) -> list[Outcome]:
        besides: dict[str, Any] = {}
        if self.wanted:
            whole = estimate(design, wanted=self.wanted, characteristics=self.source)
            found = {station.key: getattr(whole, station.key) for station in STATIONS}
            lacking = [(key, whole.unknowns[key]) for key in whole.gaps]
            besides = ends(whole.bands)
        else:
            design = in_use(design)
            source = self.source if self.along is None else Near(self.source, self.along[1])
            found = sections(Case(design=design, wanted=self.wanted, source=source, members=count))
            if isinstance(source, Near) and self.along is not None:
                besides = _slope(design, source, *self.along, count)
            everything = [pair for key, result in found.items() for pair in unknowns(key, result)] if count == 1 else []
            lacking = [(key, unknown) for key, unknown in everything if unknown.gap]
        gaps = "; ".join(f"{key}: {unknown.reason}" for key, unknown in lacking)
        results = flat(found) | besides
        if count == 1:
            return [
                (Status.DONE, gaps, {key: value for key, value in results.items() if not isinstance(value, np.ndarray)})
            ]
        columns = Columns(results)
        return [(Status.DONE, gaps, Cells(columns, place)) for place in range(count)]


def slope_key(result: str, length: str) -> str:
    """Return under which key the derivative of a result by a length is told [SI]."""
    return f"{result} per {length}_m"


def _slope(design: Design, near: Near, result: str, length: str, count: int) -> dict[str, Any]:
    """Return it by its key; nothing where it is not known."""
    station = next((station for station in STATIONS if station.key == result.partition(".")[0]), None)
    if station is None or station.part is not None:
        return {}
    found = slope(design, near, length, lambda case: flat({station.key: station.compute(case)}).get(result), count)
    return {} if found is None or not np.all(np.isfinite(found)) else {slope_key(result, length): found}


@cache
def _model(name: str) -> type[Description]:
    """Return the model of one of a design's tables."""
    annotation: Any = Design.model_fields[name].annotation
    options = getattr(annotation, "__args__", (annotation,))
    return next(option for option in options if isinstance(option, type) and issubclass(option, Description))
