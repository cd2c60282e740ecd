"""The heat network against closed forms, an independent integrator, itself with finer steps, and its own books."""

from dataclasses import replace
from math import exp, inf, isinf, log, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.errors import OutOfRange
from fem.heat.adiabatic import adiabatic_time
from fem.heat.burst import continuous
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.network import Link, Network, Node
from fem.heat.phases import Carries, Phase, pulses
from fem.heat.surface import Lie, Surface
from fem.materials.insulation import insulation
from fem.materials.metals import metal
from tests.support.one import allowed_duty, burst, cool_down_time, march, steady_cycle, steady_state, steps

Floats = NDArray[np.float64]

AMBIENT = 298.15


def one_node(*, alpha: float = 0.0, to_ambient: float = 0.8) -> Network:
    """Return one lump, 400 J/K, 2 mohm, cooled by a plain conductance: every answer has a closed form."""
    node = Node(
        name="lump",
        capacity=400.0,
        carries=Carries.SECONDARY,
        resistance=2e-3,
        temperature_coefficient=alpha,
        to_ambient=to_ambient,
        insulation=insulation("class A"),
    )
    return Network(nodes=(node,), ambient=AMBIENT)


def machine(ambient: float = AMBIENT) -> Network:
    """Return an invented 1 kVA machine with leads and joints: convection, radiation, hot copper, eddy share."""
    ends = Surface(area=0.02, length=0.03, lie=Lie.VERTICAL, emissivity=0.9)
    return machine_network(
        primary=WindingHeat(
            mass=2.5, metal=metal("copper"), resistance=1.0, conductor_area=2e-6, core_area=0.02, surfaces=(ends,)
        ),
        secondary=WindingHeat(
            mass=0.7,
            metal=metal("copper"),
            resistance=2.5e-4,
            conductor_area=70e-6,
            core_area=0.015,
            ac_factor=1.3,
            surfaces=(replace(ends, coat=0.01),),
        ),
        core_mass=8.0,
        core_surfaces=box_surfaces(0.15, 0.12, 0.06, emissivity=0.9),
        winding_to_core=40.0,
        winding_to_winding=15.0,
        leads=[
            LeadHeat(
                length=0.6,
                metal=metal("copper"),
                conductor_area=70e-6,
                bare_diameter=0.011,
                outside_diameter=0.016,
                resistance=1.5e-4,
                jacket_conductivity=0.25,
                emissivity=0.9,
            )
        ]
        * 2,
        joints=[JointHeat(resistance=1e-4, mass=0.3, surfaces=(replace(ends, area=0.01, length=0.05),))],
        facing_area=0.006,
        ambient=ambient,
    )


ON = Phase(duration=5.0, primary_current=14.0, secondary_current=1000.0, core_loss=20.0)
OFF = Phase(duration=115.0, primary_current=0.8, core_loss=15.0)


def test_one_node_is_the_exponential() -> None:
    # rise = (P/G)(1 - exp(-t G/C)); the scheme is exact for it, so only rounding and the cubic table's are left.
    run = march(one_node(), [Phase(duration=900.0, secondary_current=250.0)])
    expected = AMBIENT + 125.0 / 0.8 * (1 - np.exp(-run.times * 0.8 / 400.0))
    np.testing.assert_allclose(run.of("lump"), expected, atol=1e-6)


def test_one_node_with_rising_resistance_is_the_exponential() -> None:
    # P = P0 (1 + alpha (T - 20 degC)): rise tends to (P0 (1 + alpha (Ta - 293.15)))/(G - P0 alpha), still exact.
    alpha = 0.00393
    run = march(one_node(alpha=alpha), [Phase(duration=2000.0, secondary_current=250.0)])
    net = 0.8 - 125.0 * alpha
    expected = AMBIENT + 125.0 * (1 + alpha * (AMBIENT - 293.15)) / net * (1 - np.exp(-run.times * net / 400.0))
    np.testing.assert_allclose(run.of("lump"), expected, atol=1e-6)


