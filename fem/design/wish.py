"""What the user wants a new secondary to do."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

from fem.design.mains import breaker_named
from geometries.described.faults import Description
from geometries.described.quantities import Between, Current, Duration


class Wish(Description):
    """What a new secondary is wanted to do; the idle current's limit is in `limits`.

    Parameters
    ----------
    current
        Into the work piece over a burst, else into the load, else with the lead ends joined, r.m.s. [A], at least.
    heat_within
        Time to the work piece's `target_temperature`, at most [s].
    burst
        How long a burst the parts stand from cold, at least, and the breaker holds [s]; that of the work piece, else
        of the duty, where not given.
    breaker
        Breaker or fuse that holds such a burst, in place of the mains' own.
    """

    current: Annotated[Current, Between(0.1, 1e5, "A")] | None = None
    heat_within: Annotated[Duration, Between(0.01, 3600.0, "s")] | None = None
    burst: Annotated[Duration, Between(0.01, 3600.0, "s")] | None = None
    breaker: Annotated[str, AfterValidator(breaker_named)] | None = None
