"""Heat networks side by side: against each alone, and against an independent integrator."""

from dataclasses import replace
from itertools import count
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.errors import NotConverged, TooHot
from fem.heat.burst import first_limits
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.counting import count_cycles
from fem.heat.coupled import HotCycle, Repeated, hot_cycles, hot_duties
from fem.heat.cycle import cycles
from fem.heat.levels import cool_down_times, first_times
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.march import March
from fem.heat.network import Network
from fem.heat.phases import Course, Phase, joined, phase_loaded
from fem.heat.settled import settle
from fem.heat.share import Duty
from fem.heat.surface import Lie, Surface
from fem.materials.metals import metal
from tests.support.circuits import straight_circuit
from tests.support.one import burst, hot_duty, march, steady_cycle

Floats = NDArray[np.float64]

COPPER = metal("copper")
MEMBERS = 4
DRAWN = {
    "mass": (0.5, 2.0),
    "ohms": (0.7, 1.4),
    "to_core": (15.0, 100.0),
    "emissivity": (0.5, 0.95),
    "jacket": (0.17, 0.3),
    "joint": (0.05, 3.0),
    "room": (278.0, 308.0),
    "amperes": (300.0, 1500.0),
}


def draws(seed: int, members: int = MEMBERS) -> dict[str, Floats]:
    rng = np.random.default_rng(seed)
    return {name: rng.uniform(*ends, members) for name, ends in DRAWN.items()}


def network(d: dict[str, Any]) -> Network:
    """Return an invented machine whose doubtful numbers are one, or an array of an entry for each."""
    ends = Surface(area=0.02, length=0.03, lie=Lie.VERTICAL, emissivity=d["emissivity"])
    winding = WindingHeat(
        mass=2.5 * d["mass"],
        metal=COPPER,
        resistance=1.0 * d["ohms"],
        conductor_area=2e-6,
        core_area=0.02,
        surfaces=(replace(ends, coat=0.01),),
        ac_factor=1 + 0.3 * d["ohms"],
    )
    lead = LeadHeat(
        length=1.2,
        metal=COPPER,
        conductor_area=70e-6,
        bare_diameter=0.011,
        outside_diameter=0.016,
        resistance=3e-4 * d["ohms"],
        jacket_conductivity=d["jacket"],
        emissivity=d["emissivity"],
    )
    return machine_network(
        primary=winding,
        secondary=replace(winding, resistance=2.5e-4 * d["ohms"], mass=0.7 * d["mass"]),
        core_mass=8.0 * d["mass"],
        core_surfaces=box_surfaces(0.15, 0.12, 0.06, emissivity=d["emissivity"]),
        winding_to_core=d["to_core"],
        winding_to_winding=15.0,
        leads=[lead],
        joints=[JointHeat(resistance=1e-4 * d["joint"], mass=0.3 * d["mass"], surfaces=(replace(ends, coat=0.0),))],
        facing_area=0.006,
        ambient=d["room"],
    )


def one(d: dict[str, Floats], member: int) -> dict[str, float]:
    return {name: float(values[member]) for name, values in d.items()}


def on(d: dict[str, Any]) -> Phase:
    return Phase(duration=4.0, primary_current=d["amperes"] / 70, secondary_current=d["amperes"], core_loss=20.0)


OFF = Phase(duration=90.0, primary_current=0.8, core_loss=15.0)


