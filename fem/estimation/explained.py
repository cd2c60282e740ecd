"""One result explained: what it is, by which formula, what goes in, how sure it is, where it comes from."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from inspect import getdoc
from typing import TYPE_CHECKING, Any

from fem.design.transformer import Design
from fem.digits import brief
from fem.estimation.stations.in_order import STATIONS
from fem.formulas import JOB, KEY, formula_of
from fem.quantity import Band, Declared, Show, Unknown, declared
from geometries.described.faults import one_of, shown
from geometries.described.quantities import Between, format_quantity

if TYPE_CHECKING:
    from fem.estimation.result import Estimate


class NoSuchResult(KeyError):
    """A key that no result has."""

    def __str__(self) -> str:
        """Return the line as it is, without quotes."""
        return str(self.args[0])


@dataclass(frozen=True, kw_only=True, slots=True)
class GoneIn:
    """What goes into a formula.

    Parameters
    ----------
    key, value, told
        Of a result or of the job; [SI], None where there is none; the same for reading, or why there is none.
    from_job
        Whether it is the job's.
    label, unit, show
        As in the metadata of a result.
    """

    key: str
    value: Any
    told: str
    from_job: bool = False
    label: str = ""
    unit: str = ""
    show: Show = Show.VALUE


@dataclass(frozen=True, kw_only=True, slots=True)
class Explained:
    """A result explained.

    Parameters
    ----------
    key, label, unit, show
        As it is declared; of a whole section what it is about.
    value, reason
        [SI], a number, a text, or what lies below; None where there is none, and why.
    band
        None where none is made, `Unknown` where it could not be.
    how, takes, source
        The formula with its keys written out, what goes into it, where it stands.
    by
        The file that computes it, and what that says of itself.
    below
        What lies below a section or a mapping.
    """

    key: str
    label: str
    unit: str
    show: Show
    value: Any
    reason: str
    band: Band | Unknown | None
    how: str
    takes: tuple[GoneIn, ...]
    source: str
    by: str
    below: tuple[GoneIn, ...]

    def __str__(self) -> str:
        """Return it as plain text, values in SI units."""
        band = self.band
        lines = [
            f"{self.key}: {self.label}",
            f"value: {self.reason if self.value is None else _told(self.value, self.unit)}",
            f"band: {_told(band.low, self.unit)} to {_told(band.high, self.unit)}" if isinstance(band, Band) else "",
            f"formula: {self.how}",
            *(f"  {one.key} = {one.told}" for one in self.takes),
            f"source: {self.source}" if self.source else "",
            f"computed in {self.by}",
            *(f"  {one.key} = {one.told}: {one.label}" for one in self.below),
        ]
        return "\n".join(filter(None, lines))


@cache
def all_declared() -> Mapping[str, Declared]:
    """Return all results by full key; `*` stands for the names in a mapping."""
    return {f"{station.key}.{one.key}": one for station in STATIONS for one in declared(station.result)}


@cache
def declared_as(key: str) -> tuple[str, Declared] | None:
    """Return under which key a result is declared, names of places and parts filled in, or None."""
    known = all_declared()
    if key in known:
        return key, known[key]
    for pattern, one in known.items():
        if re.fullmatch(re.escape(pattern).replace(r"\*", ".+?"), key):
            return pattern, one
    # an entry of a mapping of numbers
    above = [pattern for pattern in known if re.match(re.escape(pattern).replace(r"\*", ".+?") + r"\.", key)]
    found = max(above, key=len, default="")
    return (found, known[found]) if found and known[found].unit else None


def check(key: str) -> None:
    """Refuse a key that is neither a result nor the beginning of some.

    Raises
    ------
    NoSuchResult
        With the nearest keys.
    """
    if declared_as(key) is None and not any(_below(key)):
        by_end = {known.rpartition(".")[2]: known for known in all_declared()}
        near = difflib.get_close_matches(key, all_declared(), n=3, cutoff=0.5) or [
            by_end[end] for end in difflib.get_close_matches(key.rpartition(".")[2], by_end, n=3, cutoff=0.5)
        ]
        hint = f"; did you mean {one_of(near)}?" if near else ""
        msg = f"no result has the key {shown(key)}{hint or ';'} rewound list results names all"
        raise NoSuchResult(msg)


def explain(estimate: Estimate, key: str) -> Explained:
    """Explain one result of an estimate, or what lies below the beginning of keys.

    Raises
    ------
    NoSuchResult
        If there is no such key.
    """
    check(key)
    results = estimate.to_dict()
    reasons = results["reasons"]
    value = _at(results, key)
    names = _leaves(key, value) if isinstance(value, Mapping) else _below(key)
    below = tuple(_gone_in(estimate, results, name) for name in names)
    station = next(station for station in STATIONS if station.key == key.partition(".")[0])
    section = Declared(
        key="", unit="", label=_first_line(station.result), show=Show.VALUE, name="", home=station.result
    )
    pattern, one = declared_as(key) or (key, section)
    formula = formula_of(one.home, one.name)
    how, takes = formula.how, {}
    for written in KEY.findall(how):
        full = _resolved(written, key, pattern)
        how = how.replace(f"`{written}`", full.removeprefix(JOB))
        takes[full] = _gone_in(estimate, results, full)
    up = (key.rsplit(".", cut)[0] for cut in range(key.count(".") + 1))
    reason = next((reasons[above] for above in up if above in reasons), "there is none of that name")
    computes: Any = station.compute if station.compute.__module__ == one.home.__module__ else one.home
    if formula.by:
        module, _, name = formula.by.rpartition(".")
        computes = getattr(import_module(module), name)
    return Explained(
        key=key,
        label=one.label,
        unit=one.unit,
        show=one.show,
        value=value,
        reason=reason if value is None else "",
        band=estimate.bands.get(key),
        how=how or ("what lies below" if below else f"no closed formula: {_first_line(one.home)}"),
        takes=tuple(takes.values()),
        source=formula.source or ("follows from what it is" if formula.closed else ""),
        by=_by(computes),
        below=below,
    )


def _below(key: str) -> Iterator[str]:
    return (known for known in all_declared() if known.startswith(f"{key}."))


def _leaves(key: str, value: Any) -> Iterator[str]:
    """Yield the keys of all single values and lists below a key, names of places and parts in them."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _leaves(f"{key}.{name}", inner)
    else:
        yield key