def test_two_nodes_share_their_heat_as_the_closed_form() -> None:
    # Two insulated lumps: the difference decays with G (1/C1 + 1/C2), the mean by capacity stays.
    pair = Network(
        nodes=(Node(name="a", capacity=300.0), Node(name="b", capacity=900.0)),
        links=(Link(first="a", second="b", conductance=2.0),),
        ambient=AMBIENT,
    )
    run = march(pair, [Phase(duration=400.0)], [400.0, 300.0])
    decay = np.exp(-run.times * 2.0 * (1 / 300.0 + 1 / 900.0))
    np.testing.assert_allclose(run.of("a"), 325.0 + 75.0 * decay, atol=1e-8)
    np.testing.assert_allclose(run.of("b"), 325.0 - 25.0 * decay, atol=1e-8)


def right_side(network: Network, phase: Phase, t: Floats) -> Floats:
    """Return dT/dt [K/s], written afresh from the network's public parts."""
    flow = network.losses(phase, t)[0] - network.cooling(t)[0]
    for link in network.links:
        i, j = network.index(link.first), network.index(link.second)
        heat = link.conductance * (t[i] - t[j])
        flow[i] -= heat
        flow[j] += heat
    return flow / network.capacity


def test_nonlinear_machine_agrees_with_an_independent_integrator() -> None:
    # Radau of scipy at 1e-9; 0.1 K is five steps' worth of the tolerance of 0.02 K per step.
    network, now = machine(), machine().at_ambient()
    phases = [ON.lasting(60.0), OFF.lasting(600.0), ON.lasting(20.0)]
    for phase in phases:
        span = (0.0, phase.duration)
        now = solve_ivp(lambda _, t, p=phase: right_side(network, p, t), span, now, "Radau", rtol=1e-9, atol=1e-9).y[
            :, -1
        ]
    np.testing.assert_allclose(march(network, phases).temperatures[-1], now, atol=0.1)


def test_march_is_of_third_order() -> None:
    # Hochbruck and Ostermann 2010: order 3. A law that is smooth but far from straight: an eddy loss five times the
    # direct one, which falls as copper warms. A loose tolerance leaves one step per phase. The order is told from 2 and
    # from 4 when it lies within 0.3, which leaves room for the next term of the error.
    node = replace(one_node(alpha=0.00393).nodes[0], ac_factor=6.0)
    network = Network(nodes=(node,), ambient=AMBIENT)
    whole = Phase(duration=400.0, secondary_current=250.0)
    exact = march(network, [whole], tolerance=1e-9).temperatures[-1, 0]
    errors = []
    for n in (8, 16, 32):
        run = march(network, [whole.lasting(400.0 / n)] * n, tolerance=1e6, samples=1)
        assert len(run.times) == n + 1
        errors.append(abs(run.temperatures[-1, 0] - exact))
    assert log(errors[0] / errors[2]) / log(4.0) == pytest.approx(3.0, abs=0.3)


def test_temperatures_within_half_a_kelvin_of_a_ten_times_finer_run() -> None:
    # Third order: a thousandth of the tolerance takes ten times finer steps.
    network = machine()
    phases = [ON.lasting(50.0), OFF] * 3
    coarse, fine = march(network, phases), march(network, phases, tolerance=2e-5)
    assert len(fine.times) > 5 * len(coarse.times)
    for name in network.names:
        assert np.abs(coarse.of(name) - np.interp(coarse.times, fine.times, fine.of(name))).max() < 0.5


