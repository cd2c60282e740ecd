"""A.c. resistance of windings: the formula for thin conductors against the slice, sharing, refusals, bands."""

from dataclasses import replace
from functools import cache
from math import pi

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.leakage.planar import mean_squares
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import ac_slice
from fem.characteristics.resistance.windings import AcResistance, Route, ac_resistance
from fem.field.static.model import build_model, solve_model
from fem.field.static.quantities import both
from fem.materials.metals import metal
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import Arrangement, Windings, place
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding
from tests.support.harmonic import losses_per_m
from tests.support.needed import needed

CORE = ShellCore(lamination="EI 120", stack_depth=0.05, joint="welded", steel="M530-50A")
ROOM = 293.15


@cache
def built(secondary: Winding, arrangement: Arrangement) -> tuple[Windings, tuple[Block, Block], Leakage]:
    windings = Windings(
        arrangement=arrangement,
        spacing="2 mm",
        leg_clearance="1.5 mm",
        yoke_clearance="1 mm",
        primary=Winding(turns=200, conductor=Conductor(round="1 mm")),
        secondary=secondary,
    )
    blocks = place(CORE, windings)
    model = build_model(mesh_section(section_of(CORE, blocks, joint_regions=False).half()), linear_iron())
    field = solve_model(model, {"primary": 1.0, "secondary": -1.0})
    window = CORE.stack_depth * (both(field, "primary")[1] - both(field, "secondary")[1])
    # The end turns are not at stake here: as if they had the window's leakage per metre.
    whole = window * blocks[1].mean_turn(CORE.leg_width, CORE.stack_depth) / (2 * CORE.stack_depth)
    return (
        windings,
        blocks,
        Leakage(
            permeance=whole,
            window_permeance=window,
            end_turn_permeance=whole - window,
            recipe_permeance=whole,
            primary_end_permeance=0.0,
            mean_squares={name: mean_squares(field, name) for name in ("primary", "secondary")},
            forces=(),
            ampere_turns=None,
            flux_per_turn=None,
            discretisation_error=0.0,
            end_region_unknowns=0,
        ),
    )


def found(
    secondary: Winding,
    *,
    arrangement: Arrangement = Arrangement.SIDE_BY_SIDE,
    frequency: float = 50.0,
    with_slice: bool = False,
    transposed: bool = False,
) -> AcResistance:
    windings, blocks, leak = built(secondary, arrangement)
    pair = (windings.primary, windings.secondary)
    state = AcState(CORE, pair, blocks, frequency=frequency, temperature=ROOM, transposed=transposed)
    return ac_resistance(state, leak, with_slice=with_slice)


@pytest.mark.parametrize(
    ("secondary", "arrangement"),
    [
        (Winding(turns=12, conductor=Conductor(round="4.5 mm")), Arrangement.SIDE_BY_SIDE),
        (Winding(turns=4, conductor=Conductor(round="9 mm")), Arrangement.SIDE_BY_SIDE),
        (Winding(turns=12, conductor=Conductor(strip="8 mm x 2 mm")), Arrangement.SIDE_BY_SIDE),
        (Winding(turns=2, conductor=Conductor(strip="9 mm x 4 mm")), Arrangement.SIDE_BY_SIDE),
        (Winding(turns=4, conductor=Conductor(round="9 mm")), Arrangement.CONCENTRIC),
    ],
)
def test_formula_for_thin_conductors_agrees_with_the_slice(secondary: Winding, arrangement: Arrangement) -> None:
    """Two models that share no step but the geometry: each must lie in the formula's own band of the other."""
    quick = found(secondary, arrangement=arrangement)
    full = found(secondary, arrangement=arrangement, with_slice=True)
    assert quick.secondary.route is Route.STATIC_FIELD
    assert full.secondary.route is Route.SLICE
    for a, b in ((quick.primary, full.primary), (quick.secondary, full.secondary)):
        assert 1 < a.resistance_ratio < 1.4
        assert abs(a.resistance_ratio - b.resistance_ratio) < a.band
    # What eddy currents take from the leakage in conductors thinner than a skin depth.
    assert 0.995 < full.permeance_ratio < 1


def test_excess_of_thin_conductors_goes_with_the_square_of_the_frequency() -> None:
    secondary = Winding(turns=20, conductor=Conductor(round="3 mm"))
    low, high = found(secondary, frequency=25.0), found(secondary, frequency=50.0)
    # A third of a skin depth across: the next term is of the order of (radius/depth)^4 = 7e-4.
    assert (high.secondary.resistance_ratio - 1) / (low.secondary.resistance_ratio - 1) == pytest.approx(4, rel=1e-3)


