"""What the user describes of a load on the lead ends."""

from __future__ import annotations

from enum import Enum
from typing import Annotated

from geometries.described.faults import Description
from geometries.described.quantities import Between, Resistance, Voltage


class RectifierKind(Enum):
    """What stands between lead ends and load."""

    NONE = "none"
    HALF_WAVE = "half-wave"
    FULL_WAVE = "full-wave"


class Load(Description):
    """A resistance across the lead ends, or behind a rectifier there.

    Parameters
    ----------
    resistance
        [ohm].
    rectifier
        Between lead ends and resistance: none, half-wave or full-wave.
    forward_drop
        Of the rectifier's valves in series [V].
    """

    resistance: Annotated[Resistance, Between(0.0, 1e4, "ohm")]
    rectifier: RectifierKind = RectifierKind.NONE
    forward_drop: Annotated[Voltage, Between(0.0, 10.0, "V")] = 0.0
