"""Bursts followed side by side: each is what it is alone, whoever its neighbours are and whenever they leave."""

from dataclasses import fields, replace

import numpy as np
import pytest

from fem.circuit.equivalent import Circuit
from fem.design.work_piece import WorkJoint
from fem.errors import OutOfRange
from fem.estimation.inputs.work import work_of
from fem.trust.doubts import neutral
from fem.work.bodies import Joint, Surroundings
from fem.work.burst import Burst, side_by_side
from fem.work.chain import Beside
from fem.work.feed import feed_of
from fem.work.feeding import fed_side_by_side
from fem.work.line import LoadLine
from fem.work.run import Ending, HeatingRun
from fem.work.warmer import Machine
from tests.physics.test_contacts import blade
from tests.physics.test_fed_burst import MACHINE, machine_circuit
from tests.support.lines import thevenin

ROOM = 298.15


def mixed() -> list[Burst]:
    """Steady currents and e.m.f.s, one that melts, one that cools, one left on, one without a state, second paths."""
    given = blade(contact_resistance=5e-5)
    lap = blade(contact="oxidised").model_copy(update={"joint": WorkJoint(filler_melts_at=900.0)})
    pieces = [work_of(given, {**neutral(), "contact.jaws": place}) for place in (0.0, -1.0, 1.0, 0.5)]
    pieces.append(work_of(lap))
    rest = Beside(bar=replace(pieces[0].bars[0], length=0.4), contact=Joint(resistance=1e-4), loop_inductance=3e-7)
    strong, weak = thevenin(3.0, 8e-4, 1e-3), thevenin(2.0, 9e-4, 1e-3)
    plain = {"start_temperature": ROOM, "frequency": 50.0, "tolerance": 1.0}
    short = LoadLine(resistance=np.linspace(0, 1e-4, 5), current=np.full(5, 100.0))
    return [
        Burst(piece=pieces[0], line=strong, duration=0.6, **plain),
        Burst(piece=pieces[1], line=thevenin(4.5, 8e-4, 1e-3), duration=9.0, **plain),
        Burst(piece=pieces[2], line=weak, duration=3.0, switch_off=0.7, **plain),
        Burst(piece=pieces[3], line=strong, duration=0.4, start_temperature=320.0, frequency=400.0),
        Burst(piece=pieces[0], line=short, duration=1.0, **plain),
        Burst(piece=pieces[4], line=weak, duration=1.0, **plain),
        Burst(piece=pieces[1], line=thevenin(0.6, 8e-4, 1e-3), duration=1e7, settles=True, **plain),
        Burst(piece=pieces[2], line=strong, duration=4.0, until=(0.5, 700.0), **plain),
        *(Burst(piece=replace(piece, beside=rest), line=weak, duration=1.0, **plain) for piece in pieces[:2]),
    ]


def assert_same(one: HeatingRun, other: HeatingRun) -> None:
    for part in fields(HeatingRun):
        mine, theirs = getattr(one, part.name), getattr(other, part.name)
        if isinstance(mine, np.ndarray):
            np.testing.assert_allclose(mine, theirs, rtol=1e-12, err_msg=part.name)
    assert one.ending is other.ending
    assert one.energy.electric == pytest.approx(other.energy.electric, rel=1e-12)
    assert one.energy.stored == pytest.approx(other.energy.stored, rel=1e-11)


def test_a_burst_does_not_feel_its_neighbours() -> None:
    bursts = mixed()
    together = side_by_side(bursts)
    endings = [run.ending for run in together if isinstance(run, HeatingRun)]
    assert set(endings) == set(Ending)
    for burst, run in zip(bursts, together, strict=True):
        (alone,) = side_by_side([burst])
        if isinstance(alone, Exception):
            assert isinstance(run, OutOfRange)
            assert str(run) == str(alone)
        else:
            assert isinstance(run, HeatingRun)
            assert_same(run, alone)
    assert sum(isinstance(run, Exception) for run in together) == 1


def test_fed_bursts_do_not_feel_their_neighbours() -> None:
    """Machines of other resistances and turns, one that passes 900 K; the same work in warmer air."""
    given = work_of(blade(contact_resistance=5e-5))

    def fed(net: Circuit, piece=given, duration: float = 0.6) -> Burst:
        machine = Machine(feed=feed_of(piece, net, MACHINE, now=ROOM), circuit=net, network=MACHINE, now=ROOM)
        return Burst(piece=piece, line=machine, duration=duration, start_temperature=ROOM, frequency=50.0)

    net = machine_circuit()
    bursts = [
        fed(net),
        fed(replace(net, secondary_resistance=2 * net.secondary_resistance)),
        fed(net, replace(given, surroundings=Surroundings(temperature=320.0))),
        fed(net, duration=0.2),
        Burst(piece=given, line=thevenin(3.0, 8e-4, 1e-3), duration=1.0, start_temperature=ROOM, frequency=50.0),
    ]
    together = fed_side_by_side(bursts)
    for burst, found in zip(bursts, together, strict=True):
        (alone,) = fed_side_by_side([burst])
        assert isinstance(found, tuple)
        assert isinstance(alone, tuple)
        assert_same(found[0], alone[0])
        assert (found[1] is None) == (alone[1] is None)
        if found[1] is not None and alone[1] is not None:
            np.testing.assert_allclose(found[1].temperatures, alone[1].temperatures, rtol=1e-12)
            assert found[1].energy == pytest.approx(alone[1].energy, rel=1e-12)
