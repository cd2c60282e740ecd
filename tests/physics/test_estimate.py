"""The whole path from calliper dimensions to results: reference fields, and what must be true of any design."""

import json
from math import pi, sqrt
from pathlib import Path
from typing import Any

import pytest

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.permeance import leakage
from fem.design.transformer import Design
from fem.digits import brief
from fem.errors import DoesNotFit
from fem.estimation.inputs.lays import own_fields
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.field.static.model import build_model
from fem.sweeps.rows.flat import flat
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import place
from tests.support.kept import KEPT

MM = 1e-3
CASES = {
    case["name"]: case
    for case in json.loads((Path(__file__).parent / "data" / "leakage3d.json").read_text(encoding="utf-8"))["cases"]
}
UNSHUNTED = ("S1_small_square", "S2_unequal_height", "S4_flat_secondary", "C1_equal_height")


def built(case: dict[str, Any]) -> tuple[ShellCore, tuple[Block, Block]]:
    core = ShellCore(
        leg_width=case["centre_leg_width"] * MM,
        outer_leg_width=case["outer_leg_width"] * MM,
        yoke_height=case["yoke_height"] * MM,
        window_width=case["window_width"] * MM,
        window_height=case["window_height"] * MM,
        stack_depth=case["stack_depth"] * MM,
        joint="butt",
        steel="M530-50A",
    )
    middle = case["window_height"] / 2
    blocks = tuple(
        Block(
            winding=name,
            leg_clearance=coil["clear_to_leg"] * MM,
            end_clearance=coil["clear_to_leg_end"] * MM,
            build=coil["build"] * MM,
            bottom=(coil["y_bottom"] + middle) * MM,
            height=(coil["y_top"] - coil["y_bottom"]) * MM,
        )
        for name, coil in (("primary", case["coil1"]), ("secondary", case["coil2"]))
    )
    return core, (blocks[0], blocks[1])


@pytest.mark.parametrize("name", UNSHUNTED)
def test_leakage_against_three_dimensional_reference_fields(name: str) -> None:
    """Reference: two-sided bounds from edge elements and a scalar potential in 3-D, bracket 0.03 to 0.6 %.

    1 % is what the end region in 3-D is to reach, 3 % the 2-D recipe; the planar slice has a reference of its own whose
    printed digits and mesh both lie below 0.1 %.
    """
    case = CASES[name]
    core, blocks = built(case)
    section = section_of(core, blocks, joint_regions=False).half()
    found, _ = leakage(build_model(mesh_section(section), linear_iron()), core, blocks)
    expected = case["leakage_permeance_3d_H_per_turn2"]
    assert found.permeance == pytest.approx(expected, rel=0.01)
    assert found.recipe_permeance == pytest.approx(expected, rel=0.03)
    slice_ = 2 * core.stack_depth * case["slices_2d"]["in_window_H_per_m"]
    assert found.window_permeance == pytest.approx(slice_, rel=1e-3)
    assert found.permeance - found.permeance * found.band <= expected <= found.permeance * (1 + found.band)


def brazing(**changes: Any) -> dict[str, Any]:
    """An invented 120 V, 60 Hz core of the 1 to 2 kVA class at 1.35 V per turn, two turns of cable."""
    return {
        "mains": {"voltage": 120.0, "frequency": 60.0, "source_resistance": 0.3, "source_inductance": 0.2e-3},
        "core": {
            "leg_width": 0.046,
            "outer_leg_width": 0.023,
            "yoke_height": 0.023,
            "window_width": 0.024,
            "window_height": 0.074,
            "stack_depth": 0.072,
            "joint": "welded",
            "joint_gap": 0.05e-3,
            "steel": "M700-100A",
        },
        "windings": {
            "arrangement": "side-by-side",
            "spacing": 0.004,
            "leg_clearance": 0.0015,
            "yoke_clearance": 0.002,
            "primary": {"turns": 89, "conductor": {"round": "14 AWG"}, "height": 0.03, "build": 0.02},
            "secondary": {"turns": 2, "conductor": {"cable": "2 AWG", "insulated": "12 mm"}},
        },
        **changes,
    }


