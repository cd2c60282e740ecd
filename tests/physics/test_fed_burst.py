"""A burst of machine and work against a time stepper of lumps and phasors written here, and what follows from it."""

from collections.abc import Callable
from dataclasses import replace
from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import root

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.time.connection import Rectifier
from fem.estimation.inputs.working import Working, burst_flow, flow_bursts
from fem.heat.coupled import Repeated, circuit_at
from fem.heat.network import Link, Network, Node
from fem.heat.phases import Carries, Phase
from fem.materials.insulation import insulation
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.burst import side_by_side
from fem.work.chain import WorkPiece, clamped
from fem.work.feed import Warm, feed_of
from fem.work.sections import RoundSection
from tests.support.circuits import sheet_curve, square_loss, straight_circuit
from tests.support.one import fed_burst, first_limit, heat, hot_duty, whole
from tests.support.plain import Plain

Floats = NDArray[np.float64]

ROOM = 298.15
PERMEANCE, CONDUCTANCE = 2e-4, 16.0
ALPHA = 0.00393

NODES = (
    Node(name="primary", capacity=300.0, carries=Carries.PRIMARY, resistance=1.2, reference_temperature=ROOM,
         temperature_coefficient=ALPHA, to_ambient=0.6, insulation=insulation("class A")),
    Node(name="secondary", capacity=150.0, carries=Carries.SECONDARY, resistance=3.2e-4, reference_temperature=ROOM,
         temperature_coefficient=ALPHA, ac_factor=1.25, to_ambient=0.9, insulation=insulation("class A")),
    Node(name="core", capacity=900.0, core_loss_share=1.0, to_ambient=2.0),
    Node(name="lead 1", capacity=200.0, carries=Carries.SECONDARY, resistance=4e-4, reference_temperature=ROOM,
         temperature_coefficient=ALPHA, to_ambient=1.5, insulation=insulation("class A")),
    Node(name="joints", capacity=60.0, carries=Carries.SECONDARY, resistance=2e-4, temperature_coefficient=0.0,
         to_ambient=0.4),
)  # fmt: skip
LINKS = (("primary", "core", 1.5), ("secondary", "core", 1.0), ("secondary", "lead 1", 0.5), ("lead 1", "joints", 0.7))
MACHINE = Network(nodes=NODES, links=tuple(Link(first=a, second=b, conductance=g) for a, b, g in LINKS), ambient=ROOM)
"""An invented machine, all of whose ways for heat are straight."""

SIDE = Surroundings(temperature=ROOM, film=None)
LOOSE = Jaw(temperature=ROOM, contact=Joint(conductance=1e-12))


def machine_circuit(**changes: object) -> Circuit:
    given = {"core_loss": square_loss(CONDUCTANCE), "secondary_resistance": 4e-4, "lead_resistance": 6e-4} | changes
    return straight_circuit(PERMEANCE, **given)


def lump(diameter: float, length: float, coefficient: float, capacity: float = 4e6) -> WorkPiece:
    """Return a bar that nothing leaves: one temperature throughout."""
    material = Plain(coefficient=coefficient, cold=ROOM, heat_capacity=capacity)
    section = RoundSection(diameter=diameter)
    return clamped(Bar(material=material, section=section, length=length, emissivity=0.0), LOOSE, SIDE)


BURSTS = {
    "1.5 s": (lump(6.3e-3, 0.036, 3.35e-3, 3.75e6), 1.5),
    "40 s": (lump(18e-3, 0.35, 2e-3), 40.0),
}


def ohms_of(piece: WorkPiece, kelvin: float) -> float:
    bar = piece.bars[0]
    area = pi * bar.section.diameter**2 / 4
    return 1e-6 * (1 + bar.material.coefficient * (kelvin - ROOM)) * bar.length / area


def factors(t: Floats) -> Floats:
    """Return the nodes' resistances over their d.c. ones at the reference: f + (F - 1)/f, IEEE C57.12.90."""
    f = np.array([1 + n.temperature_coefficient * (x - n.reference_temperature) for n, x in zip(NODES, t, strict=True)])
    return f + (np.array([n.ac_factor for n in NODES]) - 1) / f


