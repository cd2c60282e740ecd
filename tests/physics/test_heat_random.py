"""Random machines: every part cools to the room, no heat escaping is soonest, cycles are where brute force arrives."""

from math import exp

import numpy as np
import pytest
from scipy.linalg import eigh

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.errors import TooHot
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.coupled import Repeated
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.network import Network, Node
from fem.heat.phases import Carries, Phase, phase_loaded
from fem.heat.surface import Lie, Surface
from fem.materials.insulation import insulation
from fem.materials.metals import metal
from tests.support.circuits import straight_circuit
from tests.support.one import allowed_duty, burst, hot_cycle, hot_duty, march, steady_cycle

HOUR = 3600.0

LUGS = Surface(area=0.01, length=0.05, lie=Lie.VERTICAL, emissivity=0.6)


def random_machine(seed: int) -> Network:
    """Return an invented machine of 0.1 to 10 kVA: thin leads or thick ones or none, joints good and bad."""
    rng = np.random.default_rng(seed)
    size = 10 ** rng.uniform(-0.5, 0.5)  # of lengths, a machine of 5 kg of iron being 1

    def winding(resistance: float) -> WindingHeat:
        ends = Surface(
            area=0.02 * size**2, length=0.03 * size, lie=Lie.VERTICAL, emissivity=0.9, coat=rng.uniform(0, 0.02)
        )
        return WindingHeat(
            mass=rng.uniform(0.4, 2.0) * size**3,
            metal=metal(str(rng.choice(["copper", "aluminium"]))),
            resistance=resistance * rng.uniform(0.5, 2.0),
            conductor_area=rng.uniform(1e-6, 1e-4),
            surfaces=(ends,),
            core_area=rng.uniform(0.0, 0.03) * size**2,
            ac_factor=1 + rng.exponential(0.1),
        )

    area = 10 ** rng.uniform(-6, -4)
    length = rng.uniform(0.2, 6.0)
    bare = (4 * area / np.pi / 0.6) ** 0.5
    lead = LeadHeat(
        length=length,
        metal=metal("copper"),
        conductor_area=area,
        bare_diameter=bare,
        outside_diameter=bare + rng.uniform(1e-3, 5e-3),
        resistance=1.8e-8 * length / area,
        jacket_conductivity=0.25,
        emissivity=0.9,
    )
    return machine_network(
        primary=winding(1.0),
        secondary=winding(3e-4),
        core_mass=5.0 * size**3,
        core_surfaces=box_surfaces(0.12 * size, 0.1 * size, 0.05 * size, emissivity=0.9),
        winding_to_core=40.0,
        winding_to_winding=15.0,
        leads=[lead] if rng.random() < 0.8 else [],
        joints=[JointHeat(resistance=10 ** rng.uniform(-5, -2.5), mass=0.3, surfaces=(LUGS,))]
        if rng.random() < 0.8
        else [],
        facing_area=rng.uniform(0.0, 0.01) * size**2,
        ambient=rng.uniform(263.0, 313.0),
    )


def slowest(network: Network) -> float:
    """Return the slowest time constant of small departures from the room [s]."""
    conductance = network.laplacian + np.diag(network.cooling(network.at_ambient())[1])
    return float(1 / eigh(conductance, np.diag(network.capacity), eigvals_only=True)[0])


def currents(seed: int, scale: float = 1.0) -> Phase:
    rng = np.random.default_rng(1000 + seed)
    secondary = scale * 10 ** rng.uniform(1.5, 3.2)
    return Phase(duration=1.0, primary_current=secondary / 70, secondary_current=secondary, core_loss=15.0)


@pytest.mark.parametrize("seed", range(25))
def test_every_part_returns_to_the_room_within_hours(seed: int) -> None:
    """A network cools as its slowest mode or faster, cooling being steeper the hotter: e^-8 of 150 K are 0.05 K.

    Of that mode the hottest part may hold more than its share at first, which is what is left to 0.1 K.
    """
    network = random_machine(seed)
    tau = slowest(network)
    assert tau < 8 * HOUR
    end = march(network, [Phase(duration=8 * tau)], network.at_ambient() + 150.0).temperatures[-1]
    assert np.abs(end - network.ambient).max() < 0.1


@pytest.mark.parametrize("seed", range(25))
def test_no_heat_escaping_is_never_longer(seed: int) -> None:
    """The march keeps to 0.02 K a step: of rises of 40 K and more that is 1e-3 of the time at most."""
    network = random_machine(seed)
    for part in burst(network, currents(seed)).parts.values():
        for escaping, kept in ((part.working, part.adiabatic_working), (part.once, part.adiabatic_once)):
            assert escaping is None or kept <= escaping * (1 + 1e-3)


def test_a_part_that_others_heat_is_held_against_what_they_do() -> None:
    """A cable with a bad joint at its end reaches its limit before it would by itself; the bound knows of the joint."""
    lead = LeadHeat(
        length=0.3,
        metal=metal("copper"),
        conductor_area=70e-6,
        bare_diameter=0.011,
        outside_diameter=0.016,
        resistance=7.5e-5,
        jacket_conductivity=0.25,
        emissivity=0.9,
    )
    winding = WindingHeat(
        mass=2.0, metal=metal("copper"), resistance=1e-4, conductor_area=140e-6, surfaces=(), core_area=0.02
    )
    network = machine_network(
        primary=winding,
        secondary=winding,
        core_mass=5.0,
        core_surfaces=box_surfaces(0.1, 0.1, 0.05, emissivity=0.9),
        winding_to_core=40.0,
        winding_to_winding=15.0,
        leads=[lead],
        joints=[JointHeat(resistance=3e-3, mass=3.0, surfaces=(LUGS,))],
    )
    part = burst(network, Phase(duration=1.0, secondary_current=900.0)).parts["lead 1"]
    alone = Network(nodes=(network.nodes[network.index("lead 1")],), ambient=network.ambient)
    by_itself = burst(alone, Phase(duration=1.0, secondary_current=900.0)).parts["lead 1"].adiabatic_working
    assert part.working is not None
    assert part.working < by_itself
    assert part.adiabatic_working <= part.working


