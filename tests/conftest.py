"""For all tests: nothing is taken from, or left in, the user's cache of solved fields."""

import os

os.environ["REWOUND_CACHE"] = "off"
