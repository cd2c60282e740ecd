"""A block of designs on one core: their distinct circuits as columns, and results back to every design."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers
from fem.circuit.curves import Rowed
from fem.circuit.equivalent import Circuit

Result = TypeVar("Result")
_NAMES = tuple(item.name for item in fields(Circuit))
_CURVES = ("magnetising", "core_loss", "leakage_permeance")
"""Of its fields, curves that may have a row for each design; the last where it is a curve."""


def _curves(circuit: Circuit) -> dict[str, Rowed]:
    return {name: curve for name in _CURVES if isinstance(curve := getattr(circuit, name), Rowed)}


def columns(
    circuit: Circuit, names: Sequence[str], *beside: ArrayLike
) -> tuple[Circuit, tuple[Floats, ...], Integers | None]:
    """Return the distinct designs of a block as far as some of its numbers go, a lone design as a block of one.

    Parameters
    ----------
    circuit
        Of one design, or of a block whose numbers are arrays (n,); curves with a row for each tell all designs apart.
    names
        Of its numbers that play a part; those of the others are the first design's.
    beside
        More numbers that play one, () or (n,).

    Returns
    -------
    circuit, beside
        With (m,) for each number that plays a part, m <= n.
    places
        Which of the m each design is, (n,); None for a lone design.
    """
    names = [name for name in names if name not in _curves(circuit)]
    given = [np.asarray(getattr(circuit, name), dtype=np.float64) for name in names]
    given += [np.asarray(number, dtype=np.float64) for number in beside]
    curves = {name: curve for name, curve in _curves(circuit).items() if curve.members is not None}
    given += [np.asarray(curve.members, dtype=np.float64) for curve in curves.values()]
    shape = np.broadcast_shapes(*(number.shape for number in given))
    rows = np.empty((*(shape or (1,)), len(given)))
    for place, number in enumerate(given):
        rows[..., place] = number
    places = None
    if shape:
        # By their bytes: what differs in the last digit is another design, and no sorting by each number in turn.
        _, first, places = np.unique(
            rows.view(np.dtype((np.void, rows.itemsize * len(given))))[:, 0], return_index=True, return_inverse=True
        )
        rows = rows[first]
        curves = {name: curve.taken(first) for name, curve in curves.items()}
    found = list(np.ascontiguousarray(rows.T))
    others = tuple(found[len(names) : len(names) + len(beside)])
    return at(circuit, 0, **dict(zip(names, found, strict=False)), **curves), others, places


def lined(circuit: Circuit, *beside: ArrayLike) -> tuple[Circuit, tuple[int, ...], list[Floats]]:
    """Return a circuit, and numbers beside it, whose members lie along the first of two axes, a lone one's being one.

    Returns
    -------
    circuit, beside
        With (n, 1) for what was (n,), so that functions that say (...,) take (n, k): k of each member.
    block
        How results are shaped for the caller: (n,), or () for a lone circuit.
    """
    numbers = {name: value for name in _NAMES if isinstance(value := getattr(circuit, name), np.ndarray)}
    curves = _curves(circuit)
    rows = [curve.members for curve in curves.values() if curve.members is not None]
    block = np.broadcast_shapes(*map(np.shape, [*numbers.values(), *rows, *beside]))
    if block:
        # One for each member even where they differ in their curves alone.
        numbers["voltage_rms"] = np.broadcast_to(circuit.voltage_rms, block)
    columns = {name: value[:, None] for name, value in numbers.items()}
    others = [np.broadcast_to(np.asarray(number, dtype=np.float64), block).reshape(-1, 1) for number in beside]
    return _with(circuit, 0, columns | curves), block, others


def at(circuit: Circuit, place: int, **numbers: Any) -> Circuit:
    """Return one design of a block, with other numbers that have been checked."""
    return _with(circuit, place, numbers)


def taken(circuit: Circuit, places: Any) -> Circuit:
    """Return some designs of a block."""
    return _with(circuit, places, {})


def _with(circuit: Circuit, places: Any, numbers: Mapping[str, Any]) -> Circuit:
    """Return a circuit with some of its arrays' entries; they have been checked once, as `replace` would do again."""
    found = object.__new__(Circuit)
    for name in _NAMES:
        value = numbers[name] if name in numbers else getattr(circuit, name)
        if name not in numbers:
            if isinstance(value, Rowed):
                value = value.taken(places)
            elif isinstance(value, np.ndarray):
                value = value[places] if np.ndim(places) else float(value[places])
        object.__setattr__(found, name, value)
    return found


def spread(found: Result, places: Integers | None) -> Result:
    """Return the results of distinct designs, fields (m, ...), for every design of the block, or the lone one's."""
    told = {}
    for item in fields(found):  # type: ignore[arg-type]
        value = getattr(found, item.name)
        if isinstance(value, np.ndarray):
            one = value[0 if places is None else places]
            told[item.name] = one if np.ndim(one) else one.item()
    return replace(found, **told)  # type: ignore[type-var]
