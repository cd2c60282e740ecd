"""What the user is content with."""

from __future__ import annotations

from typing import Annotated

from geometries.described.faults import Description
from geometries.described.quantities import Between, Current, FluxDensity


class Limits(Description):
    """What the user is content with; the remedies for a saturated core aim at these.

    Parameters
    ----------
    flux_density
        Peak in the centre leg's iron, idle [T]. Remedies aim at the usual one only where no idle current is told.
    idle_current
        R.m.s. [A]; no wish where not given.
    short_test_current
        Primary current of the reduced-voltage short test [A]; by the design where not given.
    """

    flux_density: Annotated[FluxDensity, Between(0.1, 2.5, "T")] = 1.5
    idle_current: Annotated[Current, Between(1e-4, 1000.0, "A")] | None = None
    short_test_current: Annotated[Current, Between(1e-3, 1000.0, "A")] | None = None
