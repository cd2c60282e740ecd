"""Two cores under one secondary: field against limits and a closed form, circuit against each core by itself."""

from dataclasses import replace
from math import log, pi

import pytest

from fem.characteristics.leakage.whole import solve_end_region
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.remedies import fewest_turns
from fem.circuit.steady.short_circuit import short_circuit
from fem.constants import MU0
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.estimation.inputs.circuit import circuit_of, coupled
from fem.estimation.inputs.windings import winding_states
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.quantity import Unknown
from geometries.cores.shell import ShellCore
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import place
from tests.support.ends import exciting
from tests.support.kept import KEPT

MM = 1e-3
CORE = {
    "leg_width": 30 * MM,
    "outer_leg_width": 15 * MM,
    "yoke_height": 15 * MM,
    "window_width": 20 * MM,
    "window_height": 50 * MM,
    "stack_depth": 35 * MM,
    "joint": "butt",
    "steel": "M530-50A",
}
FRAME = ShellCore(**CORE).frame.closed
PRIMARY = Block(
    winding="primary", leg_clearance=1.5 * MM, end_clearance=2 * MM, build=14 * MM, bottom=2 * MM, height=24 * MM
)
SECONDARY = replace(PRIMARY, winding="secondary", build=15 * MM, bottom=29 * MM, height=18 * MM)


def test_without_a_distance_they_are_one_core_of_twice_the_depth() -> None:
    deep = solve_end_region(replace(FRAME, stack_depth=70 * MM), (PRIMARY, SECONDARY))
    both = tuple(replace(block, round_both=True) for block in (PRIMARY, SECONDARY))
    touching = solve_end_region(replace(FRAME, second_behind=0.0), both)
    # The same bound on other grids: apart by no more than what the finer keeps.
    assert touching.permeance == pytest.approx(deep.permeance, rel=deep.error / deep.permeance)


def test_between_distant_cores_a_turn_is_a_pair_of_straight_bars() -> None:
    """Per metre more between the cores L' = mu0/pi ln(GMD/GMR) of go and return.

    Source of the geometric mean distances of rectangles: see `gmd_rectangles`. The far box shuts the bars' field in:
    from above by (half their distance / 6 window heights)^2, 0.6 %, and twice that allowed.
    """
    round_both = replace(SECONDARY, round_both=True)
    near, far = (exciting(replace(FRAME, second_behind=s), round_both)[0] for s in (0.3, 0.4))
    apart = 2 * (CORE["leg_width"] / 2 + SECONDARY.leg_clearance + SECONDARY.build / 2)
    go = Rectangle(width=SECONDARY.build, height=SECONDARY.height)
    back = replace(go, x=apart)
    per_m = MU0 / pi * log(gmd_rectangles(go, back) / gmd_rectangles(go, go))
    assert per_m < (far - near) / 0.1 < 1.012 * per_m


def pair(primaries: str) -> Design:
    return Design.model_validate(
        {
            "mains": {"voltage": 80.0, "frequency": 50.0},
            "core": {**CORE, "second": {"spacing": 40 * MM, "primaries": primaries}},
            "windings": {
                "arrangement": "side-by-side",
                "spacing": 3 * MM,
                "leg_clearance": 1.5 * MM,
                "yoke_clearance": 2 * MM,
                "primary": {"turns": 260, "conductor": {"round": "0.8 mm"}},
                "secondary": {"turns": 3, "conductor": {"strip": "10 mm x 3 mm"}},
            },
            "leads": {"length": 1.0, "area": 50e-6, "spacing": 0.05},
        }
    )


def one_of(both: Circuit, turns: int, in_series: int) -> Circuit:
    """Return one of two like cores with its share of everything the two have together.

    In series either has half of the mains' e.m.f. and source; in parallel either has all of the e.m.f., and a source of
    its own of twice the impedance gives it the same voltage. Half of the secondary's loop belongs to either.
    """
    share = 1.0 / in_series
    source = share if in_series == 2 else 2.0
    curve, loss = both.magnetising, both.core_loss
    return replace(
        both,
        voltage_rms=share * both.voltage_rms,
        source_resistance=source * both.source_resistance,
        source_inductance=source * both.source_inductance,
        primary_turns=turns,
        primary_resistance=source * both.primary_resistance,
        secondary_resistance=both.secondary_resistance / 2,
        lead_resistance=both.lead_resistance / 2,
        lead_inductance=both.lead_inductance / 2,
        leakage_permeance=both.leakage_permeance / 2,
        magnetising=MagnetisingCurve(ampere_turns=curve.ampere_turns, flux_per_turn=curve.flux_per_turn / 2),
        core_loss=CoreLossCurve(flux_per_turn=loss.flux_per_turn / 2, loss=loss.loss / 2),
    )


