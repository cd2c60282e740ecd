"""For all tests: the user's cache of solved fields is neither read nor written; linear algebra has one thread."""

import os

from fem.threads import use_one_thread

os.environ["REWOUND_CACHE"] = "off"
use_one_thread()
