"""What may be wrong, ranked: mechanics on a bench that the tool foretold, and stories of benches computed apart."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fem.estimation.case import Case
from fem.fitting.causes.cause import rows
from fem.fitting.causes.known import causes_of
from fem.fitting.causes.ranked import NOTHING, model_of, with_cause
from fem.fitting.fit import fit_of
from fem.fitting.found import Fit
from fem.fitting.unknowns import unknowns_of
from fem.readings.described import Readings
from fem.readings.reading import readings_of
from tests.support.every_kind import design_of
from tests.support.kept import KEPT
from tests.truth.benches import benches
from tests.truth.judge_causes import likely, truth
from tests.truth.judge_fit import fitted

BENCH = {
    "resistance": [{"resistance": "1 ohm", "leads_together": "0.1 ohm"}],
    "search_coil": [{"turns": 20, "voltage": "10 V", "primary_voltage": "110 V"}],
    "no_load": [
        {"primary_voltage": "60 V", "current": "0.2 A", "power": "4 W"},
        {"primary_voltage": "150 V", "current": "0.5 A", "power": "15 W"},
    ],
    "joined": [{"primary_voltage": "12 V", "primary_current": "5 A", "secondary_current": "300 A"}],
}


@cache
def case() -> Case:
    return Case(design=design_of("shell"), wanted=frozenset(), source=KEPT)


@cache
def found(key: str) -> Fit:
    """Return the fit of readings of a machine with a cause of a middling size, or with none; foretold, so circular."""
    taken = readings_of(Readings.model_validate(BENCH, context={"job_file": True}))
    doubts = unknowns_of(case().design, primary=False, secondary=False)
    cause = next((each for each in causes_of(case(), doubts, taken) if each.key == key), None)
    under = doubts if cause is None else with_cause(doubts, cause)
    shows = model_of(case(), under, taken, cause)(np.zeros((1, len(under))))[0]
    read = tuple(replace(one, value=float(value)) for one, value in zip(taken, shows, strict=True))
    return fit_of(case().design, read, primary=False, source=KEPT)


def test_every_cause_has_its_words_and_its_share():
    assert sum(row.prior for row in rows().values()) == pytest.approx(1.2, abs=0.3)  # of those that apply, made one
    assert all(row.words and row.bench and row.mend and 0 < row.prior < 1 for row in rows().values())
    doubts = unknowns_of(case().design, primary=False, secondary=False)
    taken = readings_of(Readings.model_validate(BENCH, context={"job_file": True}))
    assert {each.key for each in causes_of(case(), doubts, taken)} < set(rows())


@pytest.mark.parametrize("key", [NOTHING, "shorted turn", "bad joint"])
def test_a_machine_that_has_a_cause_is_told_it(key):
    causes = found(key).causes
    assert sum(each.probability for each in causes) == pytest.approx(1.0)
    assert [each.probability for each in causes] == sorted((each.probability for each in causes), reverse=True)
    assert key in [each.key for each in causes[:2]]


@pytest.mark.slow
@pytest.mark.parametrize("cause", ["", "wrong turns", "large gap", "bad joint", "shorted turn", "wrong clamp"])
def test_stories_of_benches_computed_apart(cause):
    # the share that is asked for over all benches is 90 % (tests/truth/judge_causes.py): of three, two at least
    some = [bench for bench in benches() if bench.cause == cause and (bench.counted or cause != "wrong turns")][:3]
    hits = [any(key in truth(bench) for key in list(likely(fitted(bench)))[:2]) for bench in some]
    assert sum(hits) >= 2
