"""How conductors are laid: in which layers, in which order, and where each comes to lie."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Protocol

from pydantic import BeforeValidator

from geometries.described.faults import refused, shown
from geometries.shapes.blocks import Place
from geometries.windings.conductors import Conductor
from geometries.windings.nested import TOLERANCE, nest

MOST_PLACED = 60
"""Conductors in one window that are placed one by one; more are better described by their block."""

ALONG, ACROSS = "along", "across"

_LAYERS = re.compile(r"\s*[0-9]{1,4}(?:\s*\+\s*[0-9]{1,4})*\s*")


def layers_told(lay: str | None) -> tuple[int, ...]:
    """Return the conductors of each layer from the leg outwards that "2 + 1" tells; empty where the lay tells none."""
    return tuple(int(part) for part in lay.split("+")) if lay is not None and _LAYERS.fullmatch(lay) else ()


def _lay(value: Any) -> Any:
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if isinstance(text, str) and (text in (ALONG, ACROSS) or min(layers_told(text), default=0) > 0):
        return " + ".join(map(str, layers_told(text))) or text
    msg = (
        f'expected "{ALONG}" the leg, "{ACROSS}" the window, or the conductors in each layer from the leg outwards, '
        f'such as "2 + 1"; got {shown(value)}'
    )
    raise refused(msg)


Lay = Annotated[str, BeforeValidator(_lay)]


class Against(Enum):
    """Whether conductors touch each other and lie against the leg, or are spread over the room they have."""

    LEG = "leg"
    LOOSE = "loose"


class Wound(Protocol):
    """What there is to lay: conductors of one kind, with what is known of their height, build and lay."""

    @property
    def conductor(self) -> Conductor:
        """What is laid."""
        ...

    @property
    def conductors(self) -> int:
        """How many pass through one window [-]."""
        ...

    @property
    def height(self) -> float | None:
        """Length along the leg [m], where given."""
        ...

    @property
    def build(self) -> float | None:
        """Thickness across the legs [m], where given."""
        ...

    @property
    def lay(self) -> str | None:
        """Along, across or layers, where given."""
        ...

    @property
    def against(self) -> Against | None:
        """Against the leg or loose, where given."""
        ...


@dataclass(frozen=True, kw_only=True, slots=True)
class Layers:
    """How the conductors of a winding are laid.

    Parameters
    ----------
    counts
        Conductors in each layer, from the leg outwards [-].
    height, build
        Of all together, along the leg and across it [m].
    by_rows
        Whether turns follow each other across the window, row above row, and not along the leg, layer upon layer.
    """

    counts: tuple[int, ...]
    height: float
    build: float
    by_rows: bool = False

    @property
    def layers(self) -> int:
        """How many layers [-]."""
        return len(self.counts)

    @property
    def per_layer(self) -> int:
        """Conductors in the fullest of them [-]."""
        return max(self.counts)


def lay(winding: Wound, width: float, length: float = math.inf) -> Layers:
    """Lay the conductors of a winding in layers along the leg.

    What the winding gives (`height`, `build` or both) is kept and the rest follows. Where it gives neither, and no lay,
    as many layers as go into `width` are used and then the least height. At least one conductor is laid each way, so
    that a winding that does not fit still gets the size it needs.

    Parameters
    ----------
    winding
        The winding, or a coil of one.
    width
        Room for its build [m].
    length
        Room along the leg [m]: what "along" and "loose" take.
    """
    across, along = winding.conductor.insulated_width, winding.conductor.insulated_height
    counts = _counts(winding, width, length)
    height, build = max(counts) * along, len(counts) * across
    if winding.against is Against.LOOSE:
        height, build = max(height, length if length < math.inf else 0.0), max(build, width)
    given = build if winding.build is None else winding.build
    return Layers(
        counts=counts,
        height=height if winding.height is None else winding.height,
        build=min(given, build) if winding.against is Against.LEG else given,
        by_rows=winding.lay == ACROSS,
    )


def _counts(winding: Wound, width: float, length: float) -> tuple[int, ...]:
    """Return the conductors of each layer, from the leg outwards."""
    if told := layers_told(winding.lay):
        return told
    count = winding.conductors
    most = _whole(width if winding.build is None else winding.build, winding.conductor.insulated_width, count)
    if winding.lay == ACROSS:
        return tuple(math.ceil((count - layer) / most) for layer in range(most))
    room = length if winding.lay == ALONG and winding.height is None else winding.height
    per_layer = math.ceil(count / most) if room is None else _whole(room, winding.conductor.insulated_height, count)
    full = math.ceil(count / per_layer) - 1
    return (per_layer,) * full + (count - full * per_layer,)


def _whole(length: float, size: float, most: int) -> int:
    """Return how many conductors of a size go into a length [-]: at least one, at most all."""
    return most if length >= most * size - TOLERANCE else max(math.floor((length + TOLERANCE) / size), 1)


def places_of(conductor: Conductor, laid: Layers) -> tuple[Place, ...]:
    """Return where each conductor lies, turn after turn, above the lower left corner of what is laid.

    By rows each row goes from the leg outwards, the lowest first. Else layer follows upon layer from the leg outwards,
    up the first, down the second and so on, and one that is not full is spread over the whole height. Each conductor is
    in the middle of one of the equal cells. Round ones too thick for such cells lie nested, as `fit` counts them.

    Empty where they do not go in, or are more than `MOST_PLACED`.
    """
    count = sum(laid.counts)
    if count > MOST_PLACED:
        return ()
    width, height = conductor.bare_width, conductor.bare_height
    if conductor.circular:  # the strands' circle is an estimate, what is round them is not
        width = height = min(width, conductor.insulated_width)
    cell = laid.build / laid.layers, laid.height / laid.per_layer
    if width <= cell[0] + TOLERANCE and height <= cell[1] + TOLERANCE:
        sites: Sequence[tuple[float, float]] = _by_rows(laid) if laid.by_rows else _by_layers(laid)
    else:
        nested = nest(count, conductor.insulated_width, laid.height) if conductor.circular else None
        if nested is None or nested.build > laid.build + TOLERANCE:
            return ()
        sites = nested.spread(laid.build)
    return tuple(Place(x=x, y=y, width=width, height=height, circular=conductor.circular) for x, y in sites)


def _by_layers(laid: Layers) -> list[tuple[float, float]]:
    sites = []
    for layer, count in enumerate(laid.counts):
        column = [((layer + 0.5) * laid.build / laid.layers, (k + 0.5) * laid.height / count) for k in range(count)]
        sites += column if layer % 2 == 0 else column[::-1]
    return sites


def _by_rows(laid: Layers) -> list[tuple[float, float]]:
    return [
        ((layer + 0.5) * laid.build / laid.layers, (row + 0.5) * laid.height / laid.per_layer)
        for row in range(laid.per_layer)
        for layer, count in enumerate(laid.counts)
        if row < count
    ]