def test_books_close_by_an_independent_quadrature() -> None:
    # Heat made less heat given off, by Simpson over 24 moments per step, against heat stored: 0.1 % asked for.
    network = machine()
    run = march(network, [ON.lasting(50.0), OFF.lasting(3000.0)], samples=24)
    made = lost = 0.0
    phases = {0: ON, 1: OFF}
    for begin in range(0, len(run.times) - 1, 24):
        piece = slice(begin, begin + 25)
        phase = phases[int(run.phases[begin + 1])]
        p = np.array([network.losses(phase, t)[0].sum() for t in run.temperatures[piece]])
        q = np.array([network.cooling(t)[0].sum() for t in run.temperatures[piece]])
        weights = np.array([1, *([4, 2] * 11), 4, 1]) * (run.times[begin + 1] - run.times[begin]) / 3
        made, lost = made + float(weights @ p), lost + float(weights @ q)
    assert made - lost == pytest.approx(run.energy_stored, abs=1e-3 * made)
    assert run.energy_in == pytest.approx(made, rel=1e-3)
    assert run.energy_out == pytest.approx(lost, rel=1e-3)
    assert run.energy_in - run.energy_out == pytest.approx(run.energy_stored, rel=1e-9)


def test_steady_cycle_of_one_node_is_the_closed_form() -> None:
    # Peak of the periodic state: P/G (1 - exp(-a))/(1 - exp(-a - b)), a and b on- and off-time over C/G.
    on, off, tau = 30.0, 90.0, 400.0 / 0.8
    cycle = steady_cycle(one_node(), [Phase(duration=on, secondary_current=400.0), Phase(duration=off)])
    rise = 320.0 / 0.8 * (1 - exp(-on / tau)) / (1 - exp(-(on + off) / tau))
    assert cycle.peak[0] == pytest.approx(AMBIENT + rise, abs=1e-3)
    assert float(cycle.lowest[0]) == pytest.approx(AMBIENT + rise * exp(-off / tau), abs=1e-3)
    # The peak of burst n, counted from 0, is short of it by rise exp(-n T/tau) times what the first burst lacks.
    needed = log((rise - 320.0 / 0.8 * (1 - exp(-on / tau))) / 1.0) / ((on + off) / tau)
    assert cycle.cycles == int(np.ceil(needed))


def test_steady_cycle_of_the_machine_is_where_brute_force_arrives() -> None:
    # 300 cycles against a slowest time constant of some 29: of a way of 30 K, 1e-3 K is left.
    network, now = machine(), machine().at_ambient()
    phases = [ON, OFF]
    for _ in range(300):
        run = march(network, phases, now)
        now = run.temperatures[-1]
    cycle = steady_cycle(network, phases)
    assert cycle.iterations < 10
    np.testing.assert_allclose(cycle.start, now, atol=0.05)
    np.testing.assert_allclose(cycle.peak, run.temperatures.max(axis=0), atol=0.05)
    assert cycle.energy_in == pytest.approx(cycle.energy_out, rel=1e-3)
    finer = steady_cycle(network, phases, tolerance=2e-5, count=False)
    np.testing.assert_allclose(cycle.peak, finer.peak, atol=0.5)


def test_steady_state_is_where_a_long_run_arrives() -> None:
    settled = steady_state(machine(), OFF)
    np.testing.assert_allclose(march(machine(), [OFF.lasting(2e5)]).temperatures[-1], settled, atol=0.05)


def test_march_ends_where_the_data_end() -> None:
    seen = []
    with pytest.raises(OutOfRange, match="lump passes 627 degC after 236 s"):
        seen.extend(steps(one_node(), [Phase(duration=1e5, secondary_current=800.0)], [AMBIENT]))
    # 1280 W on 0.8 W/K would rise by 1600 K: 900 K comes after tau ln(1600/(1600 - 601.85)), tau 500 s.
    assert seen[-1].start + seen[-1].duration == pytest.approx(500.0 * log(1600.0 / (1600.0 - 601.85)), rel=1e-6)
    with pytest.raises(OutOfRange, match="lump passes 627 degC after 0 s"):
        march(one_node(), [Phase(duration=1.0)], [1000.0])


def test_no_current_stays_at_ambient() -> None:
    run = march(machine(), [Phase(duration=1e5)])
    np.testing.assert_allclose(run.temperatures, AMBIENT, atol=1e-9)
    np.testing.assert_allclose(steady_state(machine(), Phase(duration=1.0)), AMBIENT, atol=1e-9)


