"""For all tests: the user's cache of solved fields is neither read nor written; linear algebra has one thread."""

import os

os.environ |= {"REWOUND_CACHE": "off", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
