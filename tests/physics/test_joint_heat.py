"""A joint on its cable against the fin of the textbooks, and against the cable cut into two thousand pieces."""

from dataclasses import replace
from math import sqrt, tanh

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.heat.cable import JointHeat, LeadHeat, cable
from fem.heat.network import Network
from fem.heat.phases import Phase
from fem.heat.surface import Lie, Surface, heat_flow
from fem.materials.metals import metal
from tests.support.one import march, steady_state

Floats = NDArray[np.float64]

COPPER = metal("copper")
AMBIENT = 298.15
LUGS = Surface(area=0.012, length=0.05, lie=Lie.VERTICAL, emissivity=0.6)


def lead(area: float, length: float, *, resistance: float = 0.0) -> LeadHeat:
    bare = 1.05 * sqrt(area / 0.58)
    return LeadHeat(
        length=length,
        metal=COPPER,
        conductor_area=area,
        bare_diameter=bare,
        outside_diameter=1.4 * bare,
        resistance=resistance,
        jacket_conductivity=0.25,
        emissivity=0.9,
    )


def joint(cables: int, *, resistance: float = 4e-4, surfaces: tuple[Surface, ...] = ()) -> JointHeat:
    return JointHeat(resistance=resistance, mass=0.15 * cables, surfaces=surfaces, cables=cables)


def alone(wire: LeadHeat, *joints: JointHeat) -> Network:
    """Return leads and joints without a machine."""
    found = cable([wire], joints, 1.0)
    return Network(nodes=found.nodes, links=found.links, ambient=AMBIENT)


def straight(network: Network, film: float) -> Network:
    """Return the same with every surface losing so much per area and kelvin, joints nothing."""
    nodes = [
        replace(n, surfaces=(), to_ambient=0.0 if n.name == "joints" else film * float(n.surfaces[0].area))
        for n in network.nodes
    ]
    return replace(network, nodes=tuple(nodes))


@pytest.mark.parametrize("area", [16e-6, 70e-6, 150e-6])
@pytest.mark.parametrize("film", [4.0, 12.0])
@pytest.mark.parametrize(("length", "cables"), [(1.2, 2), (3.0, 2), (20.0, 2), (20.0, 1)])
def test_settled_joint_is_that_on_a_fin(area: float, film: float, length: float, cables: int) -> None:
    """Rise P/(sqrt(h p k S) tanh(m l)) for each cable, no heat at its far end: any textbook on heat transfer."""
    wire, current = lead(area, length), 300.0
    found = straight(alone(wire, joint(cables)), film)
    rise = steady_state(found, Phase(duration=1.0, secondary_current=current))[found.index("joints")] - AMBIENT
    girth, way = np.pi * wire.outside_diameter, COPPER.thermal_conductivity * area
    leads_away = cables * sqrt(film * girth * way) * tanh(sqrt(film * girth / way) * length / 2)
    assert rise == pytest.approx(current**2 * 4e-4 / leads_away, rel=0.05)


@pytest.mark.parametrize("film", [4.0, 12.0])
def test_a_cable_with_heat_of_its_own_adds_its_rise(film: float) -> None:
    """Where the cable warms evenly by P'/(h p) the joint's own rise lies on top: the equation is linear."""
    wire, current = lead(70e-6, 20.0, resistance=5e-3), 300.0
    found = straight(alone(wire, joint(2)), film)
    rise = steady_state(replaced(found), Phase(duration=1.0, secondary_current=current)) - AMBIENT
    girth, way = np.pi * wire.outside_diameter, COPPER.thermal_conductivity * 70e-6
    far = current**2 * 5e-3 / 20.0 / (film * girth)
    expected = far + current**2 * 4e-4 / (2 * sqrt(film * girth * way))
    assert rise[found.index("joints")] == pytest.approx(expected, rel=0.05)
    assert rise[found.index("lead 1")] == pytest.approx(far, rel=0.01)


def replaced(network: Network) -> Network:
    """Return the same with resistances that do not change with temperature."""
    return replace(network, nodes=tuple(replace(n, temperature_coefficient=0.0) for n in network.nodes))


