"""Seconds and ohms of a burst: those that the work piece's own station and the copper's temperature tell."""

import numpy as np
import pytest

from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.estimation.stations.bench.work_piece import WorkPieceState, work_piece
from fem.examples import example_design
from fem.readings.described import Readings
from fem.readings.predict import predict
from fem.readings.reading import readings_of
from fem.trust.doubts import doubts_of
from fem.trust.draws import draws
from tests.support.kept import KEPT


def test_a_burst_is_that_of_the_station() -> None:
    case = Case(design=example_design(), source=KEPT, wanted=frozenset({Part.WORK_PIECE}))
    station = work_piece(case)
    assert isinstance(station, WorkPieceState)
    seconds = {"to_visible_red": "1 s", "to_dull_red": "2 s", "to_flow": "2 s", "duration": "4 s"}
    test = seconds | {"primary_resistance": "1 ohm"}
    readings = readings_of(Readings.model_validate({"burst": [test]}))
    shows = dict(zip((reading.quantity for reading in readings), predict(case, readings)[:, 0].tolist(), strict=True))
    # another length of the burst is marched in other steps: each within half a kelvin of hundreds a second
    for quantity, told in (("visible_red", "visible_red"), ("dull_red", "dull_red"), ("flow", "target")):
        assert shows[f"to_{quantity}"] == pytest.approx(getattr(station, f"time_to_{told}"), rel=0.01)
    cold = case.windings.primary.resistance
    # 4 s of some 25 A through some 0.6 ohm warm kilograms of copper by less than 40 K, a sixth of its ohms
    assert cold < shows["primary_resistance"] < 1.2 * cold


@pytest.mark.slow
def test_members_have_bursts_of_their_own() -> None:
    case = Case(design=example_design(), source=KEPT)
    readings = readings_of(Readings.model_validate({"burst": [{"to_dull_red": "2 s", "to_flow": "2 s"}]}))
    members = case.with_draws(draws(doubts_of(case.design), 4))
    many = predict(members, readings)
    assert many.shape == (len(readings), 4)
    assert np.isfinite(many).all()
    assert (np.ptp(many, axis=1) > 0).all()


def test_without_a_work_piece_nothing_is_seen() -> None:
    case = Case(design=example_design().model_copy(update={"work_piece": None}), source=KEPT)
    readings = readings_of(Readings.model_validate({"burst": [{"to_dull_red": "2 s"}]}))
    assert np.isnan(predict(case, readings)).all()