def test_burst_without_cooling_lasts_as_long_as_the_adiabatic_law() -> None:
    # A lump of copper with the constants of IEC 60949: C = sigma A L, R = rho L/A, alpha = 1/(beta + 20), no outlet to
    # speak of; K from the same data, so both must agree but for the 1e-9 W/K.
    copper = metal("copper")
    heat_capacity = 3.45e6  # [J/(K m3)], table 1
    length, area = 1.0, 70e-6
    node = Node(
        name="lump",
        capacity=heat_capacity * area * length,
        carries=Carries.SECONDARY,
        resistance=copper.resistivity_20 * length / area,
        temperature_coefficient=1 / (copper.beta + 20),
        conductor_area=area,
        to_ambient=1e-9,
        insulation=insulation("PVC cable"),
    )
    found = burst(Network(nodes=(node,), ambient=AMBIENT), Phase(duration=1.0, secondary_current=2000.0))
    constant = sqrt(heat_capacity * (copper.beta + 20) / copper.resistivity_20)
    exact = replace(copper, short_time_constant=constant)
    times = found.parts["lump"]
    assert times.working is not None
    assert times.working == pytest.approx(adiabatic_time(exact, 2000.0 / area, AMBIENT, 343.15), rel=1e-5)
    assert times.once == pytest.approx(adiabatic_time(exact, 2000.0 / area, AMBIENT, 433.15), rel=1e-5)
    # With its outlet closed as well it is the same lump.
    assert times.adiabatic_working == pytest.approx(times.working, rel=1e-5)
    assert found.limiting == "lump"


def test_heat_that_escapes_only_lengthens_a_burst() -> None:
    found = burst(machine(), ON)
    for name in ("lead 1", "lead 2"):
        part = found.parts[name]
        assert part.working is not None
        assert part.once is not None
        assert part.working > part.adiabatic_working
        assert part.once > part.working
    assert found.longest == min(p.working for p in found.parts.values() if p.working is not None)


def test_what_a_burst_cannot_tell_is_none() -> None:
    # Two lumps apart: one is beyond 900 K long before the other is warm, and the machine with it.
    hot = one_node().nodes[0]
    cool = replace(hot, name="cool", resistance=2e-5, to_ambient=1e-6)
    found = burst(Network(nodes=(hot, cool), ambient=AMBIENT), Phase(duration=1.0, secondary_current=1000.0))
    assert found.parts["cool"].working is None
    assert found.limiting == "lump"
    assert found.longest == found.parts["lump"].working


def test_burst_that_never_gets_there_is_infinite() -> None:
    found = burst(machine(), Phase(duration=1.0, primary_current=0.1))
    assert found.limiting is None
    assert isinf(found.longest)


def test_allowed_duty_follows_the_square_law_for_short_cycles() -> None:
    # Linear cooling, constant resistance, cycle far below C/G = 500 s: I^2 x = I_cont^2. The peak lies above the
    # mean by half the swing, P (1 - x) t_on/(2 C): below 0.1 % of the rise; the bisection stops within 1e-4 of 0.25.
    network = one_node()
    limit = insulation("class A").mean_limit - AMBIENT
    steady = (limit * 0.8 / 2e-3) ** 0.5
    found = allowed_duty(network, Phase(duration=1.0, secondary_current=2 * steady), 2.0, resolution=1e-4)
    assert found.share == pytest.approx(0.25, rel=0.002)
    assert found.limiting == "lump"


def test_allowed_duty_of_one_node_is_the_closed_form() -> None:
    # Solve P/G (1 - exp(-x T/tau))/(1 - exp(-T/tau)) = limit for x; the bisection stops within 1e-4.
    period, tau, power = 600.0, 500.0, 500.0**2 * 2e-3
    limit = insulation("class A").mean_limit - AMBIENT
    share = -log(1 - limit * 0.8 / power * (1 - exp(-period / tau))) * tau / period
    found = allowed_duty(one_node(), Phase(duration=1.0, secondary_current=500.0), period, resolution=1e-4)
    assert 0 <= share - found.share <= 1.2e-4