def test_cable_of_fine_strands_is_nearly_direct_current() -> None:
    secondary = Winding(turns=3, conductor=Conductor(cable="35 mm2"))
    ratio = found(secondary).secondary.resistance_ratio
    # Common practice, no source: strand eddy loss at 50 Hz is negligible.
    assert 1 < ratio < 1.002


def test_thick_conductors_are_sent_to_the_slice() -> None:
    result = found(Winding(turns=4, conductor=Conductor(strip="15 mm x 4 mm")))
    assert result.secondary.route is Route.SLICE
    assert result.slice is not None
    assert result.secondary.resistance_ratio > 1.2
    # The loss map adds up to the loss of both windings: R_ac = ratio x R_dc, the primary's wires apart.
    field, share = result.slice.field, 2 * 4 / (1 / 1.7241379e-8 * 60e-6) / 4**2
    losses = losses_per_m(field)
    secondary = sum(loss for name, loss in losses.items() if name.startswith("secondary"))
    assert secondary / share == pytest.approx(result.slice.resistance_ratios["secondary"], rel=1e-9)


def test_wires_in_hand_share_unless_transposed() -> None:
    """Wires one above the other in the leakage field, which runs between them: the outer ones take more."""
    secondary = Winding(turns=1, conductor=Conductor(strip="5 mm x 4 mm"), wires_in_hand=4, height="25 mm")
    joined, even = found(secondary), found(secondary, transposed=True, with_slice=True)
    assert joined.slice is not None
    assert even.slice is not None
    shares = joined.slice.shares["secondary"]
    assert len(shares) == 4
    assert sum(shares) == pytest.approx(1, rel=1e-9)
    assert abs(shares[0]) > abs(shares[1])  # the first wire is the one next to the primary
    assert even.slice.shares["secondary"] == (1.0,)
    assert joined.secondary.resistance_ratio > even.secondary.resistance_ratio > 1


def test_cables_in_hand_share_too() -> None:
    secondary = Winding(turns=3, conductor=Conductor(cable="16 mm2"), wires_in_hand=2)
    result = found(secondary)
    assert result.secondary.route is Route.SLICE
    assert result.slice is not None
    assert sum(result.slice.shares["secondary"]) == pytest.approx(1, rel=1e-9)


def test_unequal_outer_legs_take_the_whole_section() -> None:
    """Left and right conductors in series: nearly the half section's numbers when the legs differ by a hair."""
    secondary = Winding(turns=4, conductor=Conductor(strip="8 mm x 2 mm"))
    windings, blocks, _ = built(secondary, Arrangement.SIDE_BY_SIDE)
    given = {k: getattr(CORE, k) for k in ("leg_width", "yoke_height", "window_width", "window_height", "stack_depth")}
    left, right = CORE.outer_leg_width
    uneven = ShellCore(**given, outer_leg_width=(left, right + 1e-5), joint="welded", steel="M530-50A")
    pair = (windings.primary, windings.secondary)
    half, whole = (ac_slice(AcState(core, pair, blocks, frequency=50.0, temperature=ROOM)) for core in (CORE, uneven))
    assert half.mesh.section.halved
    assert not whole.mesh.section.halved
    # Iron 4000 times as permeable as air: a hundredth of a millimetre of it, and another mesh.
    assert whole.permeance_per_m == pytest.approx(half.permeance_per_m, rel=1e-3)
    assert whole.resistance_ratios["secondary"] == pytest.approx(half.resistance_ratios["secondary"], rel=1e-3)


def test_slice_permeance_with_even_currents_is_the_static_one() -> None:
    """Single conductors against the smeared block: strips that fill their cells but for 0.15 mm of enamel.

    Enamel takes 0.15/4.15 of the height and 0.15/20.15 of the width; what moves is the conductors' own part of the
    permeance, so the two agree to a few per cent of a part.
    """
    secondary = Winding(turns=4, conductor=Conductor(strip="20 mm x 4 mm"))
    windings, blocks, leak = built(secondary, Arrangement.SIDE_BY_SIDE)
    slice_ = ac_slice(AcState(CORE, (windings.primary, windings.secondary), blocks, frequency=50.0, temperature=ROOM))
    assert slice_.even_permeance_per_m * CORE.stack_depth == pytest.approx(leak.window_permeance, rel=0.02)
    assert slice_.permeance_per_m < slice_.even_permeance_per_m


def test_conductors_that_do_not_go_in_are_refused() -> None:
    windings, blocks, _ = built(Winding(turns=4, conductor=Conductor(round="9 mm")), Arrangement.SIDE_BY_SIDE)
    small = (blocks[0], replace(blocks[1], height=20e-3, places=()))
    with pytest.raises(ValueError, match="4 conductors of 9 mm across do not go into a build"):
        ac_slice(AcState(CORE, (windings.primary, windings.secondary), small, frequency=50.0, temperature=ROOM))