@pytest.mark.parametrize("seed", [1, 2])
def test_each_member_goes_as_it_would_alone(seed: int) -> None:
    """What a member does depends on no other one: the same arithmetic, so 1e-9 of what it is, rounding."""
    d = draws(seed)
    block, phases = network(d), [on(d), OFF, on(d).lasting(40.0)]
    lumps, course = block.lumps, Course.of(phases, MEMBERS)
    ends = np.full(lumps.capacity.shape, np.nan)
    walk = March(lumps, course, lumps.at_ambient())
    for step in walk:
        ends[step.members] = step.end
    limits = first_limits(block, phases, lumps.at_ambient())
    run = cycles(lumps, course, lumps.at_ambient())
    settled, _ = settle(lumps, OFF.flow[:, None])
    cooled = cool_down_times(lumps, lumps.at_ambient() + 60.0, d["room"] + 10.0, off=Phase(duration=1.0))
    for k in range(MEMBERS):
        own = one(d, k)
        alone, own_phases = network(own), [on(own), OFF, on(own).lasting(40.0)]
        np.testing.assert_allclose(
            lumps.take(k).cooling(np.full(len(alone.nodes), 350.0)),
            alone.cooling(np.full(len(alone.nodes), 350.0)),
            rtol=1e-11,
        )
        if k in walk.beyond:
            with pytest.raises(TooHot):
                march(alone, own_phases)
        else:
            np.testing.assert_allclose(ends[k], march(alone, own_phases).temperatures[-1], rtol=1e-9)
            lone = cycles(alone.lumps.block, Course.of(own_phases, 1), alone.lumps.block.at_ambient())
            np.testing.assert_allclose(run.peak[k], lone.peak[0], rtol=1e-9)
            np.testing.assert_allclose(run.to_end[k], lone.to_end[0], rtol=1e-8, atol=1e-12)
        (limit,) = first_limits(alone, own_phases, alone.at_ambient())
        assert (limits[k] is None) == (limit is None)
        if limits[k] is not None and limit is not None:
            assert limits[k][1] == limit[1]  # type: ignore[index]
            assert limits[k][0] == pytest.approx(limit[0], rel=1e-8)  # type: ignore[index]
        (cool,) = cool_down_times(
            alone.lumps.block, alone.lumps.block.at_ambient() + 60.0, own["room"] + 10.0, off=Phase(duration=1.0)
        )
        assert cooled[k] == pytest.approx(cool, rel=1e-7)
        np.testing.assert_allclose(settled[k], settle(alone.lumps.block, OFF.flow[:, None])[0][0], rtol=1e-10)


def test_bursts_repeated_by_a_block_are_those_of_each() -> None:
    """Steady cycles and duties with currents that follow the warmth; 1e-3 of a share is what each is found to."""
    d = draws(3)
    d["amperes"] = np.linspace(1.0, 2.2, MEMBERS)
    circuit = straight_circuit()

    def drawn(own: Any) -> tuple[Circuit, Any]:
        def flow(hot: Circuit) -> Phase:
            phase = phase_loaded(loaded(hot, 2e-3), 1.0)
            return replace(phase, secondary_current=phase.secondary_current * own["amperes"])

        return circuit, flow

    def kinds(flow: Any) -> list[Repeated]:
        return [Repeated(flow=flow, off=OFF, period=60.0), Repeated(flow=flow, off=OFF, on_time=6.0)]

    block, (_, flow) = network(d), drawn(d)
    found = hot_cycles(circuit, block, flow, lambda p: (p.lasting(2.0), OFF), now=293.15)
    duties = hot_duties(circuit, block, kinds(flow), now=293.15)
    assert 0 < min(one.share for one in duties[0]) < max(one.share for one in duties[0]) < 1
    for k in range(MEMBERS):
        own = one(d, k)
        alone, (_, own_flow) = network(own), drawn(own)
        (cycle,) = hot_cycles(circuit, alone, own_flow, lambda p: (p.lasting(2.0), OFF), now=293.15)
        both = found[k], cycle
        assert isinstance(both[0], HotCycle)
        assert isinstance(both[1], HotCycle)
        np.testing.assert_allclose(both[0].cycle.peak, both[1].cycle.peak, atol=0.02)
        for kind, whole in zip(hot_duties(circuit, alone, kinds(own_flow), now=293.15), duties, strict=True):
            assert whole[k].share == pytest.approx(kind[0].share, rel=1e-3)
            assert whole[k].limiting == kind[0].limiting


def test_a_machine_whose_current_never_settles_has_no_duty_and_leaves_the_others_theirs() -> None:
    """The current of one swings by 5 % from call to call, its heat by 10 %: no share keeps to a limit within 1e-3."""
    d = draws(4, 2)
    circuit = straight_circuit()

    def swinging(of: Any) -> Any:
        swing = count()
        return lambda _: Phase(duration=1.0, secondary_current=500.0 * np.where(of, 1 + 0.05 * (next(swing) % 2), 1.0))

    def duties(machine: Network, of: Any) -> list[Duty | NotConverged]:
        return hot_duties(circuit, machine, [Repeated(flow=swinging(of), off=OFF, period=60.0)], now=293.15)[0]

    still, restless = duties(network(d), np.array([False, True]))
    assert isinstance(still, Duty)
    assert isinstance(restless, NotConverged)
    (alone,) = duties(network(one(d, 0)), np.array([False]))
    assert isinstance(alone, Duty)
    assert still.share == pytest.approx(alone.share, rel=1e-3)
    with pytest.raises(NotConverged, match="duty allowed"):
        hot_duty(
            circuit, network(one(d, 1)), Repeated(flow=swinging(np.array([True])), off=OFF, period=60.0), now=293.15
        )