SLICE = frozenset({Part.CONDUCTOR_SLICE})


def leads(resistance: float) -> dict[str, Any]:
    return {"length": 1.2, "area": "2 AWG", "spacing": 0.05, "joint_resistance": resistance}


@pytest.fixture(scope="module")
def shop() -> Estimate:
    wanted = frozenset({Part.CONDUCTOR_SLICE, Part.REMEDIES, Part.BANDS})
    return estimate(Design.model_validate(brazing(leads=leads(0.7e-3))), wanted=wanted, characteristics=KEPT)


def test_two_turns_at_1_35_volts_per_turn(shop: Estimate) -> None:
    """Common practice, no source: 2.7 V without load; shorted roughly 1.1 to 1.3 kA, with 25 to 30 A in the primary.

    How large the short is depends on leads and joints, which practice does not state: joints from clean to poor must
    bracket it, and at 1.1 to 1.3 kA the primary current is what the turns say, idle current on top.
    """
    assert pytest.approx(1.35, abs=0.005) == 120 / 89
    # Resistive drop and what the secondary does not link: some per cent.
    assert shop.open_circuit.secondary_voltage_rms == pytest.approx(2.7, rel=0.04)
    clean, poor = (
        estimate(
            Design.model_validate(brazing(leads=leads(r))), wanted=SLICE, characteristics=KEPT
        ).short_circuit.secondary_current_rms
        for r in (0.05e-3, 2e-3)
    )
    assert poor < 1100 < 1300 < clean
    for secondary, primary in ((1100, 25), (1300, 30)):
        assert secondary * 2 / 89 == pytest.approx(primary, rel=0.03)
    ratio = shop.short_circuit.secondary_current_rms / shop.short_circuit.primary_current_rms
    assert ratio == pytest.approx(89 / 2, rel=0.06)


def test_volts_per_turn_are_4_44_f_phi(shop: Estimate) -> None:
    """E = 4.44 f N B A (any machines text), with the leg's iron section.

    The winding links the leg's flux and what runs beside it in the window and round the ends: at most some per cent
    more near saturation, never less.
    """
    area = 0.046 * 0.072 * 0.95
    of_leg = sqrt(2) * pi * 60 * shop.saturation.peak_flux_density * area
    assert of_leg < shop.saturation.volts_per_turn < 1.04 * of_leg


def test_bands_hold_their_results(shop: Estimate) -> None:
    """But the core loss, which is told as the grade's figure for strip, to which building mostly adds."""
    values = flat(shop.to_dict())
    assert {"idle.current_rms_A", "short_circuit.secondary_current_rms_A"} < set(shop.bands)
    for key, band in shop.bands.items():
        if key not in ("idle.core_loss_W", "supply.idle_dip"):
            assert band.low < values[key] < band.high, key


def test_turns_do_not_change_what_the_field_says(shop: Estimate) -> None:
    """A block of given size is the same field whatever its turns, but for their own; turns squared scale inductance."""
    more = brazing(leads=leads(0.7e-3))
    more["windings"]["primary"]["turns"] = 100
    designs = [Design.model_validate(job) for job in (brazing(leads=leads(0.7e-3)), more)]
    other = estimate(designs[1], wanted=SLICE)
    own = [sum(own_fields(design, place(design.core, design.windings))) for design in designs]
    assert own[0] / 100 == pytest.approx(own[1] / 89, rel=0.2)
    assert other.leakage.permeance - own[1] == pytest.approx(shop.leakage.permeance - own[0], rel=1e-12)
    ratio = other.leakage.inductance_primary / shop.leakage.inductance_primary
    assert ratio == pytest.approx((100 / 89) ** 2, rel=2 * abs(own[0] - own[1]) / shop.leakage.permeance)
    assert other.saturation.peak_flux_density < shop.saturation.peak_flux_density
    assert other.provenance.section_digest == shop.provenance.section_digest