def test_temperature_lowers_the_excess() -> None:
    """Excess goes with conductivity squared while thin: copper at 120 degC, (1 + 0.00393 x 100)^2 (IEC 60028)."""
    secondary = Winding(turns=20, conductor=Conductor(round="3 mm"))
    windings, blocks, leak = built(secondary, Arrangement.SIDE_BY_SIDE)
    pair = (windings.primary, windings.secondary)
    cold, hot = (
        ac_resistance(AcState(CORE, pair, blocks, frequency=50.0, temperature=t), leak).secondary.resistance_ratio - 1
        for t in (ROOM, ROOM + 100)
    )
    assert cold / hot == pytest.approx(1.393**2, rel=1e-3)


def test_slice_against_another_solver() -> None:
    """Two solid bars, go and return, by mixed complex elements of fourth order on another mesh."""
    needed("ngsolve")
    from fem.field.harmonic.solve import respond
    from geometries.shapes.section import Section
    from tests.support.harmonic import COPPER, bar, solid_problem
    from tests.support.ngsolve_bars import bar_impedance

    a, b, far = (-22e-3, 0.0, -4e-3, 20e-3), (2e-3, -5e-3, 12e-3, 25e-3), 0.15
    section = Section(regions=(bar("a", *a), bar("b", *b)), outline=(-far, -far, far, far))
    Z = respond(solid_problem(section, 50.0), 50.0).impedance_per_m
    reference = bar_impedance((a, b), far, COPPER, 2 * pi * 50.0)
    # 1.7e-3 as for the round wire, times what the corners' weak singularity adds.
    assert abs(Z - reference).max() < 2e-3 * abs(reference).max()


def test_end_turns_count_by_their_share_of_the_leakage() -> None:
    """Excess outside the window over excess in it = leakage there over leakage in it; the own part counts all along."""
    secondary = Winding(turns=4, conductor=Conductor(round="9 mm"))
    windings, blocks, leak = built(secondary, Arrangement.SIDE_BY_SIDE)
    pair = (windings.primary, windings.secondary)
    share = 2 * CORE.stack_depth / blocks[1].mean_turn(CORE.leg_width, CORE.stack_depth)
    for ratio in (1.0, 1.7):
        told = replace(leak, permeance=ratio * leak.window_permeance)
        wound = ac_resistance(AcState(CORE, pair, blocks, frequency=50.0, temperature=ROOM), told).secondary
        excess = wound.window_ratio - wound.own_ratio
        assert wound.resistance_ratio - wound.own_ratio == pytest.approx(excess * share * ratio, rel=1e-9)


def test_bare_rounds_that_touch() -> None:
    """Drawn 1 % smaller with their conductance kept: the d.c. ratio is exact, the excess moves by some per cent."""
    bare = Winding(turns=3, conductor=Conductor(round="9 mm", insulated="9 mm"), height="27 mm")
    thin_enamel = Winding(turns=3, conductor=Conductor(round="9 mm", insulated="9.1 mm"), height="27.3 mm")
    touching, apart = (found(w, with_slice=True).secondary.resistance_ratio - 1 for w in (bare, thin_enamel))
    # The second lies in cells 1.1 % larger and its leakage field is that much different too.
    assert touching == pytest.approx(apart, rel=0.05)
    windings, blocks, _ = built(bare, Arrangement.SIDE_BY_SIDE)
    pair = (windings.primary, windings.secondary)
    slow = ac_slice(AcState(CORE, pair, blocks, frequency=0.5, temperature=ROOM))
    assert slow.resistance_ratios["secondary"] == pytest.approx(1, abs=1e-4)


def test_the_loss_map_shows_every_watt_in_the_window() -> None:
    """What is drawn, element by element, sums to the r.m.s. current squared times the a.c. resistance in the window."""
    winding = Winding(turns=3, conductor=Conductor(strip="8 mm x 6 mm"))
    whole = found(winding, with_slice=True)
    assert whole.slice is not None
    mesh, field = whole.slice.mesh, whole.slice.field
    own = [k for k, region in enumerate(mesh.section.regions) if region.winding == "secondary"]
    here = np.isin(mesh.region, own)
    corners = mesh.points[:, mesh.triangles[:, here]]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    drawn = field.problem.copies * float(field.loss_density()[here] @ (0.5 * (u[0] * v[1] - u[1] * v[0])))
    sigma = 1 / float(metal("copper").resistivity(ROOM))
    direct = 2 * 3 / (sigma * winding.conductor.conducting_area) / 3**2
    assert drawn == pytest.approx(direct * whole.secondary.window_ratio, rel=1e-9)