def electric(t: Floats, work_ohms: float, net: Circuit) -> tuple[complex, complex, float, complex]:
    """Return currents, core loss and terminal voltage of the straight circuit, by Kirchhoff's laws written afresh."""
    omega, a = 2 * pi * 50.0, net.secondary_turns / net.primary_turns
    f = factors(t)
    r1 = 1.2 * f[0]
    r2 = 3.2e-4 * f[1] + 4e-4 * f[3] + 2e-4 * f[4]
    secondary = r2 + work_ohms + 1j * omega * (net.secondary_turns**2 * 1.5e-7 + 4e-7)
    series = net.source_resistance + r1 + 1j * omega * net.source_inductance
    # across N_1 dphi/dt = e: core loss G/N_1^2, magnetising 1/(j omega N_1^2 P), secondary a^2/Z
    admittance = CONDUCTANCE / net.primary_turns**2 + 1 / (1j * omega * net.primary_turns**2 * PERMEANCE)
    admittance += a**2 / secondary
    e = net.voltage_rms / (1 + series * admittance)
    core = CONDUCTANCE * abs(e / net.primary_turns) ** 2
    return e * admittance, a * e / secondary, core, e + r1 * e * admittance


def made(t: Floats, primary: complex, secondary: complex, core: float) -> Floats:
    squares = np.array([abs(primary) ** 2, abs(secondary) ** 2, 0.0, abs(secondary) ** 2, abs(secondary) ** 2])
    heat_made = squares * np.array([n.resistance for n in NODES]) * factors(t)
    heat_made[2] = core
    return heat_made


def ways() -> Floats:
    matrix = np.diag([n.to_ambient for n in NODES])
    names = [n.name for n in NODES]
    for first, second, g in LINKS:
        i, j = names.index(first), names.index(second)
        matrix[[i, j], [i, j]] += g
        matrix[[i, j], [j, i]] -= g
    return matrix


WAYS, CAPACITY = ways(), np.array([n.capacity for n in NODES])


def brute_burst(piece: WorkPiece, duration: float, start: Floats, net: Circuit, points: int = 2) -> Floats:
    """March machine (5), work (1), heat in each part (5), heat in the work and energy in: (13, points), to 1e-9."""
    bar = piece.bars[0]
    lumped = bar.material.heat_capacity * bar.length * pi * bar.section.diameter**2 / 4

    def rate(_: float, y: Floats) -> Floats:
        t, work = y[:5], ohms_of(piece, y[5])
        i1, i2, core, volts = electric(t, work, net)
        losses, into_work = made(t, i1, i2, core), abs(i2) ** 2 * work
        flows = (losses - WAYS @ (t - ROOM)) / CAPACITY
        return np.r_[flows, into_work / lumped, losses, into_work, (volts * i1.conjugate()).real]

    first = np.r_[start, ROOM, np.zeros(7)]
    times = np.linspace(0.0, duration, points)
    return solve_ivp(rate, (0.0, duration), first, "DOP853", times, rtol=1e-10, atol=1e-9).y


@pytest.mark.parametrize("name", BURSTS)
def test_a_burst_is_that_of_lumps_and_phasors(name: str) -> None:
    """Currents, heat in each part, temperatures and the energy from the socket.

    The tool's steps are within 0.05 K for the work, forty of them; its table is within 1e-5 of the circuit's states and
    knows of a warm primary what `test_the_table_moves_as_the_circuit_warms` says: 1e-3 of all, 2 % of the core's watts.
    """
    piece, duration = BURSTS[name]
    net = machine_circuit()
    run, fed = fed_burst(piece, net, MACHINE, now=ROOM, duration=duration, start_temperature=ROOM)
    expected = brute_burst(piece, duration, MACHINE.at_ambient(), net, 401)
    currents = np.array([electric(y[:5], ohms_of(piece, y[5]), net) for y in expected.T])
    times = np.linspace(0.0, duration, 401)
    for column, mine in ((1, fed.drawn.secondary_current), (0, fed.drawn.primary_current)):
        theirs = np.interp(fed.time, times, np.abs(currents[:, column]))
        np.testing.assert_allclose(mine, theirs, rtol=1e-3)
    end = expected[:, -1]
    np.testing.assert_allclose(fed.temperatures[-1] - ROOM, end[:5] - ROOM, rtol=1e-3, atol=0.01)
    np.testing.assert_allclose(np.delete(fed.heat, 2), np.delete(end[6:11], 2), rtol=1e-3)
    assert fed.heat[2] == pytest.approx(end[8], rel=0.02)
    assert run.energy.electric == pytest.approx(end[11], rel=1e-3)
    assert fed.energy == pytest.approx(end[12], rel=1e-3)
    # what comes from the socket is in machine and work
    assert fed.energy == pytest.approx(float(fed.heat.sum()) + run.energy.electric, rel=1e-3)
    assert fed.rms(fed.drawn.secondary_current) == pytest.approx(
        float(np.sqrt(np.trapezoid(np.abs(currents[:, 1]) ** 2, times) / duration)), rel=1e-3
    )
    if duration > 10:
        # the machine's warmth takes a tenth of the current
        held = heat(piece, Warm(feed=feed_of(piece, net, MACHINE, now=ROOM), rise=0.0), duration=duration,
                    start_temperature=ROOM, frequency=50.0)  # fmt: skip
        assert held.current_rms[-1] > 1.03 * run.current_rms[-1]


