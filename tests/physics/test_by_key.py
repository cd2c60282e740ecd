"""Derivatives of edges by keys: against the same description validated anew with a key a little larger and smaller."""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from fem.design.transformer import Design
from geometries.assembly.by_key import by_key
from geometries.assembly.section_of import section_of
from geometries.shapes.dual import Dual, gradients, number, root
from geometries.windings.arrangement import place
from tests.support.every_kind import KINDS, design_of

STEP = 1e-6
"""[m]; edges are sums of lengths, so that a central difference of them is exact but for rounding, some 1e-10, and for
nested conductors, whose roots it knows to 1e-7."""


def numbers(structure: Any) -> Iterator[Any]:
    """Yield all lengths of frame, blocks and section in turn."""
    if is_dataclass(structure) and not isinstance(structure, Dual):
        for field in fields(structure):
            yield from numbers(getattr(structure, field.name))
    elif isinstance(structure, tuple):
        for part in structure:
            yield from numbers(part)
    elif isinstance(structure, float | Dual):
        yield structure


def built(design: Design) -> np.ndarray:
    blocks = place(design.core, design.windings)
    section = section_of(design.core, blocks, shunt=design.fitted_shunt)
    return np.array(list(numbers((design.core.frame, blocks, section))))


def varied(design: Design, key: str, value: float) -> np.ndarray:
    for side, name in enumerate(("left", "right")):
        if key.endswith(f"width.{name}"):
            pair = list(design.core.outer_leg_width)  # type: ignore[union-attr]
            pair[side] = value
            return built(design.vary("core.outer_leg_width", pair))
    return built(design.vary(key, value))


@pytest.mark.parametrize("kind", KINDS)
def test_edges_by_every_key(kind: str) -> None:
    """A length that follows from others moves alone once it is given; all that is compared is read from `Design`."""
    design = design_of(kind)
    found = by_key(design.core, design.windings, design.fitted_shunt)
    values = list(numbers((found.frame, found.blocks, found.section)))
    at = built(design)
    assert np.array([number(v) for v in values]) == pytest.approx(at, abs=1e-15)
    slopes = gradients(values, len(found.keys))
    still = {key for key, moves in zip(found.keys, np.abs(slopes).max(axis=0) > 0.04, strict=True) if not moves}
    assert still <= {"windings.spacing"}  # which decides nothing where both builds are given
    for k, (key, value) in enumerate(zip(found.keys, found.values, strict=True)):
        assert varied(design, key, value) == pytest.approx(at, abs=1e-12), key
        difference = (varied(design, key, value + STEP) - varied(design, key, value - STEP)) / (2 * STEP)
        assert slopes[:, k] == pytest.approx(difference, abs=1e-6), key


def test_derivatives_are_never_lost_without_a_word() -> None:
    x = Dual(2.0, np.array([1.0, 0.0]))
    with pytest.raises(TypeError, match="would be lost"):
        float(x)
    with pytest.raises(TypeError, match="unhashable"):
        hash(x)


def test_rules_of_differentiation() -> None:
    """Against the quotient of differences of the same expression in plain numbers."""

    def formula(x: Any, y: Any) -> Any:
        return abs(3.0 - x) * (x * y - 2.0 / y) / (x + y**3) + root(x * y) - (-x) / 7.0 + (1.0 - y) * 2.0

    x, y, h = 1.3, 0.7, 1e-6
    found = formula(Dual(x, np.array([1.0, 0.0])), Dual(y, np.array([0.0, 1.0])))
    assert found.value == formula(x, y)
    slopes = [(formula(x + h, y) - formula(x - h, y)) / (2 * h), (formula(x, y + h) - formula(x, y - h)) / (2 * h)]
    assert found.grad == pytest.approx(slopes, rel=1e-8)


def test_a_length_that_cannot_be_given_as_it_is_has_no_derivative() -> None:
    """Extra turns above a tight secondary: given their lower edge they are not counted in where the secondary lies."""
    wire = {"conductor": {"round": "0.624 mm"}}
    extra = {"turns": 16, "sense": "opposing", **wire}
    design = Design.model_validate(
        {
            "mains": {"voltage": "3.3 V", "frequency": "50 Hz"},
            "core": {"leg_width": "10.291 mm", "outer_leg_width": "5 mm", "yoke_height": "5 mm",
                     "window_width": "13.462 mm", "window_height": "22.92 mm", "stack_depth": "7.8949 mm"},
            "windings": {
                "arrangement": "side-by-side", "spacing": "0.61784 mm", "leg_clearance": "0 mm",
                "yoke_clearance": "0.26264 mm",
                "primary": {"turns": 262, "height": "9.7942 mm", "build": "13.2922 mm", "extra": extra, **wire},
                "secondary": {"turns": 76, "lay": "across", "against": "loose", "conductor": {"round": "1.2 mm"}},
            },
            "leads": {"length": "1 m"},
        }
    )  # fmt: skip
    edge = number(place(design.core, design.windings)[1].bottom)
    with pytest.raises(ValueError, match="overlap"):
        built(design.vary("windings.primary.extra.bottom", edge))
    keys = by_key(design.core, design.windings).keys
    assert "windings.primary.extra.bottom" not in keys
    assert {"windings.primary.bottom", "windings.secondary.bottom"} <= set(keys)
