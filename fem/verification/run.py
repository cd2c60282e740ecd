"""Check the installed tool against published values: the same sections, meshes, fields and circuits that jobs use."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from time import perf_counter
from typing import Any

from fem.threads import one_thread
from fem.verification.checks import circuit, field, skin, tables
from fem.verification.checks import leakage as leak
from fem.verification.published import Published, published_values

Compute = Callable[[], Mapping[str, float]]

CHAPTERS: tuple[tuple[str, tuple[Compute, ...]], ...] = (
    ("Inductances and forces in air", (field.wires,)),
    ("Slots and pole edges", (field.slots, field.pole_edge)),
    ("Leakage per metre", (leak.full_windows, leak.between_walls, leak.sandwich)),
    ("Leakage with end turns", (leak.end_turns,)),
    ("Gapped cores and forces on windings", (leak.gapped_cores, leak.force)),
    ("Skin and proximity effect", (skin.depths, skin.round_wires, skin.bars_in_a_slot)),
    ("Excitation", (circuit.excitation,)),
    ("Tests, load and short circuit", (circuit.short_tests, circuit.fifty_kva, circuit.first_peaks, circuit.leads)),
    ("Steels", (tables.steels,)),
    ("Wire and copper", (tables.wire, tables.copper)),
    ("Heat", (tables.heat, tables.joints)),
    ("Protection", (tables.protection,)),
)
"""What is computed, in the order it is shown; each function returns values by the keys of the published table."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """One check.

    Parameters
    ----------
    chapter
        Under which it is shown.
    published
        What is expected.
    computed
        What the tool says [the published value's unit].
    """

    chapter: str
    published: Published
    computed: float

    @property
    def deviation(self) -> float:
        """Computed above expected [-, or the unit unless relative]."""
        return self.published.deviation(self.computed)

    @property
    def passed(self) -> bool:
        """Whether it lies within the tolerance."""
        return self.published.met_by(self.computed)


@dataclass(frozen=True, kw_only=True, slots=True)
class Verification:
    """All checks.

    Parameters
    ----------
    outcomes
        In the order they were made.
    seconds
        Wall time [s].
    """

    outcomes: tuple[Outcome, ...]
    seconds: float

    @property
    def failed(self) -> tuple[Outcome, ...]:
        """Those outside their tolerance."""
        return tuple(outcome for outcome in self.outcomes if not outcome.passed)

    @property
    def passed(self) -> bool:
        """Whether all lie within their tolerances."""
        return not self.failed

    def to_dict(self) -> dict[str, Any]:
        """Return everything as plain values; tolerance and deviation are relative or in the value's unit."""
        return {
            "passed": self.passed,
            "seconds": self.seconds,
            "checks": [
                {
                    "key": outcome.published.key,
                    "chapter": outcome.chapter,
                    "quantity": outcome.published.quantity,
                    "unit": outcome.published.unit,
                    "expected": outcome.published.number,
                    "computed": outcome.computed,
                    "measure": outcome.published.measure.value,
                    "deviation": outcome.deviation,
                    "tolerance": outcome.published.tolerance,
                    "tolerance_from": outcome.published.why_tolerance,
                    "source": outcome.published.source,
                    "status": outcome.published.status,
                    "passed": outcome.passed,
                }
                for outcome in self.outcomes
            ],
        }


class Incomplete(RuntimeError):
    """Values and published table do not belong together: a key is missing, computed twice or unknown."""


@one_thread()
def verify(progress: Callable[[str], None] | None = None) -> Verification:
    """Compute every value in the published table.

    Parameters
    ----------
    progress
        Told in words what is under way.

    Raises
    ------
    Incomplete
        If a row of the table is not computed, or a computed value has no row.
    NotConverged
        If a field does not converge.
    """
    start = perf_counter()
    tell = progress or (lambda _: None)
    rows = dict(published_values())
    outcomes = []
    for chapter, computations in CHAPTERS:
        tell(chapter)
        for compute in computations:
            for key, value in compute().items():
                if key not in rows:
                    msg = f"{key!r} is computed but has no row left in the published table"
                    raise Incomplete(msg)
                outcomes.append(Outcome(chapter=chapter, published=rows.pop(key), computed=float(value)))
    if rows:
        msg = f"rows of the published table that nothing computes: {', '.join(rows)}"
        raise Incomplete(msg)
    return Verification(outcomes=tuple(outcomes), seconds=perf_counter() - start)
