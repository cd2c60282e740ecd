"""Run a part of the campaign, or print a random design as a job file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.campaign.designs import random_job, to_toml
from tests.campaign.running import PARTS, run, seeds_of, summary


def main() -> int:
    """Return 0, or 1 where something did not hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.campaign", description=__doc__)
    parser.add_argument("part", nargs="?", choices=list(PARTS), help="what to run")
    parser.add_argument("--count", type=int, default=100, help="how many seeds (default 100)")
    parser.add_argument("--start", type=int, help="first seed (default 0)")
    parser.add_argument("--fresh", action="store_true", help="seeds never used; REWOUND_TEST_SEED=N repeats them")
    parser.add_argument("--state", type=Path, help="file of records: goes on where it stopped")
    parser.add_argument("--show", type=int, metavar="SEED", help="print the design of a seed as a job file")
    given = parser.parse_args()
    if given.show is not None:
        sys.stdout.write(to_toml(random_job(given.show)))
        return 0
    if given.part is None:
        parser.error("name a part, or --show SEED")
    seeds = seeds_of(given.count, fresh=given.fresh)
    if given.start is not None:
        seeds = range(given.start, given.start + given.count)
    sys.stdout.write(f"{given.part}: seeds {seeds[0]} to {seeds[-1]}\n")
    found = []
    for record in run(given.part, seeds, given.state):
        found.append(record)
        for fault in record["faults"]:
            sys.stdout.write(f"{record['seed']}: {fault}\n")
        sys.stdout.flush()
    sys.stdout.write(summary(given.part, found) + "\n")
    return int(any(record["faults"] for record in found))


if __name__ == "__main__":
    sys.exit(main())
