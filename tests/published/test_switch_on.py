"""Switching on, and core loss in parts, against published tables, formulas and measurements."""

from math import hypot, pi, sqrt

import numpy as np
import pytest

from fem.assumptions import assumed
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.losses import SeparatedLoss
from fem.circuit.time.connection import OPEN
from fem.circuit.time.first_peaks import first_peaks
from fem.circuit.time.switch_on import switch_on
from fem.constants import MU0

OMEGA = 2 * pi * 50.0
NO_LOSS = CoreLossCurve(flux_per_turn=[1.0, 2.0], loss=[0.0, 0.0])
STRAIGHT = MagnetisingCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, 1e6, 2e6])

AREA, TURNS = 3.0e-3, 230
"""Iron section [m^2] and primary turns of an invented 1 kVA, 230 V transformer: 1.5 T."""
WINDING_AREA, WINDING_HEIGHT = 7.2e-3, 0.075
"""Area within the mean turn of its outer winding [m^2], and that winding's height [m]."""
SATURATION = 2.03
"""Saturation polarisation of 3 % silicon sheet [T] (widely printed: 20 300 G)."""


def saturated_permeance() -> float:
    """Return mu0 A / h of the bare winding [H], as in Kulkarni and Khaparde, Transformer Engineering, clause 2.7."""
    return MU0 * WINDING_AREA / WINDING_HEIGHT


def one_kva(**changes: object) -> Circuit:
    excitation = np.r_[0.0, np.geomspace(5.0, 2e5, 40)]
    # 60 A at half saturation: a stacked core with its joints. Only what lies beyond saturation counts here.
    iron = SATURATION * AREA * 2 / pi * np.arctan(excitation / 60.0)
    numbers: dict[str, object] = {
        "voltage_rms": 230.0,
        "frequency": 50.0,
        "source_resistance": 0.3,
        "source_inductance": 0.0,
        "primary_turns": TURNS,
        "secondary_turns": 4,
        "primary_resistance": 1.3,
        "secondary_resistance": 4e-4,
        "lead_resistance": 0.0,
        "lead_inductance": 0.0,
        "leakage_permeance": 1e-7,
        "magnetising": MagnetisingCurve(
            ampere_turns=excitation, flux_per_turn=iron + saturated_permeance() * excitation
        ),
        "core_loss": NO_LOSS,
    }
    return Circuit(**(numbers | changes))


@pytest.mark.parametrize(
    ("x_over_r", "factor"),
    [(1, 1.51), (1.5, 1.64), (2, 1.76), (3, 1.95), (4, 2.09), (5, 2.19), (6, 2.27), (8, 2.38), (10, 2.46), (14, 2.55)],
)
def test_first_peak_of_a_short_in_the_time_domain(x_over_r: float, factor: float) -> None:
    # IEC 60076-5 (2006), table 4, values of k sqrt(2), from memory; printed to two decimals. Here by stepping through
    # the first period of a linear circuit, closed at all angles: off by 1.3e-5, far below the printed digit.
    resistance = 1e-3
    c = one_kva(
        magnetising=STRAIGHT,
        source_resistance=0.0,
        primary_resistance=0.0,
        secondary_resistance=resistance,
        leakage_permeance=x_over_r * resistance / OMEGA / 16,
    )
    sustained = 230.0 * 4 / TURNS / hypot(resistance, x_over_r * resistance)
    assert first_peaks(c).secondary.current / sustained == pytest.approx(factor, abs=0.005)


def test_first_peak_by_the_short_circuit_factor() -> None:
    # IEC 60909-0 (radial network): 1.02 + 0.98 exp(-3 R/X) times sqrt(2); within 0.6 % of the exact linear peak, as the
    # exact peaks of table 4 show; here X/R = 3 and 10.
    for x_over_r in (3.0, 10.0):
        resistance = 1e-3
        c = one_kva(
            magnetising=STRAIGHT,
            source_resistance=0.0,
            primary_resistance=0.0,
            secondary_resistance=resistance,
            leakage_permeance=x_over_r * resistance / OMEGA / 16,
        )
        sustained = 230.0 * 4 / TURNS / hypot(resistance, x_over_r * resistance)
        kappa = 1.02 + 0.98 * np.exp(-3 / x_over_r)
        assert first_peaks(c).secondary.current == pytest.approx(sqrt(2) * kappa * sustained, rel=6e-3)


