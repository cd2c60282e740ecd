"""A seed that differs in every run, to look where no one has looked yet."""

import os

import numpy as np

FRESH = int(os.environ.get("REWOUND_TEST_SEED", np.random.SeedSequence().generate_state(1)[0]))
"""It stands in the names of the tests that use it; set REWOUND_TEST_SEED to run one of them again."""
