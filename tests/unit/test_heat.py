"""What the heat network, its limits and the joints accept, and the plain relations between their parts."""

from dataclasses import replace
from fractions import Fraction
from math import factorial, inf, nan
from pathlib import Path

import numpy as np
import pytest

from fem.circuit.leads.joints import JointBand, joints_resistance
from fem.heat.adiabatic import adiabatic_current, adiabatic_time
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.convection import free_film
from fem.heat.duty import equivalent_current
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.network import Link, Network, Node, current_densities
from fem.heat.phases import Carries, Phase, pulses, rms_current
from fem.heat.surface import Lie, Surface, heat_flow, heat_flux, jacket_coat
from fem.heat.tangent import phi
from fem.materials.insulation import insulation, insulations
from fem.materials.metals import metal
from geometries.described.tables import table_rows
from tests.support.one import allowed_duty, burst, cool_down_time, march, steady_state

ROOT = Path(__file__).parents[2]

COPPER = metal("copper")
LEAD = LeadHeat(
    length=0.8,
    metal=COPPER,
    conductor_area=50e-6,
    bare_diameter=9e-3,
    outside_diameter=13e-3,
    resistance=3e-4,
    jacket_conductivity=0.25,
    emissivity=0.9,
)
ENDS = Surface(area=0.02, length=0.03, lie=Lie.VERTICAL, emissivity=0.9)


def winding(area: float) -> WindingHeat:
    return WindingHeat(mass=1.0, metal=COPPER, resistance=0.1, conductor_area=area, core_area=0.02, surfaces=(ENDS,))


def machine(**changes: object) -> Network:
    parts: dict[str, object] = {
        "primary": winding(2e-6),
        "secondary": winding(50e-6),
        "core_mass": 5.0,
        "core_surfaces": box_surfaces(0.1, 0.1, 0.05, emissivity=0.9),
        "winding_to_core": 40.0,
        "winding_to_winding": 15.0,
        "leads": [LEAD, LEAD],
        "joints": [JointHeat(resistance=1e-4, mass=0.2, surfaces=(ENDS,))],
    }
    return machine_network(**(parts | changes))


def test_machine_has_the_parts_it_was_given() -> None:
    network = machine()
    assert tuple(dict.fromkeys(network.parts)) == ("primary", "secondary", "core", "lead 1", "lead 2", "joints")
    assert network.nodes[0].capacity == COPPER.specific_heat
    # Two sections meet middle to middle: quarter of 0.8 m twice, go and return side by side.
    plain = machine(joints=[])
    between = next(x for x in plain.links if (x.first, x.second) == ("lead 1", "lead 2"))
    assert between.conductance == pytest.approx(2 * COPPER.thermal_conductivity * 50e-6 / 0.4)
    assert machine(leads=[], joints=[]).names == ("primary", "secondary", "core")


def test_resistance_follows_its_metal_whatever_the_reference() -> None:
    # One copper winding, its resistance given at 20 degC and at 75 degC on IEC 60028's line: the same losses.
    warm = replace(winding(2e-6), resistance=0.1 * (1 + 0.00393 * 55), reference_temperature=348.15)
    one, other = machine(), machine(primary=warm)
    phase = Phase(duration=1.0, primary_current=10.0)
    t = np.linspace(300.0, 400.0, len(one.nodes))
    np.testing.assert_allclose(one.losses(phase, t)[0], other.losses(phase, t)[0], rtol=1e-12)


def test_losses_and_cooling_state_their_own_slopes() -> None:
    network = machine(primary=replace(winding(2e-6), ac_factor=1.5))
    phase = Phase(duration=1.0, primary_current=10.0, secondary_current=500.0, core_loss=20.0)
    t, step = np.linspace(299.3, 420.7, len(network.nodes)), 1e-4
    for law in (lambda x: network.losses(phase, x), network.cooling):
        central = (law(t + step)[0] - law(t - step)[0]) / (2 * step)
        np.testing.assert_allclose(law(t)[1], central, rtol=1e-6, atol=1e-7)


def test_cooling_is_that_of_the_surfaces() -> None:
    # The table's cubic between points 2 K apart. It cannot follow the infinite bend of (T - Ta)^1.25 at 0, but what it
    # misses there must be worth less than a tenth of the 0.5 K that temperatures are good for.
    network = machine()
    for rise in (-31.0, 1.0, 7.3, 120.5, 500.9):
        t = np.full(len(network.nodes), network.ambient + rise)
        expected = sum(float(heat_flow(s, t[0], network.ambient)) for s in network.nodes[2].surfaces)
        heat, slope = network.cooling(t)
        assert heat[2] == pytest.approx(expected, abs=0.05 * slope[2])