@pytest.mark.parametrize("seed", [11])
def test_a_block_agrees_with_an_independent_integrator(seed: int) -> None:
    """Radau of scipy at 1e-8, member by member, from links, losses and cooling; 0.1 K is five steps' tolerance."""
    d = draws(seed)
    d["amperes"] *= 0.6
    block, phases = network(d), [on(d).lasting(d["mass"] * 8.0), OFF.lasting(300.0), on(d)]
    now = block.at_ambient()
    for step in March(block.lumps, Course.of(phases, MEMBERS), now):
        now[step.members] = step.end
    for k in range(MEMBERS):
        own = one(d, k)
        alone, t = network(own), np.full(len(block.nodes), own["room"])

        def rate(_: float, t: Floats, phase: Phase, alone: Network = alone) -> Floats:
            flow = alone.losses(phase, t)[0] - alone.cooling(t)[0]
            for link in alone.links:
                i, j = alone.index(link.first), alone.index(link.second)
                flow[i] -= link.conductance * (t[i] - t[j])
                flow[j] += link.conductance * (t[i] - t[j])
            return np.asarray(flow / alone.capacity)

        for phase in (on(own).lasting(own["mass"] * 8.0), OFF.lasting(300.0), on(own)):
            t = solve_ivp(rate, (0.0, phase.duration), t, "Radau", rtol=1e-8, atol=1e-7, args=(phase,)).y[:, -1]
        np.testing.assert_allclose(now[k], t, atol=0.1)


@pytest.mark.parametrize("seed", [21])
def test_cycles_counted_in_jumps_are_those_counted_one_by_one(seed: int) -> None:
    """Every cycle marched. The last kelvin falls by exp(-1/c) a cycle: 0.02 K of a jump are 0.02 c of c cycles."""
    own = one(draws(seed), 0) | {"amperes": 600.0}
    alone, phases = network(own), [on(own).lasting(2.0), OFF]
    steady = steady_cycle(alone, phases, count=False)
    lumps, course = alone.lumps.block, Course.of(phases, 1)
    now, done = lumps.at_ambient(), 0
    while float((steady.peak - (run := cycles(lumps, course, now)).peak).max()) > 1.0:
        now, done = run.end, done + 1
    assert done > 30
    assert count_cycles(lumps, course, steady) == pytest.approx(done, abs=0.02 * done + 1)


def test_stretches_made_one_keep_their_heat_and_their_time() -> None:
    """A current that falls by half, in 200 stretches: the same integrals; the moment of a limit within 1e-3 of it."""
    own = one(draws(31), 0)
    alone, times = network(own), np.linspace(0.0, 30.0, 201)
    amperes = 900 * np.exp(-times[:-1] / 43.0)
    fine = [
        Phase(duration=0.15, primary_current=i / 70, secondary_current=i, core_loss=i / 50) for i in amperes.tolist()
    ]
    coarse = joined(fine, within=0.02)
    assert len(coarse) < 40
    for heat in (
        lambda p: p.duration,
        lambda p: p.duration * p.secondary_current**2,
        lambda p: p.duration * p.core_loss,
    ):
        assert sum(map(heat, coarse)) == pytest.approx(sum(map(heat, fine)), rel=1e-12)
    lumps = alone.lumps.block
    node, levels = np.array([alone.index("lead 1")]), np.array([own["room"] + 8.0])
    both = [first_times(lumps, Course.of(p, 1), lumps.at_ambient(), node, levels)[0][0, 0] for p in (fine, coarse)]
    assert 1 < both[0] < 30
    assert both[1] == pytest.approx(both[0], rel=1e-3)


def test_a_part_by_itself_takes_as_long_as_its_integral() -> None:
    """C dT/P(T) with P = P0 (1 + a x): ln(1 + a x)/a C/P0, by hand."""
    own = one(draws(41), 0) | {"ohms": 1.0}
    alone = network(own)
    node = next(n for n in alone.nodes if n.name == "lead 1")
    assert node.insulation is not None
    found = burst(alone, Phase(duration=1.0, secondary_current=100.0)).parts["lead 1"]
    pieces = [n for n in alone.nodes if n.part == "lead 1"]
    a = node.temperature_coefficient
    begin, end = 1 + a * (own["room"] - 293.15), 1 + a * (node.insulation.mean_limit - 293.15)
    alike = [float(n.capacity) / (100.0**2 * float(n.resistance)) * np.log(end / begin) / a for n in pieces]
    assert found.adiabatic_working <= min(alike) * (1 + 1e-9)
    assert found.adiabatic_working >= 0.9 * min(alike)
