"""Round conductors in each other's grooves: whatever is said to go in has its place there."""

from itertools import combinations
from math import hypot, sqrt

import numpy as np
import pytest

from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import ac_slice
from geometries.assembly.conductors import conductor_layout
from geometries.cores.shell import ShellCore
from geometries.windings.arrangement import Arrangement, Windings, place
from geometries.windings.conductors import Conductor
from geometries.windings.fit import fit
from geometries.windings.lays import MOST_PLACED, lay
from geometries.windings.nested import nest
from geometries.windings.turns import Winding

CORE = ShellCore(lamination="EI 120", stack_depth=0.05, joint="welded", steel="M530-50A")


def windings(secondary: Winding) -> Windings:
    return Windings(
        arrangement=Arrangement.SIDE_BY_SIDE,
        spacing="2 mm",
        leg_clearance="0.5 mm",
        yoke_clearance="1 mm",
        primary=Winding(turns=70, conductor=Conductor(round="1 mm")),
        secondary=secondary,
    )


@pytest.mark.parametrize(
    ("count", "height", "build"),
    [
        (1, 1.0, 1.0),
        (2, 1.0, 2.0),
        # One in the groove between two, and 3, 2, 3 in a hexagonal lattice.
        (3, 2.0, 1 + sqrt(3) / 2),
        (8, 3.0, 1 + sqrt(3)),
        (7, 1 + sqrt(3), 3.0),
        # Two and three circles in a square, the densest there are: R. L. Graham and B. D. Lubachevsky, "Repeated
        # patterns of dense packings of equal disks in a square", Electron. J. Combin. 3 (1996) R16 (from memory);
        # five lie like the five on a die.
        (2, 1 + 1 / sqrt(2), 1 + 1 / sqrt(2)),
        (5, 1 + sqrt(2), 1 + sqrt(2)),
    ],
)
def test_known_packings_of_unit_circles(count: int, height: float, build: float) -> None:
    assert nest(count, 1.0, height).build == pytest.approx(build, abs=1e-12)


def test_nests_lie_apart_inside_and_within_what_can_be() -> None:
    """No more unit circles go into a rectangle than 2/sqrt(3) A + P/2 + 1 of the centres' rectangle.

    N. Oler, "An inequality in the geometry of numbers", Acta Math. 105 (1961) 19 (from memory): P is its perimeter.
    """
    random = np.random.default_rng(7)
    for _ in range(400):
        count, height = int(random.integers(1, MOST_PLACED + 1)), float(random.uniform(1, 12))
        found = nest(count, 1.0, height)
        a, b = height - 1, found.build - 1
        assert count <= 2 / sqrt(3) * a * b + (a + b) + 1 + 1e-6
        for build in (found.build, 1.2 * found.build):
            sites = found.spread(build)
            assert len(sites) == count
            assert all(hypot(x - u, y - v) > 1 - 1e-9 for (x, y), (u, v) in combinations(sites, 2))
            assert all(0.5 - 1e-9 < x < build - 0.5 + 1e-9 and 0.5 - 1e-9 < y < height - 0.5 + 1e-9 for x, y in sites)


def test_what_fits_can_be_placed_wire_by_wire() -> None:
    random = np.random.default_rng(11)
    accepted = nested = 0
    for _ in range(400):
        diameter = float(random.uniform(1e-3, 6e-3))
        # Around what the wires just need, so that both answers occur.
        count, build = int(random.integers(1, 40)), float(random.uniform(6e-3, 18e-3))
        height = float(np.clip(random.uniform(0.7, 1.3) * count * 1.1 * diameter**2 / build, diameter, 0.03))
        secondary = Winding(
            turns=count, conductor=Conductor(round=diameter, insulated=1.03 * diameter), height=height, build=build
        )
        both = windings(secondary)
        blocks = place(CORE, both)
        if any(fault.key == "windings.secondary" for fault in fit(CORE, both, blocks).faults):
            continue
        placed = conductor_layout(CORE, secondary, blocks[-1])
        accepted += 1
        nested += lay(secondary, build).layers * 1.03 * diameter > build + 1e-9
        left, block = CORE.leg_width / 2 + blocks[-1].leg_clearance, blocks[-1]
        for c in placed:
            assert left < c.x - c.width / 2
            assert c.x + c.width / 2 < left + block.build
            assert block.bottom < c.y - c.height / 2
            assert c.y + c.height / 2 < block.top
            assert c.width > 0.98 * diameter
        # The polygon that a disc is meshed as sticks out by 0.6 %.
        assert all(hypot(c.x - d.x, c.y - d.y) > 1.006 * c.width for c, d in combinations(placed, 2))
    assert accepted > 50
    assert nested > 20


def test_eddy_loss_of_nested_wires_goes_on_where_that_of_wires_in_cells_ends() -> None:
    """Twelve wires lie in cells, 3 by 4; the thirteenth goes in where they nest.

    In the even field between two windings a thin wire's eddy loss goes as the square of the ampere-turns passed, so the
    excess over direct current as the square of the turns; the layers' granularity takes 1/(5 m^2) off it, 1 % with
    m = 4 layers (P. L. Dowell, Proc. IEE 113 (1966) 1387), and nested wires make up more and shorter layers.
    """
    excess, leakage = [], []
    for count in (12, 13):
        secondary = Winding(turns=count, conductor=Conductor(round="4 mm"), height="16 mm", build="18.5 mm")
        both = windings(secondary)
        blocks = place(CORE, both)
        assert not [fault for fault in fit(CORE, both, blocks).faults if fault.key == "windings.secondary"]
        found = ac_slice(AcState(CORE, (both.primary, secondary), blocks, frequency=50.0, temperature=293.15))
        excess.append((found.resistance_ratios["secondary"] - 1) / count**2)
        leakage.append(found.permeance_per_m)
    assert excess[1] == pytest.approx(excess[0], rel=0.03)
    assert leakage[1] == pytest.approx(leakage[0], rel=0.01)


def test_a_few_wires_that_only_fit_by_area_are_refused() -> None:
    """Twelve wires of 5.17 mm take 278 mm2 at the plane's densest; 16 mm by 19 mm, 304 mm2, have room for ten."""
    wires = Winding(turns=3, wires_in_hand=4, conductor=Conductor(round="5 mm"), height="16 mm", build="19 mm")
    both = windings(wires)
    (fault,) = [f for f in fit(CORE, both, place(CORE, both)).faults if f.key == "windings.secondary"]
    assert fault.message == (
        "3 turns, 4 in hand, of 5.17 mm wire need a build of 20.7 mm in a height of 16.0 mm, build is 19.0 mm: "
        "1.7 mm too little"
    )
    ten = wires.model_copy(update={"turns": 5, "wires_in_hand": 2})
    both = windings(ten)
    assert not [f for f in fit(CORE, both, place(CORE, both)).faults if f.key == "windings.secondary"]


def test_a_build_alone_is_held_against_the_window_that_is_filled() -> None:
    """Concentric windings fill the window's height: 500 turns do not go into a build of 2 mm there."""
    both = windings(Winding(turns=4, conductor=Conductor(round="3 mm"))).model_copy(
        update={
            "arrangement": Arrangement.CONCENTRIC,
            "primary": Winding(turns=500, conductor=Conductor(round="1 mm"), build="2 mm"),
        }
    )
    (fault,) = fit(CORE, both, place(CORE, both)).faults
    assert fault.key == "windings.primary"
    assert "need a build of at least" in fault.message