def brute_peak(piece: WorkPiece, duration: float, pause: float, idle: Phase, net: Circuit) -> Floats:
    """Return the highest temperatures of the cycle that ends where it began, each burst into cold work.

    The pause by the matrix exponential, the fixed point by a general solver.
    """
    source = np.array([1.2 * idle.primary_current**2, 0, idle.core_loss, 0, 0])
    # idle copper rises with the primary's temperature: along with the ways, as it is straight in it
    with_idle = WAYS.copy()
    with_idle[0, 0] -= source[0] * ALPHA
    decay = expm(-(with_idle.T / CAPACITY).T * pause)
    rest = np.linalg.solve(with_idle, source)

    def burst(now: Floats) -> Floats:
        return brute_burst(piece, duration, ROOM + now, net)[:5, -1] - ROOM

    start = root(lambda now: rest + decay @ (burst(now) - rest) - now, np.full(5, 40.0), tol=1e-8)
    assert start.success
    return burst(start.x) + ROOM


def flow_of(piece: WorkPiece, duration: float, net: Circuit) -> Callable[[Circuit], Phase]:
    feed = feed_of(piece, net, MACHINE, now=ROOM)
    bursts = flow_bursts(piece, feed, duration=duration, start_temperature=ROOM)
    return burst_flow(feed, [whole(run) for run in side_by_side(bursts)])


def test_the_duty_of_a_changing_current_is_brute_force_s() -> None:
    """How soon a burst may be repeated, and the duty at that period: 1 % of the rise to the limit, and of the share.

    With the last current in place of the r.m.s. value twice as much was allowed.
    """
    piece, duration = BURSTS["1.5 s"]
    net, idle = machine_circuit(), Phase(duration=1.0, primary_current=0.6, core_loss=9.0)
    flow = flow_of(piece, duration, net)
    soonest = hot_duty(net, MACHINE, Repeated(flow=flow, on_time=duration, off=idle), now=ROOM)
    limits = [n.insulation.mean_limit if n.insulation else np.inf for n in NODES]
    peak = brute_peak(piece, duration, soonest.period - duration, idle, net)
    nearest = int(np.argmin(limits - peak))
    assert NODES[nearest].name == soonest.limiting
    assert peak[nearest] - ROOM == pytest.approx(limits[nearest] - ROOM, rel=5e-3)
    beside = [brute_peak(piece, duration, k * soonest.period - duration, idle, net)[nearest] for k in (0.99, 1.01)]
    assert beside[0] > limits[nearest] > beside[1]
    share = hot_duty(net, MACHINE, Repeated(flow=flow, period=soonest.period, off=idle), now=ROOM).share
    assert share == pytest.approx(duration / soonest.period, rel=0.01)
    run, fed = fed_burst(piece, net, MACHINE, now=ROOM, duration=duration, start_temperature=ROOM)
    assert fed.rms(fed.drawn.secondary_current) > 1.35 * run.current_rms[-1]
    last = Working(resistance=float(run.resistance[-1])).flow
    assert hot_duty(net, MACHINE, Repeated(flow=last, period=soonest.period, off=idle), now=ROOM).share > 1.7 * share


def test_a_current_that_does_not_change_is_that_of_a_load() -> None:
    """Work whose resistance stays, too large to warm: the flow, and the duty, of that resistance."""
    piece = lump(6.3e-3, 0.041, 0.0, capacity=4e9)
    net, idle = machine_circuit(), Phase(duration=1.0, primary_current=0.6, core_loss=9.0)
    plain = Working(resistance=ohms_of(piece, ROOM)).flow
    flow = flow_of(piece, 1.5, net)
    for kelvin in (ROOM, 340.0, 380.0):
        warm = circuit_at(net, MACHINE, np.full(5, kelvin), ROOM)
        found, expected = flow(warm), plain(warm)
        assert found.secondary_current == pytest.approx(expected.secondary_current, rel=2e-4)
        assert found.primary_current == pytest.approx(expected.primary_current, rel=5e-4)
    shares = [
        hot_duty(net, MACHINE, Repeated(flow=one, period=60.0, off=idle), now=ROOM).share for one in (flow, plain)
    ]
    assert shares[0] == pytest.approx(shares[1], rel=2e-3)