def test_allowed_duty_ends() -> None:
    network = one_node()
    assert allowed_duty(network, Phase(duration=1.0, secondary_current=100.0), 60.0).share == 1.0
    hot = Phase(duration=1.0, secondary_current=400.0)
    never = allowed_duty(network, hot, 60.0, off=hot)
    assert (never.share, never.limiting) == (0.0, "lump")


def test_allowed_duty_falls_with_current_and_is_kept() -> None:
    network = machine()
    shares = []
    for factor in (0.8, 1.0, 1.25):
        on = Phase(duration=1.0, primary_current=14 * factor, secondary_current=1000 * factor, core_loss=20.0)
        duty = allowed_duty(network, on, 120.0)
        assert duty.cycle is not None
        limits = [n.insulation.mean_limit if n.insulation else inf for n in network.nodes]
        assert np.all(duty.cycle.peak <= limits)
        shares.append(duty.share)
    assert shares[0] > shares[1] > shares[2] > 0


def test_cool_down_time_is_the_closed_form() -> None:
    found = cool_down_time(one_node(), [AMBIENT + 80.0], AMBIENT + 20.0)
    assert found == pytest.approx(500.0 * log(4.0), rel=1e-6)
    assert cool_down_time(one_node(), [AMBIENT + 10.0], AMBIENT + 20.0) == 0.0


def test_left_plugged_in() -> None:
    mild = continuous(machine(), OFF)
    assert mild.over == ()
    assert mild.temperatures is not None
    strong = continuous(machine(), Phase(duration=1.0, primary_current=9.0, core_loss=60.0))
    assert "primary" in strong.over
    assert 0 < strong.first_over < 86400


def test_runaway_is_said_and_not_computed() -> None:
    # Heat rises faster than cooling: 2500 W x 0.00393 > 0.8 W/K, so there is no steady state at any temperature.
    network = one_node(alpha=0.00393)
    wild = Phase(duration=60.0, secondary_current=1118.0)
    with pytest.raises(OutOfRange):
        steady_state(network, wild)
    with pytest.raises(OutOfRange):
        steady_cycle(network, [wild, Phase(duration=1.0)])
    gone = continuous(network, wild)
    assert gone.temperatures is None
    assert gone.over == ("lump",)
    # Bursts of it are still allowed, and found.
    assert 0 < allowed_duty(network, wild, 60.0).share < 0.1


def test_pulse_train_heats_like_its_mean_between_pulses() -> None:
    # 10 pulses of 5 cycles with pauses of 5: energy of 50 cycles at 50 Hz, 1 s of current, to the cooling within 2 s.
    train = pulses(ON, Phase(duration=1.0), cycles_on=5, cycles_off=5, count=10, frequency=50.0)
    assert sum(p.duration for p in train) == pytest.approx(1.9)
    pulsed = march(machine(), train)
    whole = march(machine(), [ON.lasting(1.0)])
    # Copper warms by 2 K meanwhile, 0.8 % of its loss, in either case: the order changes far less than 0.1 %.
    assert pulsed.energy_in == pytest.approx(whole.energy_in, rel=1e-3)


def test_turned_round_leads_make_no_difference() -> None:
    # Renumbering nodes and turning a link round must leave every temperature where it was.
    network = machine()
    turned = Network(
        nodes=network.nodes[::-1],
        links=tuple(Link(first=x.second, second=x.first, conductance=x.conductance) for x in network.links),
        ambient=network.ambient,
    )
    one, other = steady_cycle(network, [ON, OFF]), steady_cycle(turned, [ON, OFF])
    np.testing.assert_allclose(one.peak, other.peak[::-1], atol=1e-3)
