"""Where everything lies, with derivatives by the lengths that a job file names.

Edges of iron, joints, blocks, conductors and cuts follow from the keys by sums, differences and shares (nested round
conductors by roots). Each length of the description is replaced by one that carries its derivative (`Dual`), and the
package's own rules make frame, blocks and section of them: no second set of formulas, nothing differenced.

A length that is not given follows from others: then its derivative is that of giving it at the value it has, while the
other lengths' derivatives let it follow.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from geometries.assembly.section_of import section_of
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.shapes.blocks import Block
from geometries.shapes.dual import Dual, number
from geometries.shapes.frame import Frame
from geometries.shapes.section import GRID, Section
from geometries.windings.arrangement import Arrangement, Windings, place

CORE = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "joint_gap")
WINDINGS = ("spacing", "leg_clearance", "yoke_clearance")
OF_A_WINDING = ("height", "build", "bottom")
SAME = 1e-12
"""Lengths [m] nearer than this are equal but for rounding."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ByKey:
    """What is built, its lengths with their derivatives: each that depends on a key is a `Dual` with `grad` (keys,).

    Parameters
    ----------
    keys
        Dotted keys of a job file, as "core.window_width", all lengths [m]. An `outer_leg_width` of two values is two,
        with ".left" and ".right" at its end; lengths that a lamination fixes are among them.
    values
        Their values [m].
    frame
        The iron: its `boxes()` and `legs` carry derivatives, and so does `stack_depth`.
    blocks
        The windings.
    section
        As `section_of` makes it, not halved, with its cuts.
    """

    keys: tuple[str, ...]
    values: tuple[float, ...]
    frame: Frame
    blocks: tuple[Block, ...]
    section: Section

    def only(self, key: str) -> ByKey:
        """Return the same with derivatives by one of the keys alone."""
        at = self.keys.index(key)
        frame, blocks, section = (_at(part, at) for part in (self.frame, self.blocks, self.section))
        return ByKey(keys=(key,), values=(self.values[at],), frame=frame, blocks=blocks, section=section)


@dataclass(frozen=True, slots=True)
class _Described:
    """The descriptions that hold lengths; a key's first part names one."""

    core: AnyCore
    windings: Windings
    shunt: Shunt | None


def by_key(core: AnyCore, windings: Windings, shunt: Shunt | None = None) -> ByKey:
    """Return frame, blocks and section of a design with their derivatives by every length that moves them.

    Parameters
    ----------
    core, windings, shunt
        What is built; a shunt that is not fitted counts as none.
    """
    told = _Described(core, windings, shunt if shunt is not None and shunt.fitted else None)
    built = _built(told)
    given = dict(_given(told))
    following = {key: v for key, v in _following(told, built[1]).items() if _is_built(_with(told, key, v), built)}
    keys = (*given, *following)
    unit = np.eye(len(keys))
    moving = told
    for key, value in given.items():
        moving = _with(moving, key, Dual(value, unit[keys.index(key)]))
    found = _built(moving)
    for key, value in following.items():
        found = _added(found, _built(_with(told, key, Dual(value, unit[keys.index(key)]))))
    frame, blocks, section = found
    return ByKey(keys=keys, values=(*given.values(), *following.values()), frame=frame, blocks=blocks, section=section)


def given_lengths(core: AnyCore, windings: Windings, shunt: Shunt | None = None) -> dict[str, float]:
    """Return the lengths [m] by key that are given, or have a value of their own where not: the first `ByKey.keys`."""
    return dict(_given(_Described(core, windings, shunt if shunt is not None and shunt.fitted else None)))


def with_length(core: AnyCore, windings: Windings, shunt: Shunt | None, key: str, value: float) -> dict[str, Any]:
    """Return core, windings and shunt by name with the length of one of `ByKey.keys` changed, not validated again."""
    found = _with(_Described(core, windings, shunt), key, value)
    return {field.name: getattr(found, field.name) for field in fields(found)}


def _built(told: _Described) -> tuple[Frame, tuple[Block, ...], Section]:
    blocks = place(told.core, told.windings)
    return told.core.frame, blocks, section_of(told.core, blocks, shunt=told.shunt)


