"""What a station is: one section of an estimate, computed, bounded and commented where it is declared."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.quantity import Band, Unknown
from fem.trust.caution import Caution


def _no_bands(case: Case, found: Any) -> Mapping[str, Band | Unknown]:
    return {}


def _no_cautions(case: Case, found: Any) -> Iterable[Caution]:
    return ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Station:
    """One section of an estimate.

    Parameters
    ----------
    key
        Of the section in `Estimate` and in the JSON.
    result
        Its class, declared with `of`.
    compute
        Returns it, or why there is none; what fails as a whole is a gap.
    part
        The costly part that the whole section is, if it is one.
    banded
        Attributes of the result ("reduced_voltage_test.power") whose bands come from its own formula for every draw of
        what is in doubt (`fem.estimation.bands`): what the formulas take as columns, or what is sought for a few.
    of_members
        Computes these results of a block of draws; where not given, `compute` does.
    bands
        Returns the other bands by attribute ("duty.allowed_share"); one that cannot be computed is a gap.
    cautions
        Returns what to mind; asked only where there is a result.
    """

    key: str
    result: type
    compute: Callable[[Case], Any]
    part: Part | None = None
    banded: Sequence[str] = ()
    of_members: Callable[[Case], Any] | None = None
    bands: Callable[[Case, Any], Mapping[str, Band | Unknown]] = _no_bands
    cautions: Callable[[Case, Any], Iterable[Caution]] = _no_cautions
