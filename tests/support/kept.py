"""Fields that tests share: each core and arrangement is solved once for all that only look at what follows from it.

Both processes of a run keep them in one folder. What is about solving, keeping or cost must not take them from here.
"""

import os
from pathlib import Path

from fem.estimation.fields.kept import Kept

KEPT = Kept(folder=Path(os.environ["REWOUND_TEST_FIELDS"]) if "REWOUND_TEST_FIELDS" in os.environ else None)