@pytest.mark.parametrize("remanent_share", [0.0, 0.4])
def test_order_of_the_inrush_peak(remanent_share: float) -> None:
    # T. R. Specht, IEEE Trans. PAS 88 (1969) 269, and J. E. Holcomb (1961), from memory: sqrt(2) V / sqrt(R^2 +
    # (omega L)^2) (2 Bn + Br - Bs) / Bn, L the inductance when saturated. The drop across the resistance before the
    # peak is left out, and so is what the core takes before it saturates: an order of magnitude, a third either way.
    c = one_kva()
    flux = c.nominal_peak_flux
    reactance = OMEGA * TURNS**2 * saturated_permeance()
    share = (2 * flux + remanent_share * flux - SATURATION * AREA) / flux
    formula = sqrt(2) * 230.0 / hypot(1.6, reactance) * share
    found = first_peaks(c, OPEN, remanence=remanent_share * flux).primary.current
    assert 2 / 3 < found / formula < 4 / 3
    # Nothing can push more than the resistance lets through.
    assert found < sqrt(2) * 230.0 / 1.6


def test_inrush_over_rated_current() -> None:
    # Measured on low-voltage transformers: 10 to 15 times the rated r.m.s. current, up to 20 to 25 below 50 kVA (common
    # practice, no source). The core is an invented one of usual proportions: only the range is a check.
    found = switch_on(one_kva(), closing_angle=0.0)
    assert 10 < found.first_peak / (1000 / 230) < 25
    # "Lasts about 6 cycles, 0.1 s" of 15 kVA (common practice, no source): by then most is gone, and a
    # smaller unit with more resistance is no slower.
    assert found.by_cycle.primary_peak[5] < 0.25 * found.first_peak


def test_separated_loss_of_a_core() -> None:
    # McPherson, Example 1.4: 400 W at 60 Hz and 169 W at 30 Hz at the same flux density; that is 276 W of hysteresis
    # and 124 W of eddy currents at 60 Hz (worked here from the data: 400 = h + e, 169 = h/2 + e/4).
    loss = SeparatedLoss(
        frequency=60.0,
        flux_per_turn=np.array([1e-3, 2e-3]),
        hysteresis=np.array([69.0, 276.0]),
        classical=np.array([31.0, 124.0]),
        excess=np.zeros(2),
    )
    assert loss.loss(60.0)[1] == pytest.approx(400.0, rel=1e-12)
    assert loss.loss(30.0)[1] == pytest.approx(169.0, rel=1e-12)


def test_separated_loss_of_sheet() -> None:
    # Langsdorf, Theory of Alternating-Current Machinery, p. 37: 0.31 W/lb at 30 Hz and 0.75 W/lb at 60 Hz, both at
    # 1.2 T, come from 0.245 and 0.065 W/lb (30 Hz), 0.490 and 0.260 W/lb (60 Hz), to three digits.
    loss = SeparatedLoss(
        frequency=30.0,
        flux_per_turn=np.array([0.8, 1.2]),
        hysteresis=np.array([0.106, 0.245]),
        classical=np.array([0.029, 0.065]),
        excess=np.zeros(2),
    )
    assert loss.loss(30.0) == pytest.approx([0.135, 0.31], abs=5e-4)
    assert loss.loss(60.0)[1] == pytest.approx(0.75, abs=2e-3)


def test_building_factors_hold_the_published_ones() -> None:
    # S. Qureishi, TRAFOSEM 2008: 1.08 to 1.35 for stacked cores; S. Zurek, Encyclopedia Magnetica: 1.15 typical.
    low, high = assumed("building factor, interleaved").band
    assert low <= 1.08
    assert high >= 1.35
    assert low < 1.15 < high
