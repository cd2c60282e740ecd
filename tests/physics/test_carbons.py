"""Carbons in the march: against parabolas joined by hand, a fine explicit integrator, and brush practice."""

from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.design.work_piece import WorkPieceDescription
from fem.estimation.inputs.contact import carbon_contact
from fem.estimation.inputs.work import work_of
from fem.estimation.stations.bench.contact import power_in_burst
from fem.materials.work_metals import work_metal
from fem.trust.doubts import neutral
from fem.work.bodies import Bar, Jaw
from fem.work.chain import WorkPiece, between_carbons
from fem.work.sections import RoundSection
from tests.physics.test_work_piece import BARE
from tests.support.lines import steady_current, thevenin
from tests.support.one import heat, settle
from tests.support.plain import Plain

COLD, AMPERES = 300.0, 60.0
ROD = RoundSection(diameter=8e-3)
LONG, HALF = 20e-3, 4e-3
CARBON, WORK = (
    Plain(rho=9e-6, conductivity=100.0, heat_capacity=2e6),
    Plain(rho=2e-7, conductivity=45.0, heat_capacity=3.8e6),
)
TIP, HOLDER = (carbon_contact(None, ROD.area, neutral(), holder=holder) for holder in (False, True))


def piece() -> WorkPiece:
    carbon, work = (
        Bar(material=material, section=ROD, length=length, emissivity=0.0, is_work=is_work)
        for material, length, is_work in ((CARBON, LONG, False), (WORK, 2 * HALF, True))
    )
    return between_carbons(work, carbon, TIP, Jaw(temperature=COLD, contact=HOLDER), BARE)


def dropped(joint) -> float:
    return AMPERES * joint.drop / (AMPERES + joint.drop_from)


def test_settles_at_two_parabolas_joined_by_drops() -> None:
    # Carbon and half the work: T'' = -J^2 rho/k in each, no flux in the middle of the work, U0 i/(i + i0) made in each
    # contact, half on either side, and heat through its faces by the difference of theirs.
    source = [(AMPERES / ROD.area) ** 2 * m.rho / m.conductivity for m in (CARBON, WORK)]
    kc, kw = (m.conductivity * ROD.area for m in (CARBON, WORK))
    tip, holder = (dropped(joint) * AMPERES for joint in (TIP, HOLDER))
    out = kw * source[1] * HALF + tip + kc * source[0] * LONG  # what goes into a carbon at its holder
    first = COLD + (out + 0.5 * holder) / HOLDER.conductance
    slope = out / kc
    last = first + slope * LONG - source[0] * LONG**2 / 2
    through = kw * source[1] * HALF + 0.5 * tip
    work = last + through / TIP.conductance
    found = settle(piece(), steady_current(AMPERES), start_temperature=COLD, frequency=0.0).run
    x = found.position
    in_carbon = x < LONG
    expected = first + slope * x - source[0] * x**2 / 2
    at = LONG + HALF - x
    expected = np.where(in_carbon, expected, work + source[1] * (HALF**2 - at**2) / 2)
    left = x < LONG + HALF
    top = work - COLD
    np.testing.assert_allclose(found.temperature[-1][left], expected[left], atol=0.1 + 1e-3 * top)
    volts = 2 * (dropped(TIP) + dropped(HOLDER)) + AMPERES * 2 * (CARBON.rho * LONG + WORK.rho * HALF) / ROD.area
    assert found.voltage_rms[-1] == pytest.approx(volts, rel=1e-9)