@pytest.mark.parametrize(
    ("area", "length", "current", "resistance"),
    [(70e-6, 1.2, 600.0, 4e-4), (70e-6, 1.2, 2000.0, 6e-5), (35e-6, 4.0, 500.0, 2e-4), (120e-6, 0.3, 1500.0, 1e-4)],
)
def test_heating_and_cooling_follow_a_finely_cut_cable(
    area: float, length: float, current: float, resistance: float
) -> None:
    """Jacket, convection, radiation and warm copper as they are; 2000 pieces by scipy, in a burst and after it.

    The march keeps to 0.02 K a step; 5 % of the highest rise are asked for.
    """
    ohms = 1.7241e-8 * length / area
    wire, lugs = lead(area, length, resistance=ohms), joint(2, resistance=resistance, surfaces=(LUGS,))
    network = alone(wire, lugs)
    on, off = Phase(duration=30.0, secondary_current=current), Phase(duration=600.0)
    run = march(network, [on, off])
    times, fine = _finely(wire, lugs, current, 30.0, 630.0)
    coarse = np.interp(times, run.times, run.of("joints"))
    assert fine.max() - AMBIENT > 15
    assert np.abs(coarse - fine).max() < 0.05 * (fine.max() - AMBIENT)


def _finely(wire: LeadHeat, lugs: JointHeat, current: float, on: float, end: float) -> tuple[Floats, Floats]:
    """Return times and the joint's temperatures with the cable in 2000 like pieces."""
    pieces = 2000
    step = wire.length / 2 / pieces
    skin = next(n for n in alone(wire).nodes).surfaces[0]
    rises = np.linspace(-5.0, 700.0, 1411)
    given_off = heat_flow(replace(skin, area=np.pi * wire.outside_diameter), AMBIENT + rises, AMBIENT)
    lug_gives = heat_flow(lugs.surfaces[0], AMBIENT + rises, AMBIENT)
    way = COPPER.thermal_conductivity * wire.conductor_area
    capacity = COPPER.density * COPPER.specific_heat * wire.conductor_area
    lug_capacity = lugs.mass * COPPER.specific_heat

    def change(_: float, t: Floats, squared: float) -> Floats:
        body, lug = t[:-1], t[-1]
        heat = squared * wire.resistance / wire.length * (1 + COPPER.temperature_coefficient * (body - 293.15))
        flow = np.concatenate(([0.0], way * (body[1:] - body[:-1]) / step, [way * (lug - body[-1]) / (step / 2)]))
        rate = (heat - np.interp(body - AMBIENT, rises, given_off) + np.diff(flow) / step) / capacity
        own = squared * lugs.resistance - np.interp(lug - AMBIENT, rises, lug_gives) - 2 * flow[-1]
        return np.append(rate, own / lug_capacity)

    t, found = np.full(pieces + 1, AMBIENT), []
    seen = []
    for begin, stop in ((0.0, on), (on, end)):
        marks = np.linspace(begin, stop, 61)
        run = solve_ivp(
            change,
            (begin, stop),
            t,
            "LSODA",
            marks,
            rtol=1e-6,
            atol=1e-4,
            lband=1,
            uband=1,
            args=(current**2 if begin < on else 0.0,),
        )
        t = run.y[:, -1]
        seen.append(marks)
        found.append(run.y[-1])
    return np.concatenate(seen), np.concatenate(found)


def test_the_machine_without_joints_has_one_lump_a_section() -> None:
    assert [n.name for n in alone(lead(70e-6, 1.2)).nodes] == ["lead 1"]


def test_pieces_are_the_cable() -> None:
    """Cut or not, capacity, resistance and surface of the leads stay."""
    wire = lead(70e-6, 1.2, resistance=3e-4)
    whole = alone(wire).nodes[0]
    pieces = [n for n in alone(wire, joint(1), replace(joint(2), name="at winding", at_winding=True)).nodes if n.part]
    assert len(pieces) > 5
    assert sum(n.capacity for n in pieces) == pytest.approx(whole.capacity)
    assert sum(n.resistance for n in pieces) == pytest.approx(whole.resistance)
    assert sum(float(n.surfaces[0].area) for n in pieces) == pytest.approx(float(whole.surfaces[0].area))
    assert {n.part for n in pieces} == {"lead 1"}