def _at(tree: Any, key: str) -> Any:
    """Return what lies at a dotted key, of names that may hold dots; None where nothing does."""
    if not isinstance(tree, Mapping):
        return None
    if key in tree:
        return tree[key]
    inner = ((name, key.removeprefix(f"{name}.")) for name in tree if key.startswith(f"{name}."))
    return next((found for name, rest in inner if (found := _at(tree[name], rest)) is not None), None)


def _resolved(taken: str, key: str, pattern: str) -> str:
    """Return a key as a formula names it in full."""
    beyond = pattern.count(".") + 1  # an entry of a mapping stands a level deeper than its declaration
    names = key.split(".") if "*" in pattern else key.split(".")[:beyond]
    if taken.startswith(JOB):
        return taken.replace("*", names[-2])
    up = len(taken) - len(taken.lstrip("."))
    return ".".join([*names[:-up], taken[up:]]) if up else taken


def _gone_in(estimate: Estimate, results: Mapping[str, Any], taken: str) -> GoneIn:
    if taken.startswith(JOB):
        key = taken.removeprefix(JOB)
        value, unit = of_job(estimate.design, key)
        number = isinstance(value, float | int)
        told = "not given" if value is None else format_quantity(float(value), unit) if number else str(value)
        return GoneIn(key=key, value=value, told=told, from_job=True)
    value, found = None if "*" in taken else _at(results, taken), declared_as(taken)
    unit, label, show = ("", "", Show.VALUE) if found is None else (found[1].unit, found[1].label, found[1].show)
    told = ("by name" if "*" in taken else "not known") if value is None else _told(value, unit)
    return GoneIn(key=taken, value=value, told=told, label=label, unit=unit, show=show)


def of_job(design: Design | None, key: str) -> tuple[Any, str]:
    """Return a number or text of a design by its key in the job [SI], and the unit to write it in."""
    value: Any = design
    kinds: list[Any] = []
    for name in key.split("."):
        field = getattr(type(value), "model_fields", {}).get(name)
        kinds, value = [] if field is None else field.metadata, getattr(value, name, None)
    unit = next((kind.unit for kind in kinds if isinstance(kind, Between)), "")
    return getattr(value, "value", value), unit


def _told(value: Any, unit: str) -> str:
    if isinstance(value, Mapping):
        return f"{len(value)} below"
    if isinstance(value, list):
        return ", ".join(_told(each, unit) for each in value) or "none"
    if isinstance(value, bool) or not isinstance(value, float | int):
        return str(value)
    if unit == "-":
        return f"{value:.0f}" if value == int(value) else brief(value)
    return f"{brief(value)} {unit}".rstrip()


def _first_line(thing: Any) -> str:
    return (getdoc(thing) or "").partition("\n")[0]


def _by(thing: Any) -> str:
    """Return file and name of what computes, and what it says of itself."""
    return f"{thing.__module__.replace('.', '/')}.py, {thing.__name__}: {_first_line(thing)}"