def test_current_density_is_current_over_area() -> None:
    density = current_densities(machine(), Phase(duration=1.0, primary_current=10.0, secondary_current=500.0))
    assert density == pytest.approx({"primary": 5e6, "secondary": 1e7, "lead 1": 1e7, "lead 2": 1e7})


def test_coat_carries_what_its_surface_gives_off() -> None:
    bare = Surface(area=0.03, length=0.013, lie=Lie.HORIZONTAL_CYLINDER, emissivity=0.9)
    coated = replace(bare, coat=jacket_coat(9e-3, 13e-3, 0.25))
    heat = float(heat_flow(coated, 350.0, 298.15))
    outside = 350.0 - heat / bare.area * coated.coat
    assert float(heat_flux(coated, outside, 298.15)) * bare.area == pytest.approx(heat, rel=1e-9)
    assert heat < float(heat_flow(bare, 350.0, 298.15))


def test_pulses_take_turns() -> None:
    on, off = Phase(duration=1.0, secondary_current=1.0), Phase(duration=1.0)
    train = pulses(on, off, cycles_on=3, cycles_off=2, count=3, frequency=60.0)
    assert [p.duration for p in train] == pytest.approx([0.05, 1 / 30, 0.05, 1 / 30, 0.05])
    assert [p.secondary_current for p in train] == [1.0, 0.0, 1.0, 0.0, 1.0]
    assert rms_current(train, Carries.SECONDARY) == pytest.approx((0.15 / (0.15 + 1 / 15)) ** 0.5)


HEADED = {"iec60228.csv", "ei_laminations.csv", "sobol.csv", "questions.csv", "measurements.csv"}
"""Tables whose source stands once, in the comment at their head."""


@pytest.mark.parametrize(
    "table", sorted(p for top in ("fem", "geometries") for p in (ROOT / top).rglob("*.csv")), ids=str
)
def test_every_table_row_names_its_source(table: Path) -> None:
    rows = table_rows(".".join(table.relative_to(ROOT).parent.parts), table.name)
    columns = [name for name in rows[0] if name.endswith("source")]
    assert bool(columns) == (table.name not in HEADED)
    for row in rows:
        # an assumed figure may have none, and says so
        assert all(len(row[c]) > 5 for c in columns) or row.get("status") in ("common practice", "memory")


def test_limits_are_in_order() -> None:
    for kind in insulations().values():
        assert kind.mean_limit <= kind.working_temperature < kind.once_temperature
    assert insulation().name == "class A"


def test_a_block_of_designs_is_its_members() -> None:
    rng = np.random.default_rng(1)
    n, ends = 6, np.array([[330.0], [420.0]])
    density, area, bare = 1e6 * rng.uniform(1, 90, n), 1e-6 * rng.uniform(1, 90, n), 1e-3 * rng.uniform(0.3, 9, n)
    over, coat = bare * rng.uniform(1, 2, n), np.array([0.0, 0.01] * 3)
    share, emissivity, air = rng.uniform(0, 1, n), rng.uniform(0, 1, n), rng.uniform(270, 310, n)
    surfaces = [Surface(area=area, length=over, lie=lie, emissivity=emissivity, coat=coat) for lie in Lie]
    blocks = [
        adiabatic_time(COPPER, density, 300.0, ends),
        adiabatic_current(COPPER, area, 300.0, ends, 2.0),
        equivalent_current(density, share, area),
        jacket_coat(bare, over, 0.25),
        free_film(ends, air, bare),
        *(heat_flow(surface, ends, air) for surface in surfaces),
        *(heat_flux(surface, ends, air) for surface in surfaces),
    ]

    def member(i: int, end: float) -> list[float]:
        alone = [replace(s, area=area[i], length=over[i], emissivity=emissivity[i], coat=coat[i]) for s in surfaces]
        return [
            adiabatic_time(COPPER, density[i], 300.0, end),
            adiabatic_current(COPPER, area[i], 300.0, end, 2.0),
            equivalent_current(density[i], share[i], area[i]),
            jacket_coat(bare[i], over[i], 0.25),
            free_film(end, air[i], bare[i]),
            *(heat_flow(surface, end, air[i]) for surface in alone),
            *(heat_flux(surface, end, air[i]) for surface in alone),
        ]

    for j, i in np.ndindex(2, n):
        whole = [float(np.broadcast_to(block, (2, n))[j, i]) for block in blocks]
        # a power of a whole array is rounded otherwise than one alone: some units in the last place
        np.testing.assert_allclose(whole, [float(one) for one in member(i, float(ends[j, 0]))], rtol=1e-14)


def test_losses_and_cooling_of_many_states_at_once() -> None:
    network = machine()
    phase = Phase(duration=1.0, primary_current=10.0, secondary_current=500.0, core_loss=20.0)
    many = np.random.default_rng(2).uniform(200.0, 1100.0, (3, 4, len(network.nodes)))
    for law in (lambda t: network.losses(phase, t), network.cooling):
        for whole, part in zip(law(many), (0, 1), strict=True):
            np.testing.assert_array_equal(whole, [[law(t)[part] for t in row] for row in many])


