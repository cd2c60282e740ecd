"""What the user describes of bursts that are repeated."""

from __future__ import annotations

from typing import Annotated

from fem.constants import ROOM
from geometries.described.faults import Description
from geometries.described.quantities import Between, Duration, Temperature


class Duty(Description):
    """Bursts repeated for good.

    Parameters
    ----------
    on_time, off_time
        Of each burst, and between two [s].
    ambient
        Of the room [K].
    plugged_in
        Whether the primary stays on the mains between bursts.
    """

    on_time: Annotated[Duration, Between(0.01, 3600.0, "s")]
    off_time: Annotated[Duration, Between(0.01, 86400.0, "s")]
    ambient: Annotated[Temperature, Between(243.15, 333.15, "degC")] = ROOM
    plugged_in: bool = True
