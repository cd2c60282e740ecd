"""What the user describes of trains of short bursts."""

from __future__ import annotations

from typing import Annotated

from geometries.described.faults import Description
from geometries.described.quantities import Between, Duration, WholeNumber


class Pulses(Description):
    """A train of short bursts counted in mains cycles, as for tab welds.

    Parameters
    ----------
    weld_cycles, pause_cycles
        Mains cycles of each pulse, and of each pause between two [-].
    count
        Pulses in a train [-].
    rest
        Between two trains [s], where they are repeated for good.
    """

    weld_cycles: Annotated[int, WholeNumber(1, 10_000)]
    pause_cycles: Annotated[int, WholeNumber(1, 10_000)]
    count: Annotated[int, WholeNumber(1, 1000)] = 2
    rest: Annotated[Duration, Between(0.1, 86400.0, "s")] | None = None
