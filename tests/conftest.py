"""For all tests: the user's cache of solved fields is neither read nor written; linear algebra has one thread.

Who asks for all tests gets them in two processes, file by file, where pytest-xdist is there. Named files, and what runs
on request, take one; so does the whole with `-n 0` or `-p no:xdist`.
"""

import atexit
import os
import shutil
import tempfile

import pytest

os.environ |= {"REWOUND_CACHE": "off", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

from tests.support.seeds import FRESH

os.environ["REWOUND_TEST_SEED"] = str(FRESH)  # both processes draw the same: it stands in the names of tests

if "REWOUND_TEST_FIELDS" not in os.environ:  # where both keep what they solve: it goes with the process that begins
    os.environ["REWOUND_TEST_FIELDS"] = tempfile.mkdtemp(prefix="rewound-tests-")
    atexit.register(shutil.rmtree, os.environ["REWOUND_TEST_FIELDS"], ignore_errors=True)


LONGEST = (
    "test_estimate_bench", "test_estimate_arrangements", "test_any_design", "test_short", "test_examples", "test_cache",
    "test_threads", "test_estimate", "test_force_arrangements", "test_sweep_interrupted", "test_end_part",
    "test_reduced_voltage", "test_contacts", "test_card", "test_ring_round_leg", "test_estimate_parts", "test_shunt",
)  # fmt: skip
"""Files of more than 8 s, the longest first."""


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config: pytest.Config) -> None:
    if hasattr(config, "workerinput") or not config.pluginmanager.hasplugin("xdist"):  # one of the two must not divide
        return
    everything = config.args_source is pytest.Config.ArgsSource.TESTPATHS and "not bench" in config.option.markexpr
    if everything and config.option.numprocesses is None:
        config.option.numprocesses, config.option.dist = (0, "no") if config.option.usepdb else (2, "loadfile")
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if hasattr(config, "workerinput"):  # a long file that comes last is what the other process waits for
        first = {name: place for place, name in enumerate(LONGEST)}
        items.sort(key=lambda item: first.get(item.path.stem, len(first)))
