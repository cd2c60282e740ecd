"""Readings as the model has them, and how what the tests were done at adds to their doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fem.arrays import Floats
from fem.errors import NotConverged, OutOfRange
from fem.estimation.block import takes_block
from fem.estimation.case import Case
from fem.readings.accuracy import SHARED
from fem.readings.conditions import Test
from fem.readings.reading import Condition, Reading
from fem.readings.states import STATES


def predict(case: Case, readings: Sequence[Reading]) -> Floats:
    """Return what each meter would show in its test on each member, (readings, members) [SI].

    Parameters
    ----------
    case
        One design, or many members as `Case.with_draws` gives them. Its turns are taken from its circuit.
    readings
        As from `readings_of`; their values play no part, what they were taken at does.

    Returns
    -------
    Floats
        nan where a member has no state: beyond the steel's data, or where none is found.

    Notes
    -----
    A test is solved once for all that was read in it and for all members; no field is solved again.
    """
    found = np.full((len(readings), case.members), np.nan)
    tests: dict[Test, list[int]] = {}
    for place, reading in enumerate(readings):
        tests.setdefault(reading.test, []).append(place)
    for test, places in tests.items():
        found[places] = _shown(case, test, [readings[place] for place in places])
    return found


def _shown(case: Case, test: Test, readings: Sequence[Reading]) -> Floats:
    """Return what was read in one test; where the members cannot be solved together, each alone."""
    try:
        if case.members == 1 or takes_block(case.design):
            shows = STATES[type(test)](case, test)
            each = [np.broadcast_to(shows(r.quantity, r.meter), case.members) for r in readings]
            return np.array(each, dtype=np.float64)
    except (NotConverged, OutOfRange):
        if case.members == 1:
            return np.full((len(readings), 1), np.nan)
    alone = [_shown(case.member(place), test, readings) for place in range(case.members)]
    return np.concatenate(alone, axis=1)


def covariance(case: Case, readings: Sequence[Reading]) -> Floats:
    """Return the covariance of what the readings are off by, (readings, readings) [SI].

    Parameters
    ----------
    case
        Of one design, by which what the conditions do is told; of members, that which they are drawn of.

    Notes
    -----
    Every meter's own variance, and of each condition that was measured (volts at the primary, temperature, the lamp)
    the product of what its standard uncertainty moves: a few per mille of the volts are per cents of a saturated
    no-load current, and move amperes and watts of one test together. By central differences; a reading without a state
    there has its meter's variance alone. What goes with the reading is in part common to all that one instrument read,
    be it readings or conditions (`SHARED`): the ratio of a search coil's volts and the primary's is known better than
    either.
    """
    alone, own = case.drawn_of or case, np.diag([reading.uncertainty for reading in readings])
    moves = [(reading.accuracy, moved) for reading, moved in zip(readings, own, strict=True)]
    conditions = {c.key: c for reading in readings for c in reading.conditions}
    for key, condition in conditions.items():
        places = [place for place, reading in enumerate(readings) if any(c.key == key for c in reading.conditions)]
        touched = [readings[place] for place in places]
        more, less = (predict(alone, [_at(one, condition, sign) for one in touched])[:, 0] for sign in (1.0, -1.0))
        moved = np.zeros(len(readings))
        moved[places] = np.nan_to_num((less - more) / 2)  # told too high, it foretells too much
        moves.append((condition.accuracy, moved))
    found, together = np.zeros_like(own), dict[str, Floats]()
    for accuracy, moved in moves:
        found += (1 - SHARED * accuracy.in_proportion**2) * np.outer(moved, moved)
        common = accuracy.in_proportion * moved
        together[accuracy.instrument] = together.get(accuracy.instrument, 0.0) + common
    return found + SHARED * sum(np.outer(moved, moved) for moved in together.values())


def _at(reading: Reading, condition: Condition, sign: float) -> Reading:
    """Return a reading in a test whose condition was a standard uncertainty higher or lower."""
    value = condition.value + sign * condition.accuracy.uncertainty
    return replace(reading, test=reading.test.model_copy(update={condition.name: value}))