def test_transient_is_that_of_a_fine_explicit_integrator() -> None:
    # Nodes 0.25 mm apart, faces of contacts by their two flux balances, scipy's Radau: nothing in common but the laws.
    n, m = 80, 16
    dx = LONG / n
    kc, kw = (material.conductivity * ROD.area / dx for material in (CARBON, WORK))
    cc, cw = (material.heat_capacity * ROD.area * dx for material in (CARBON, WORK))
    made = [AMPERES**2 * material.rho * dx / ROD.area for material in (CARBON, WORK)]

    def faces(left: float, right: float, half_left: float, half_right: float, g: float, q: float) -> float:
        """Return the heat that leaves the left node; the right one gets that and q more."""
        # 2k (left - f1) + q/2 = g (f1 - f2) = 2k (f2 - right) - q/2, solved for both faces
        a = np.array([[half_left + g, -g], [-g, half_right + g]])
        f = np.linalg.solve(a, [half_left * left + q / 2, half_right * right + q / 2])
        return float(half_left * (left - f[0]))

    def rate(_: float, t: NDArray[np.float64]) -> NDArray[np.float64]:
        carbon, work = t[:n], t[n:]
        flow_c, flow_w = np.zeros(n + 1), np.zeros(m + 1)
        flow_c[1:-1], flow_w[1:-1] = kc * (carbon[:-1] - carbon[1:]), kw * (work[:-1] - work[1:])
        holder, tip = (AMPERES * dropped(joint) for joint in (HOLDER, TIP))
        flow_c[0] = faces(COLD, carbon[0], 1e9, 2 * kc, HOLDER.conductance, holder) + holder
        flow_c[-1] = faces(carbon[-1], work[0], 2 * kc, 2 * kw, TIP.conductance, tip)
        flow_w[0] = flow_c[-1] + tip
        return np.r_[(made[0] + flow_c[:-1] - flow_c[1:]) / cc, (made[1] + flow_w[:-1] - flow_w[1:]) / cw]

    times = np.array([0.3, 1.0, 4.0])
    found = solve_ivp(rate, (0.0, 4.0), np.full(n + m, COLD), method="Radau", t_eval=times, rtol=1e-6, atol=1e-4).y
    run = heat(piece(), steady_current(AMPERES), duration=4.0, start_temperature=COLD, frequency=0.0)
    x = np.r_[dx * (np.arange(n) + 0.5), LONG + dx * (np.arange(m) + 0.5)]
    for moment, expected in zip(times, found.T, strict=True):
        along = [np.interp(moment, run.time, column) for column in run.temperature.T]
        for part in (slice(0, n), slice(n, n + m)):
            mine = np.interp(x[part][2:-2], run.position, along)
            np.testing.assert_allclose(mine, expected[part][2:-2], atol=0.3 + 0.005 * (expected.max() - COLD))


def test_power_in_tip_carbon_and_work_is_all_there_is() -> None:
    # By place it is what goes in between the lead ends, and over the burst what is stored, given off and led away.
    given = WorkPieceDescription.model_validate(
        {
            "metal": "brass",
            "section": {"round": 6e-3},
            "length": 8e-3,
            "duration": 3.0,
            "carbons": {"grade": "graphite", "section": {"round": 9e-3}, "length": 0.02},
        }
    )
    run = heat(work_of(given), thevenin(5.0, 1e-3, 1e-3), duration=3.0, start_temperature=298.15, frequency=50.0)
    power = power_in_burst(run)
    assert power.total == pytest.approx(run.current_rms[-1] * run.voltage_rms[-1], rel=1e-9)
    assert power.work + power.carbons + power.tips + power.jaws == pytest.approx(power.total, rel=1e-9)
    assert abs(run.energy.imbalance) < 1e-6 * run.energy.largest
    # carbons make the heat, as those who braze with them count on
    assert power.carbons + power.tips > 5 * power.work


@pytest.mark.parametrize("amperes", [5.0, 10.0, 20.0])
def test_faces_drop_what_brushes_do(amperes: float) -> None:
    # Data sheets of carbon brushes, from memory: electrographite 8 to 12 A/cm2, 0.8 to 1.2 V each; carbon 0.3 V and
    # more; nearly independent of the current, so by a fifth at most from half to twice the usual density.
    area = 1e-4
    joint = carbon_contact(None, area, neutral())
    volts = amperes * joint.drop / (amperes + joint.drop_from)
    assert 0.3 < volts < 1.2
    assert volts == pytest.approx(10.0 * joint.drop / (10.0 + joint.drop_from), rel=0.2)


def test_block_of_graphite_drops_what_makers_say() -> None:
    # Electrographite 8 to 14 uohm m, hard carbon 35 to 60, makers' data sheets, from memory.
    assert 8e-6 < work_metal("graphite").resistivity_at(293.15) < 14e-6
    assert 35e-6 < work_metal("carbon").resistivity_at(293.15) < 60e-6
    assert ROD.area == pytest.approx(pi * 16e-6)
