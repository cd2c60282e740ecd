"""Fields that tests share: each core and arrangement is solved once for all that only look at what follows from it.

Both processes of a run keep them in one folder. What is about solving, keeping or cost must not take them from here.
"""

import os
from functools import cache
from pathlib import Path

from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.examples import example_design

KEPT = Kept(folder=Path(os.environ["REWOUND_TEST_FIELDS"]) if "REWOUND_TEST_FIELDS" in os.environ else None)


@cache
def whole_example() -> Estimate:
    """Return all that a shell is told of the built-in example, estimated once in each process; no pictures."""
    return estimate(example_design(), wanted=frozenset(Part) - {Part.PICTURES}, characteristics=KEPT)