def test_the_remedies_do_what_they_promise(shop: Estimate) -> None:
    """Wound with the fewest turns that keep to 1.5 T the core keeps to it; with one turn less it does not."""
    fewest = shop.saturation.fewest_primary_turns
    assert fewest - 89 == shop.saturation.extra_turns > 0
    for turns, keeps in ((fewest, True), (fewest - 1, False)):
        design = brazing(leads=leads(0.7e-3))
        design["windings"]["primary"]["turns"] = turns
        found = estimate(Design.model_validate(design), wanted=SLICE, characteristics=KEPT)
        peak = found.saturation.peak_flux_density
        # the added turns' resistance differs a little from the computed winding's: 1e-4 of the flux
        assert (peak <= 1.5 * (1 + 1e-4)) is keeps


def test_an_idle_current_alone_is_what_the_turns_keep_to(shop: Estimate) -> None:
    """Told alone it decides, however high the flux; told with a flux density, whichever asks for more turns.

    Held against the idle currents of the design with these turns and with one fewer; between two turns the current
    changes by a tenth, the added turns' resistance by 1e-4 of the flux, some 1e-3 of the current.
    """
    current = 1.05 * shop.idle.current_rms

    def found(turns: int | None = None, **limits: float) -> Estimate:
        design = brazing(leads=leads(0.7e-3)) | {"limits": limits}
        design["windings"]["primary"]["turns"] = turns or 89
        return estimate(Design.model_validate(design), wanted=frozenset({Part.REMEDIES}), characteristics=KEPT)

    alone, both = found(idle_current=current), found(idle_current=current, flux_density=1.5)
    assert alone.saturation.turns_keep_to == f"{brief(current)} A at no-load"
    fewest = alone.saturation.fewest_primary_turns
    assert fewest <= 89 < both.saturation.fewest_primary_turns == shop.saturation.fewest_primary_turns
    for turns, keeps in ((fewest, True), (fewest - 1, False)):
        assert (found(turns).idle.current_rms <= current * (1 + 1e-3)) is keeps


def test_unequal_outer_legs_and_their_mirror_image() -> None:
    """Without symmetry the whole section is solved; mirrored it gives the same numbers with left and right exchanged.

    The two meshes differ: agreement to twice the flux's discretisation error.
    """
    pair = []
    for widths in ((0.018, 0.028), (0.028, 0.018)):
        design = brazing()
        design["core"]["outer_leg_width"] = widths
        pair.append(estimate(Design.model_validate(design), wanted=frozenset()))
    one, two = pair
    rel = 4 * max(e.provenance.flux_discretisation_error for e in pair)
    assert one.saturation.peak_flux_density == pytest.approx(two.saturation.peak_flux_density, rel=rel)
    left, right = (f"{side} outer leg" for side in ("left", "right"))
    places = [e.saturation.peak_flux_density_by_place for e in pair]
    assert places[0][left] == pytest.approx(places[1][right], rel=rel)
    assert places[0][left] > places[0][right]  # the narrow leg is the denser one


def test_a_winding_that_does_not_fit_is_refused_by_millimetres() -> None:
    design = brazing()
    design["windings"]["secondary"]["turns"] = 9
    with pytest.raises(DoesNotFit, match=r"windings\.secondary.*mm too much"):
        estimate(Design.model_validate(design))


def test_resistance_of_a_gauge_wire_winding(shop: Estimate) -> None:
    """14 AWG has 2.525 ohm per 1000 ft at 20 degC: NBS Circular 100, copper wire table, four digits."""
    length = 89 * shop.build.primary.mean_turn
    assert shop.build.temperature == pytest.approx(293.15)
    assert shop.build.primary.resistance == pytest.approx(2.525 * length / 304.8, rel=1e-3)


def test_the_primary_sees_the_mains(shop: Estimate) -> None:
    """Idle, a few amperes through 0.3 ohm take the terminals 0.5 % below the 120 V of the mains at most."""
    terminal = shop.idle.apparent_power / shop.idle.current_rms
    assert 0.995 * 120 < terminal <= 120 * (1 + 1e-6)