def test_joints_add_up() -> None:
    bolted, clamped = JointBand(low=5e-6, typical=10e-6, high=30e-6), JointBand(low=2e-5, typical=6e-5, high=2e-4)
    found = joints_resistance([(bolted, 2), (clamped, 1)])
    assert found.low == pytest.approx(2 * bolted.low + clamped.low)
    assert found.typical == pytest.approx(2 * bolted.typical + clamped.typical)
    assert found.high == pytest.approx(2 * bolted.high + clamped.high)
    assert joints_resistance([]) == JointBand(low=0.0, typical=0.0, high=0.0)


NODE = Node(name="a", capacity=1.0, to_ambient=1.0)
ONE = Network(nodes=(NODE,))


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: replace(NODE, capacity=0.0), "capacity must be above 0, got 0.0"),
        (lambda: replace(NODE, ac_factor=0.9), "ac_factor must be at least 1, got 0.9"),
        (lambda: replace(NODE, resistance=nan), "resistance .* got nan"),
        (lambda: replace(NODE, conductor_area=-1.0), "conductor_area .* got -1.0"),
        (lambda: Link(first="a", second="b", conductance=0.0), "got 0.0"),
        (lambda: Phase(duration=0.0), "duration must be above 0, got 0.0"),
        (lambda: Phase(duration=1.0, core_loss=-2.0), "core_loss .* got -2.0"),
        (lambda: Network(nodes=()), "got none"),
        (lambda: Network(nodes=(NODE, NODE)), "got a, a"),
        (lambda: Network(nodes=(NODE,), ambient=25.0), "got 25.0"),
        (lambda: Network(nodes=(NODE,), links=(Link(first="a", second="c", conductance=1.0),)), "names 'c'"),
        (lambda: Surface(area=-1.0, length=1.0, lie=Lie.VERTICAL, emissivity=0.9), "area .* got -1.0"),
        (lambda: Surface(area=1.0, length=1.0, lie=Lie.VERTICAL, emissivity=1.2), "got 1.2"),
        (lambda: jacket_coat(2e-3, 1e-3, 0.25), "0.002"),
        (lambda: march(ONE, [Phase(duration=inf)]), "got inf"),
        (lambda: march(ONE, [Phase(duration=1.0)], [300.0, 300.0]), r"\(1, 2\)"),
        (lambda: march(ONE, [Phase(duration=1.0)], tolerance=0.0), "got 0.0"),
        (lambda: steady_state(Network(nodes=(replace(NODE, to_ambient=0.0),)), Phase(duration=1.0)), "no surface"),
        (lambda: burst(ONE, Phase(duration=1.0)), "none of a"),
        (lambda: allowed_duty(ONE, Phase(duration=1.0), 60.0), "none of a"),
        (lambda: allowed_duty(ONE, Phase(duration=1.0), -60.0), "got -60.0"),
        (lambda: cool_down_time(ONE, [350.0], 290.0), "290.0 K must lie above"),
        (
            lambda: pulses(
                Phase(duration=1.0), Phase(duration=1.0), cycles_on=0, cycles_off=1, count=1, frequency=50.0
            ),
            "0",
        ),
        (lambda: equivalent_current(1.0, 1.5), "got 1.5"),
        (lambda: insulation("class Z"), "class Z"),
        (lambda: adiabatic_time(metal("copper"), 1e7, 400.0, 300.0), "400 K to 300 K"),
        (lambda: adiabatic_time(metal("copper"), -1.0, 300.0, 400.0), "got -1.0"),
        (lambda: JointBand(low=2.0, typical=1.0, high=3.0), "2.0, 1.0, 3.0"),
        (lambda: joints_resistance([(JointBand(low=0.0, typical=1.0, high=2.0), -1)]), "got -1"),
    ],
)
def test_numbers_out_of_range_are_refused(wrong: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        wrong()


def test_exponential_functions_are_their_series() -> None:
    # phi_k(z) = sum of z^j / (j + k)!, in exact fractions: 120 terms leave nothing out at these sizes.
    z = np.array([-40.0, -3.0, -1.0, -0.999, -0.3, -1e-9, 0.0, 1e-3, 0.7, 1.0, 2.0])
    for k, found in enumerate(phi(z), start=1):
        terms = [[Fraction(x) ** j / factorial(j + k) for j in range(200)] for x in z]
        # Below some 1 of size, where the definition takes over, it loses up to three digits of 16 to cancellation.
        np.testing.assert_allclose(found, [float(sum(row)) for row in terms], rtol=1e-13)
