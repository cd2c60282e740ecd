"""The card: from it and hand formulas alone, what the whole estimate says of five secondaries and primaries."""

import io
import json
from importlib.resources import files
from math import pi, sqrt

import numpy as np
import pytest
from rich.console import Console

from fem.design.job import read_job
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.estimation.card import Card, NotTurnFree, card
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.report.text.card import card_json, card_table
from geometries.windings.arrangement import place


@pytest.fixture(scope="module")
def design() -> Design:
    """The example with blocks of given size, so that turns leave the geometry alone."""
    found = read_job(str(files("fem.examples") / "bandsaw_brazing.toml"))
    for name, height, build in (("primary", 0.031, 0.0255), ("secondary", 0.0349, 0.0233)):
        found = found.vary(f"windings.{name}.height", height).vary(f"windings.{name}.build", build)
    return found


@pytest.fixture(scope="module")
def kept() -> Kept:
    """One field for all: the designs differ in turns and leads."""
    return Kept()


@pytest.fixture(scope="module")
def with_lengths(design: Design, kept: Kept) -> Card:
    return card(design, characteristics=kept, lengths=True)


@pytest.fixture(scope="module")
def paper(design: Design, kept: Kept, with_lengths: Card) -> Card:
    """After that with lengths, for which field and derivatives are solved in one."""
    return card(design, characteristics=kept)


@pytest.mark.parametrize(
    ("primary", "secondary", "length"), [(230, 3, 1.2), (250, 3, 1.2), (270, 2, 0.8), (240, 1, 1.5), (260, 3, 2.0)]
)
def test_five_designs_on_paper(
    design: Design, kept: Kept, paper: Card, primary: int, secondary: int, length: float
) -> None:
    """Within what the hand formulas leave out.

    Flux and no-load volts: the idle current's drop, 0.5 %. Idle current: straight lines between rows a tenth of a tesla
    apart on a bent curve, up to 8 %. Short circuit: the magnetising branch before the drop in primary and supply, 2 %.
    """
    built = design.vary("windings.primary.turns", primary).vary("windings.secondary.turns", secondary)
    built = built.vary("leads.length", length)
    found = estimate(built, wanted=frozenset(), characteristics=kept)
    volts = [row.volts_per_turn for row in paper.rows]

    def at(values: list[float]) -> float:
        return float(np.interp(230 / primary, volts, values))

    assert at([row.flux_density for row in paper.rows]) == pytest.approx(found.saturation.peak_flux_density, rel=0.01)
    magnetising, loss = at([row.ampere_turns_rms for row in paper.rows]), at([row.core_loss for row in paper.rows])
    idle = sqrt((magnetising / primary) ** 2 + (loss / 230) ** 2)
    assert idle == pytest.approx(found.idle.current_rms, rel=0.08)
    open_volts = 230 * secondary / primary * paper.coupling
    assert open_volts == pytest.approx(found.open_circuit.secondary_voltage_rms, rel=0.01)

    omega = 2 * pi * 50
    reactance = omega * (secondary**2 * paper.leakage_per_turn_squared + found.leakage.lead_loop_inductance)
    ratio = secondary / primary * paper.coupling
    copper = 1.72414e-8 * 1.0590  # copper at 35 degC: 1/58 ohm mm2/m, 0.00393 per kelvin (IEC 60028)
    first = copper * primary * paper.primary_mean_turn / (pi * 0.0017**2 / 4)
    # class 5 cable conducts like 1/58 ohm mm2/m over R20: 0.554 and 0.272 ohm/km (IEC 60228)
    second = 1.0590 * secondary * paper.secondary_mean_turn * 0.554e-3 / 2
    leads = 1.0590 * length * 0.272e-3 + 0.08e-3
    resistance = second + leads + ratio**2 * (first + 0.45)
    assert open_volts / sqrt(resistance**2 + reactance**2) == pytest.approx(
        found.short_circuit.secondary_current_rms, rel=0.02
    )


def test_what_the_card_says_of_the_core(paper: Card) -> None:
    """E = 4.44 f B A (any machines text): windings link some per cent more than the saturated leg carries.

    Before, the air's share is less than what the leg carries more at the winding's middle than over its height: 0.1 %.
    """
    area = 0.052 * 0.056 * 0.95
    for row in paper.rows:
        of_leg = sqrt(2) * pi * 50 * row.flux_density * area
        assert 0.999 * of_leg < row.volts_per_turn < 1.06 * of_leg
        assert row.ampere_turns_rms < row.ampere_turns_peak < 3 * row.ampere_turns_rms
    losses = [row.core_loss for row in paper.rows]
    assert losses == sorted(losses)


def test_extra_turns_have_no_card(design: Design) -> None:
    extra = {"turns": 8, "conductor": {"round": "1.6 mm"}, "height": 0.003, "build": 0.004}
    with pytest.raises(NotTurnFree, match="extra"):
        card(design.vary("windings.primary.extra", extra))


def test_the_card_as_json_and_on_screen(paper: Card) -> None:
    found = json.loads(card_json(paper))
    assert found["rows"][5]["flux_density_T"] == 1.5
    assert found["rows"][5]["volts_per_turn_V"] == paper.rows[5].volts_per_turn
    assert {"leakage_per_turn_squared_H", "copper_area_easy_m2", "copper_area_most_m2", "flux_band"} <= set(found)
    assert found["copper_area_easy_m2"] == pytest.approx(0.3 * 0.029 * 0.082)
    assert {caution["about"] for caution in found["cautions"]} >= {"mains", "burns", "who decides"}
    console = Console(width=100, file=io.StringIO())
    console.print(card_table(paper))
    text = console.file.getvalue()
    assert "can kill" in text
    assert max(map(len, text.splitlines())) <= 100


def test_what_a_millimetre_does_against_cores_solved_anew(
    design: Design, kept: Kept, paper: Card, with_lengths: Card
) -> None:
    """A stack a millimetre deeper and shallower: leakage, and flux by way of the current that a flux then takes.

    A difference over 2 of 56 mm errs by a thousandth of the effect; the curve between its points by 3e-4 of the flux at
    either end, a twentieth of it.
    """
    told = with_lengths
    row = next(row for row in told.lengths if row.key == "core.stack_depth")
    assert (row.length, row.more) == (pytest.approx(0.056), 1e-3)
    curves = []
    for depth in (0.057, 0.055):
        deeper = design.vary("core.stack_depth", depth)
        blocks = place(deeper.core, deeper.windings)
        curves.append(kept(deeper, blocks, sheet_of(deeper.core), lambda _: None)[0])
    leakage = [found.leakage.permeance for found in curves]
    assert row.leakage_change == pytest.approx((leakage[0] - leakage[1]) / 2 / paper.leakage_per_turn_squared, rel=0.02)
    at = next(row.ampere_turns_peak for row in paper.rows if row.flux_density == 1.5)
    flux = [np.interp(at, f.magnetising.ampere_turns, f.magnetising.flux_per_turn) for f in curves]
    assert row.flux_change == pytest.approx((flux[0] - flux[1]) / (flux[0] + flux[1]), rel=0.05)
    assert told.rows == paper.rows
    console = Console(file=io.StringIO(), width=120)
    console.print(card_table(told))
    assert any(line.split()[:3] == ["core.stack_depth", "56.0", "mm"] for line in console.file.getvalue().splitlines())
