"""The short form of the campaign, in every run of the tests, and the whole, on request: `-m campaign`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.campaign.running import run, seeds_of, summary

SHORT = {"job-files": (20, 40), "command-lines": (3, 3), "designs": (0, 1)}
"""How many seeds from 0, and how many that no one has used, in every run of the tests; a design takes seconds."""
WHOLE = {"job-files": 5000, "command-lines": 1000, "designs": 500}
"""The same on request, and as many seeds that no one has used; designs in portions, so that each takes minutes."""
PORTION = 125

FRESH = seeds_of(1, fresh=True)[0]
"""REWOUND_TEST_SEED=N repeats a run."""
STATE = os.environ.get("REWOUND_CAMPAIGN")
"""File of records, from which the whole goes on where it stopped."""


def judged(part: str, seeds: Sequence[int], state: Path | None = None) -> list[str]:
    """Return what does not hold, with the seed that shows it, and print the summary."""
    found = list(run(part, seeds, state))
    print(f"\n{summary(part, found)}; seeds {seeds[0]} to {seeds[-1]}")  # noqa: T201
    return [f"{record['seed']}: {fault}" for record in found for fault in record["faults"]]


@pytest.mark.parametrize("part", SHORT)
@pytest.mark.parametrize("fresh", [FRESH], ids=[f"fresh from {FRESH}"])
def test_a_few(part: str, fresh: int) -> None:
    fixed, unused = SHORT[part]
    assert judged(part, [*range(fixed), *range(fresh, fresh + unused)]) == []


@pytest.mark.campaign
@pytest.mark.parametrize("fresh", [False, True], ids=["fixed", f"fresh from {FRESH}"])
@pytest.mark.parametrize("part", ["job-files", "command-lines"])
def test_all(part: str, fresh: bool) -> None:
    assert judged(part, seeds_of(WHOLE[part], fresh=fresh), Path(STATE) if STATE else None) == []


@pytest.mark.campaign
@pytest.mark.parametrize("portion", range(WHOLE["designs"] // PORTION))
@pytest.mark.parametrize("fresh", [False, True], ids=["fixed", f"fresh from {FRESH}"])
def test_all_designs(fresh: bool, portion: int) -> None:
    seeds = seeds_of(WHOLE["designs"], fresh=fresh)[portion * PORTION : (portion + 1) * PORTION]
    assert judged("designs", seeds, Path(STATE) if STATE else None) == []
