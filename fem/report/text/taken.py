"""Lines of the report about what was taken where the job tells nothing, and what is not told for want of it."""

from __future__ import annotations

from fem.estimation.result import Estimate
from fem.report.text.lines import Line


def taken(estimate: Estimate) -> list[Line]:
    """Return a line for each key that was filled in, and for each section that is not there."""
    found = [Line(label=one.key, value="", note=f"{one.value}: {one.why}") for one in estimate.assumed]
    return [*found, *(Line(label=one.key, value="none", note=f"not told: {one.untold}") for one in estimate.left_out)]
