"""Whether the tool's 90 % bands hold the truths of machines that it is told misread.

    python -m tests.truth.test_coverage [NAME ...]

prints how many of each number lie inside, and the widths.
"""

import sys
from collections import defaultdict
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from pydantic import ValidationError

import fem
from fem.estimation.parts import Part
from tests.truth.machines import Machine, machines
from tests.truth.test_machines import flat

LEAST, MOST = 0.82, 0.97
"""Between which the pooled share has to lie."""
WANTED = {Part.CONDUCTOR_SLICE, Part.FIRST_PEAKS, Part.SWITCH_ON, Part.WORK_PIECE, Part.BANDS}


def design_of(machine: Machine) -> fem.Design:
    """Return the misread design, with the tolerances that the tool takes."""
    some = machine
    while True:  # keys are refused in turn
        try:
            return fem.Design.model_validate(some.job(tolerances=True), context={"job_file": True})
        except ValidationError as error:
            refused = {".".join(map(str, fault["loc"])) for fault in error.errors()}
        assert refused <= some.tolerances.keys()
        some = replace(some, tolerances={key: words for key, words in some.tolerances.items() if key not in refused})


def judged(machine: Machine) -> list[tuple[str, float, float, float, float]]:
    """Return key, truth, told value and band of each truth that the tool gives a band of."""
    found = fem.estimate(design_of(machine), wanted=WANTED)
    values: dict[str, Any] = flat(found.to_dict())
    bands = {key: found.bands.get(key) for key in machine.truths}
    return [
        (key, true, float(values[key]), band.low, band.high)
        for key, true in machine.truths.items()
        if isinstance(band := bands[key], fem.Band)
    ]


def table(rows: list[tuple[str, float, float, float, float]]) -> tuple[str, float]:
    """Return a table by number, and the pooled share."""
    by_key = defaultdict(list)
    for key, true, _, low, high in rows:
        by_key[key].append((low <= true <= high, true < low, true > high, (high - low) / true))
        by_key["pooled"].append(by_key[key][-1])
    lines = [f"{'number':45} {'n':>4} {'inside':>7} {'below':>6} {'above':>6} {'width':>6}"]
    for key, each in sorted(by_key.items()):
        inside, below, above = (np.mean([e[k] for e in each]) for k in range(3))
        wide = np.median([e[3] for e in each])
        lines.append(f"{key:45} {len(each):4d} {inside:7.0%} {below:6.0%} {above:6.0%} {wide:6.0%}")
    return "\n".join(lines), float(np.mean([e[0] for e in by_key["pooled"]]))


@pytest.mark.slow
def test_bands_hold_what_misread_machines_truly_do() -> None:
    """Pooled over machines and numbers, of bands of 90 %: 82 to 97 % inside."""
    text, share = table([row for machine in machines() for row in judged(machine)])
    sys.stdout.write(text + "\n")
    assert LEAST <= share <= MOST, text


if __name__ == "__main__":
    every = [
        row for machine in machines() if not sys.argv[1:] or machine.name in sys.argv[1:] for row in judged(machine)
    ]
    sys.stdout.write(table(every)[0] + "\n")