@pytest.mark.parametrize("saturating", [False, True])
def test_the_table_moves_as_the_circuit_warms(saturating: bool) -> None:
    """Machines up to 75 K warmer than their table, against the state solved for each.

    Secondary and leads are exact; of the primary's rise what the magnetising current drops there is left out: 2e-5 a
    kelvin, but of the primary current 1.1e-4 in a core that saturates.
    """
    net = machine_circuit()
    if saturating:
        net = replace(net, magnetising=sheet_curve())
    feed = feed_of(BURSTS["1.5 s"][0], net, MACHINE, now=ROOM)
    for rise in (0.0, 20.0, 75.0):
        warm = circuit_at(net, MACHINE, np.full(5, ROOM + rise), ROOM)
        for ohms in (2e-4, 1.3e-3, 4e-3):
            state, drawn = loaded(warm, ohms), feed.drawn([ohms + feed.rise(warm)])
            allowed = 1e-5 + 2e-5 * rise
            assert drawn.secondary_current[0] == pytest.approx(state.secondary_current_rms, rel=allowed)
            assert drawn.primary_current[0] == pytest.approx(
                state.primary_current_rms, rel=(6 if saturating else 4) * allowed
            )
            assert drawn.input_power[0] == pytest.approx(state.input_power, rel=4 * allowed)


def test_a_rectified_load_s_duty_is_that_of_its_own_currents() -> None:
    """Behind valves: the duty of a phase that has the periodic state's r.m.s. currents, not that of a short."""
    net, idle = machine_circuit(), Phase(duration=1.0, primary_current=0.6, core_loss=9.0)
    load = Working(resistance=2e-3, rectifier=Rectifier(forward_drop=0.7, full_wave=True))

    def duty(flow: Callable[[Circuit], Phase]) -> float:
        return hot_duty(net, MACHINE, Repeated(flow=flow, period=60.0, off=idle), now=ROOM).share

    found = duty(load.in_turn())
    warm = circuit_at(net, MACHINE, np.full(5, 350.0), ROOM)
    state = load.periodic(warm)
    held = Phase(
        duration=1.0,
        primary_current=state.primary_rms,
        secondary_current=state.secondary_rms,
        core_loss=state.core_loss,
    )
    # held at 350 K: the parts lie within some 20 K of that, 8 % of a third of the loop, whose square goes into the duty
    assert found == pytest.approx(duty(lambda _: held), rel=0.05)
    assert found > 5 * duty(Working(resistance=0.0).flow)


def test_work_that_melts_ends_its_burst() -> None:
    """At the melting point plus latent heat, with all values those of that moment."""
    piece, _ = BURSTS["1.5 s"]
    bar = piece.bars[0]
    melting = replace(bar.material, melting=700.0, latent=1e9)
    piece = clamped(replace(bar, material=melting), LOOSE, SIDE)
    run, fed = fed_burst(piece, machine_circuit(), MACHINE, now=ROOM, duration=20.0, start_temperature=ROOM)
    assert run.time[-1] == fed.time[-1] < 20.0
    assert run.melt_progress[-1] >= 1


def test_a_machine_that_burns_is_followed_to_the_end_of_its_data() -> None:
    """From a frosty room into the glow: the part that passes 900 K is named, and the work's burst goes on."""
    frosty = replace(MACHINE, ambient=243.15)
    piece = lump(20e-3, 0.03, 0.0, capacity=4e9)
    run, fed = fed_burst(piece, machine_circuit(), frosty, now=243.15, duration=600.0, start_temperature=ROOM)
    assert fed.beyond is not None
    assert run.time[-1] == fed.time[-1] == 600.0
    assert fed.temperatures.max() == pytest.approx(900.0)
    assert fed.temperatures[-1, NODES.index(next(n for n in NODES if n.name == fed.beyond.part))] == pytest.approx(
        900.0
    )
    # first_limit sees the same burst from the same start: some part is at its limit before it glows
    found = first_limit(frosty, fed.phases, np.full(5, 243.15))
    assert found is not None
    assert fed.beyond.time is not None
    assert 10.0 < found[0] < fed.beyond.time < 600.0
    # and none of a short one
    assert first_limit(frosty, fed.phases[:3], np.full(5, 243.15)) is None