# Of the others one is refused and four are found, as these are; these take as long as all of them.
@pytest.mark.parametrize("seed", [0, 1, 4, 5, 7, *(pytest.param(s, marks=pytest.mark.slow) for s in (2, 3, 6))])
def test_a_steady_cycle_is_where_plain_repetition_arrives(seed: int) -> None:
    """Brute force, a cycle after the other for 12 of the slowest time constants; 0.1 K for its steps' errors.

    What is refused passes the end of the data there as well.
    """
    network = random_machine(seed)
    tau = slowest(network)
    phases = (currents(seed).lasting(0.1 * tau), Phase(duration=0.1 * tau))
    now, peak = network.at_ambient(), None
    passed = None
    try:
        for _ in range(60):
            run = march(network, phases, now)
            now, peak = run.temperatures[-1], run.temperatures.max(axis=0)
    except TooHot as error:
        passed = error
    try:
        found = steady_cycle(network, phases, count=False)
    except TooHot:
        assert passed is not None
        return
    assert passed is None
    assert peak is not None
    np.testing.assert_allclose(found.peak, peak, atol=0.1)


def test_currents_that_fall_settle_where_held_ones_run_away() -> None:
    """One lump on a source of constant voltage: P = V^2/(R0 (1 + a x)) settles at the root of a x^2 + x = P0/G.

    With 1500 W cold on 2 W/K that is 258 K. The same current held would grow with 1500 a = 5.9 W/K, faster than 2 W/K.
    """
    alpha, conductance, power = 0.00393, 2.0, 1500.0
    node = Node(
        name="secondary",
        capacity=400.0,
        carries=Carries.SECONDARY,
        resistance=1e-3,
        reference_temperature=293.15,
        temperature_coefficient=alpha,
        to_ambient=conductance,
        insulation=insulation("class H"),
    )
    network = Network(nodes=(node, Node(name="primary", capacity=1.0, to_ambient=1.0)), ambient=293.15)
    circuit = straight_circuit()

    def flow(hot: Circuit) -> Phase:
        factor = hot.secondary_resistance / circuit.secondary_resistance
        return Phase(duration=1.0, secondary_current=(power / 1e-3) ** 0.5 / factor)

    cold = flow(circuit)
    with pytest.raises(TooHot, match="secondary would settle above 627 degC"):
        steady_cycle(network, [cold, cold], count=False)
    found = hot_cycle(circuit, network, flow, lambda on: (on, on), now=293.15)
    rise = (-1 + (1 + 4 * alpha * power / conductance) ** 0.5) / (2 * alpha)
    assert found.cycle.peak[0] - 293.15 == pytest.approx(rise, rel=2e-4)


def test_allowed_duty_is_continuous_and_falls_with_the_period() -> None:
    """Periods 20 % apart. The share is one of the period alone, not of the duty asked about.

    One lump with linear cooling has share T d(share)/dT between -1 and 0, so 20 % of the period are at most 20 % of it.
    """
    machine = random_machine(3)
    circuit = straight_circuit()

    def flow(hot: Circuit) -> Phase:
        return phase_loaded(loaded(hot, 1e-3), 1.0)

    periods = 30 * 1.2 ** np.arange(8)
    off = Phase(duration=1.0, primary_current=0.5, core_loss=10.0)
    shares = np.array(
        [hot_duty(circuit, machine, Repeated(flow=flow, period=p, off=off), now=293.15).share for p in periods]
    )
    assert 0 < shares[-1] < shares[0] < 1
    steps = np.diff(np.log(shares))
    # 1e-3 of the share is what each is found to
    assert steps.max() <= 1e-3
    assert steps.min() >= -np.log(1.2) - 1e-3


def test_a_small_duty_is_found_as_finely_as_a_large_one() -> None:
    """A lump far above its current, linear: P/G (1 - exp(-x T/tau))/(1 - exp(-T/tau)) = limit, to 1e-3 of x."""
    node = Node(
        name="lump",
        capacity=400.0,
        carries=Carries.SECONDARY,
        resistance=2e-3,
        temperature_coefficient=0.0,
        to_ambient=0.8,
        insulation=insulation("class A"),
    )
    network = Network(nodes=(node,), ambient=298.15)
    limit, power, period, tau = insulation("class A").mean_limit - 298.15, 2e-3 * 4000.0**2, 60.0, 500.0
    share = -np.log(1 - limit * 0.8 / power * (1 - exp(-period / tau))) * tau / period
    assert share < 3e-3
    found = allowed_duty(network, Phase(duration=1.0, secondary_current=4000.0), period).share
    assert found == pytest.approx(share, rel=1.5e-3)


def test_a_duty_is_found_where_peaks_hardly_go_with_the_share() -> None:
    """Bursts in each of which a part settles: at the share told it keeps to its limit, at a tenth more not."""
    machine, on, off = random_machine(35), currents(35), Phase(duration=1.0, primary_current=0.3, core_loss=8.0)
    found = allowed_duty(machine, on, 3000.0, off=off)
    assert 0 < found.share < 1
    limits = machine.lumps.limits
    over = []
    for share in (found.share, 1.1 * found.share):
        phases = (on.lasting(3000.0 * share), off.lasting(3000.0 * (1 - share)))
        over.append(float((steady_cycle(machine, phases, count=False).peak - limits).max()))
    assert over[0] <= 0.01 < over[1]