def _given(told: _Described) -> Iterator[tuple[str, float]]:
    """Yield the lengths that are given, or have a value of their own where not given."""
    core, windings = told.core, told.windings
    for name in (*CORE, "leg_gap", "leg_gap_position"):
        value = getattr(core, name, None)
        if isinstance(value, tuple):
            left, right = value
            pairs = [("", left)] if abs(left - right) < GRID else [(".left", left), (".right", right)]
            yield from ((f"core.{name}{end}", side) for end, side in pairs)
        elif value is not None:
            yield f"core.{name}", value
    if core.second is not None:
        yield "core.second.spacing", core.second.spacing
    yield from ((f"windings.{name}", getattr(windings, name)) for name in WINDINGS)
    if windings.end_clearance is not None:
        yield "windings.end_clearance", windings.end_clearance
    for path, winding in _coils(windings):
        for name in OF_A_WINDING:
            if (value := getattr(winding, name)) is not None:
                yield f"windings.{path}.{name}", value
    if told.shunt is not None:
        yield "shunt.height", told.shunt.height
        yield "shunt.total_gap", told.shunt.total_gap
        if told.shunt.bottom is not None:
            yield "shunt.bottom", told.shunt.bottom


def _following(told: _Described, blocks: tuple[Block, ...]) -> dict[str, float]:
    """Return the lengths that are not given but could be, with the value they have."""
    core, windings = told.core, told.windings
    found: dict[str, float] = {}
    if core.leg_gap is not None and core.leg_gap_position is None:
        found["core.leg_gap_position"] = core.window_height / 2
    if windings.end_clearance is None:
        found["windings.end_clearance"] = windings.inner_end_clearance
    for path, winding in _coils(windings):
        name, extra = path.split(".")[0], path.endswith("extra")
        mine = [b for b in blocks if b.winding == name and (b.coil == "extra") == extra]
        values = {"height": sum(b.height for b in mine), "build": mine[0].build, "bottom": mine[0].bottom}
        if windings.arrangement is Arrangement.INTERLEAVED and not extra:
            del values["bottom"]
        if getattr(winding, "places", None) is None:
            found.update({f"windings.{path}.{k}": v for k, v in values.items() if getattr(winding, k) is None})
    if told.shunt is not None and told.shunt.bottom is None:
        found["shunt.bottom"] = told.shunt.lower_edge(blocks)
    return found


def _coils(windings: Windings) -> Iterator[tuple[str, Any]]:
    yield "primary", windings.primary
    if windings.primary.extra is not None:
        yield "primary.extra", windings.primary.extra
    yield "secondary", windings.secondary


def _with(told: _Described, key: str, value: Any) -> _Described:
    """Return the descriptions with one length changed, without being validated again."""
    part, *path = key.split(".")
    return replace(told, **{part: _changed(getattr(told, part), path, value)})


def _changed(model: Any, path: list[str], value: Any) -> Any:
    name, *rest = path
    if name == "outer_leg_width":
        left, right = model.outer_leg_width
        value = (left if rest == ["right"] else value, right if rest == ["left"] else value)
    elif rest:
        value = _changed(getattr(model, name), rest, value)
    return model.model_copy(update={name: value})


def _is_built(told: _Described, built: tuple[Frame, tuple[Block, ...], Section]) -> bool:
    """Return whether what is described is the same structure; not if it cannot be built at all."""
    try:
        return _same(_built(told), built)
    except ValueError:  # turns given their height are laid on their own, and may lie where others are
        return False


def _same(a: Any, b: Any) -> bool:
    """Return whether two structures agree in all numbers."""
    if is_dataclass(a):
        return all(_same(getattr(a, f.name), getattr(b, f.name)) for f in fields(a))
    if isinstance(a, tuple):
        return len(a) == len(b) and all(map(_same, a, b))
    return abs(number(a) - number(b)) < SAME if isinstance(a, float) else a == b


def _added(a: Any, b: Any) -> Any:
    """Return a structure with the derivatives of another one, of the same numbers, added to its own."""
    if is_dataclass(a) and not isinstance(a, Dual):
        changed = {f.name: _added(getattr(a, f.name), getattr(b, f.name)) for f in fields(a)}
        return replace(a, **changed)  # type: ignore[type-var]
    if isinstance(a, tuple):
        return tuple(map(_added, a, b))
    return a + (b - b.value) if isinstance(b, Dual) else a


def _at(a: Any, place: int) -> Any:
    """Return a structure with one derivative of each number."""
    if isinstance(a, Dual):
        return Dual(a.value, a.grad[place : place + 1])
    if is_dataclass(a):
        return replace(a, **{f.name: _at(getattr(a, f.name), place) for f in fields(a)})  # type: ignore[type-var]
    return tuple(_at(item, place) for item in a) if isinstance(a, tuple) else a