@pytest.fixture(scope="module")
def solved():
    """Return each wiring's design and circuit; the field knows nothing of the wiring and is solved once."""
    found = {}
    for wiring in ("series", "parallel"):
        design = pair(wiring)
        blocks, sheet = place(design.core, design.windings), sheet_of(design.core, None)
        if not found:
            field, _ = KEPT(design, blocks, sheet, lambda _: None)
        windings = winding_states(design, field, with_slice=False)
        found[wiring] = design, windings, coupled(circuit_of(design, field, windings), field)
    return found


@pytest.mark.parametrize(("wiring", "in_series"), [("series", 2), ("parallel", 1)])
def test_each_core_by_itself_draws_its_share(solved, wiring: str, in_series: int) -> None:
    """The same state twice over: what iterations leave, 1e-6, and nothing else may differ."""
    _, _, both = solved[wiring]
    one = one_of(both, 260, in_series)
    parallel = 2 // in_series
    assert both.primary_turns * parallel == 260
    idling, alone = idle(both), idle(one)
    assert idling.current_rms == pytest.approx(parallel * alone.current_rms, rel=1e-6)
    assert idling.core_loss == pytest.approx(2 * alone.core_loss, rel=1e-6)
    assert idling.secondary_voltage_rms == pytest.approx(2 * alone.secondary_voltage_rms, rel=1e-6)
    shorted, shorted_alone = short_circuit(both), short_circuit(one)
    assert shorted.secondary_current_rms == pytest.approx(shorted_alone.secondary_current_rms, rel=1e-6)
    assert shorted.primary_current_rms == pytest.approx(parallel * shorted_alone.primary_current_rms, rel=1e-6)
    # Fewest turns of each primary, by the pair and by the core alone.
    flux = 0.9 * idling.peak_flux_per_turn
    remedy = fewest_turns(both, peak_flux_per_turn=flux, in_parallel=parallel)
    assert remedy.primary_turns == fewest_turns(one, peak_flux_per_turn=flux / 2).primary_turns
    assert remedy.extra_turns == remedy.primary_turns - 260


def test_wiring_of_the_primaries(solved) -> None:
    """Ohm's law for two like resistors, and what a current finds of copper."""
    (_, series, _), (_, parallel, _) = solved["series"], solved["parallel"]
    assert series.primary.resistance == pytest.approx(4 * parallel.primary.resistance)
    assert series.primary.mass == pytest.approx(parallel.primary.mass)
    assert parallel.primary.conductor_area == pytest.approx(2 * series.primary.conductor_area)
    # The secondary's turn goes round both stacks and the 40 mm between them: 2 (35 + 40) mm more than the core's own.
    windings = solved["series"][0].windings
    (block,) = [b for b in place(solved["series"][0].core, windings) if b.winding == "secondary"]
    assert series.secondary.mean_turn == pytest.approx(block.mean_turn(30 * MM, 35 * MM) + 150 * MM)


def test_through_the_estimate() -> None:
    """Two in parallel have the flux density of one on the same mains, two in series half; iron and its loss are twice.

    V = sqrt(2) pi f N flux, less what source and winding drop (under 1 % idle).
    """
    wanted = frozenset({Part.SHORTED_PLACES, Part.HEATING, Part.REMEDIES})
    found = {wiring: estimate(pair(wiring), wanted=wanted, characteristics=KEPT) for wiring in ("series", "parallel")}
    one = estimate(pair("series").vary("core.second", None), wanted={Part.REMEDIES})
    assert found["parallel"].saturation.peak_flux_density == pytest.approx(one.saturation.peak_flux_density, rel=0.01)
    assert found["series"].saturation.peak_flux_density == pytest.approx(one.saturation.peak_flux_density / 2, rel=0.01)
    assert found["series"].saturation.volts_per_turn * 260 == pytest.approx(80, rel=0.01)
    assert found["parallel"].saturation.volts_per_turn * 260 == pytest.approx(2 * 80, rel=0.01)
    for both in found.values():
        assert both.build.core_mass == pytest.approx(2 * one.build.core_mass)
        # A second window part; the end turns less, for those between the cores are shared.
        assert both.leakage.window_permeance == pytest.approx(2 * one.leakage.window_permeance, rel=1e-9)
        assert one.leakage.end_turn_permeance < both.leakage.end_turn_permeance < 2 * one.leakage.end_turn_permeance
        assert isinstance(both.leakage.recipe_permeance, Unknown)
        assert both.reasons["leakage.recipe_permeance_H"].startswith("what two cores have between them")
        assert not isinstance(both.short_circuit.peak_flux_density, Unknown)
    assert found["parallel"].idle.core_loss == pytest.approx(2 * one.idle.core_loss, rel=0.02)
    assert found["parallel"].saturation.fewest_primary_turns == pytest.approx(
        one.saturation.fewest_primary_turns, abs=3
    )
