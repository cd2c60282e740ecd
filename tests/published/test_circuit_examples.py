"""Circuit functions against published worked examples and tables, the source named beside each."""

from math import hypot, log, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import dblquad

from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.excitation import peak_flux_of
from fem.circuit.leads.go_and_return import bar_pair_inductance, pair_inductance_per_m
from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.time.first_peaks import asymmetric_peak
from fem.constants import MU0

SQUARE = Rectangle(width=1.0, height=1.0)


def straight(inductance_per_turn_squared: float) -> MagnetisingCurve:
    ampere_turns = np.array([0.0, 1.0, 2.0])
    return MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=inductance_per_turn_squared * ampere_turns)


def square_loss(conductance_per_turn_squared: float, frequency: float) -> CoreLossCurve:
    flux = np.array([1.0, 2.0])
    emf = sqrt(2) * pi * frequency * flux
    return CoreLossCurve(flux_per_turn=flux, loss=conductance_per_turn_squared * emf**2)


def plain(**changes: object) -> Circuit:
    """Return a circuit without source impedance, leads and branch; each example puts in what it prints."""
    numbers: dict[str, object] = {
        "frequency": 60.0,
        "source_resistance": 0.0,
        "source_inductance": 0.0,
        "primary_resistance": 0.0,
        "secondary_resistance": 0.0,
        "lead_resistance": 0.0,
        "lead_inductance": 0.0,
        "leakage_permeance": 1e-9,
        "magnetising": straight(1e6),
        "core_loss": square_loss(0.0, 60.0),
    }
    return Circuit(**(numbers | changes))


def test_peak_flux() -> None:
    # Hubert, Electric Machines, Example 2.1, p. 42: 240 V, 200 turns, 60 Hz: 4.5045 mWb; its
    # constant is 4.44, ours 4.4429.
    assert peak_flux_of(240 / 200, 60.0) == pytest.approx(4.5045e-3, rel=0.0029 / 4.44 + 0.00005 / 4.5)


def test_induced_voltage_of_a_core() -> None:
    # Fitzgerald, Kingsley, Umans, Electric Machinery 6th ed., Example 1.8, p. 28: 4 in2 x 0.94, 1.5 T, 200 turns,
    # 60 Hz: 194 V r.m.s., printed to the volt.
    flux = 1.5 * 4 * 0.0254**2 * 0.94
    assert 200 * flux / peak_flux_of(1.0, 60.0) == pytest.approx(194.0, abs=0.5)


def test_exciting_branch() -> None:
    # Hubert, Electric Machines, Example 2.3, p. 44: 2400 V, 41.7 kohm and 8.96 kohm in parallel: 0.0575 A and 0.268 A,
    # 0.2738 A together, power factor 0.210, 138 W. The resistances carry three digits: 0.15 %.
    turns, frequency = 1000, 60.0
    result = idle(
        plain(
            voltage_rms=2400.0,
            primary_turns=turns,
            secondary_turns=100,
            magnetising=straight(8.96e3 / (2 * pi * frequency * turns**2)),
            core_loss=square_loss(turns**2 / 41.7e3, frequency),
        )
    )
    assert result.current_rms == pytest.approx(0.2738, rel=1.5e-3)
    assert result.power_factor == pytest.approx(0.210, abs=0.0005)
    assert result.real_power == pytest.approx(138.0, abs=0.5)
    assert result.secondary_voltage_rms == pytest.approx(240.0, rel=1e-12)


def test_no_load_current_of_a_built_core() -> None:
    # Sawhney, Electrical Machine Design, Example 5.18, p. 5.99: 400 V 50 Hz, 2.5e-3 m2 x 0.9, 800 turns, path 2.5 m,
    # relative permeability 1000, 2.6 W/kg, 7800 kg/m3: 2.25 mWb, 1.77 A. Worked through in full digits it is 1.783 A:
    # the book rounds the flux density to 1 T and the ampere-turns on the way, 1 % in all.
    area, path = 2.5e-3 * 0.9, 2.5
    loss = 2.6 * 7800 * area * path
    result = idle(
        plain(
            voltage_rms=400.0,
            frequency=50.0,
            primary_turns=800,
            secondary_turns=80,
            magnetising=straight(MU0 * 1000 * area / path),
            core_loss=square_loss(loss / (400 / 800) ** 2, 50.0),
        )
    )
    assert result.peak_flux_per_turn == pytest.approx(2.25e-3, abs=0.005e-3)
    assert result.current_rms == pytest.approx(1.77, rel=0.01)


def test_short_circuit_test_50_kva() -> None:
    # Fitzgerald, Kingsley, Umans, Electric Machinery 6th ed., Example 2.6, p. 80: 2400:240 V, short-circuit test 48 V,
    # 20.8 A, 617 W on the high side; prints R = 1.42, X = 1.82 ohm. R and X carry 0.01 ohm: 0.7 % and 0.55 %.
    result = short_test(
        plain(
            voltage_rms=2400.0,
            primary_turns=1000,
            secondary_turns=100,
            primary_resistance=0.71,
            secondary_resistance=0.71 / 100,
            leakage_permeance=1.82 / (2 * pi * 60.0 * 1000**2),
        ),
        20.8,
    )
    assert result.primary_voltage_rms == pytest.approx(48.0, rel=0.0055)
    assert result.power == pytest.approx(617.0, rel=0.007)
    assert result.secondary_current_rms == pytest.approx(208.0, rel=1e-3)


def test_short_circuit_test_4_kva() -> None:
    # Verma and Ahuja, Example 3.14: 200/400 V, short-circuit test on the high side 20 V, 10 A, 90 W. Referred to the
    # low side that is R = 0.225 ohm (90 / 100 / 4) and X = 0.4465 ohm (worked here from the data, four digits).
    result = short_test(
        plain(
            voltage_rms=400.0,
            frequency=50.0,
            primary_turns=200,
            secondary_turns=100,
            secondary_resistance=0.225,
            leakage_permeance=0.4465 / (2 * pi * 50.0 * 100**2),
        ),
        10.0,
    )
    assert result.primary_voltage_rms == pytest.approx(20.0, rel=1e-3)
    assert result.power == pytest.approx(90.0, rel=1e-3)
    assert result.power_factor == pytest.approx(0.45, rel=1e-3)


@pytest.mark.parametrize(
    ("x_over_r", "factor"),
    [(1, 1.51), (1.5, 1.64), (2, 1.76), (3, 1.95), (4, 2.09), (5, 2.19), (6, 2.27), (8, 2.38), (10, 2.46), (14, 2.55)],
)
def test_peak_factor(x_over_r: float, factor: float) -> None:
    # IEC 60076-5 (2006), table 4, values of k sqrt(2), from memory; printed to two decimals.
    assert asymmetric_peak(x_over_r) == pytest.approx(factor, abs=0.005)


def test_round_pair() -> None:
    # Grover, Inductance Calculations (1946), chapter 5, formula from memory: 20 mm apart, radius 2 mm: 1021.034 nH/m.
    assert pair_inductance_per_m(0.020, 0.002) == pytest.approx(1021.034e-9, abs=0.0005e-9)


@pytest.mark.parametrize(
    ("height", "distance"), [(1.0, 0.447049), (2.0, 3 * 0.223601), (10.0, 11 * 0.223599), (50.0, 51 * 0.223296)]
)
def test_own_gmd_of_a_rectangle(height: float, distance: float) -> None:
    # Rosa and Grover, Bull. Bur. Stds 8 (1911), and Grover table 3: 0.2235 (a + b) printed; six digits from memory.
    bar = Rectangle(width=1.0, height=height)
    assert gmd_rectangles(bar, bar) == pytest.approx(distance, rel=3e-6)
    assert gmd_rectangles(bar, bar) == pytest.approx(0.2235 * (1 + height), rel=2e-3)


@pytest.mark.parametrize(("x", "y", "distance"), [(1.0, 0.0, 1.006550), (2.0, 0.0, 2.001021), (1.0, 1.0, 1.410962)])
def test_gmd_of_two_squares(x: float, y: float, distance: float) -> None:
    # Rosa, Bull. Bur. Stds 3 (1907), from memory.
    other = Rectangle(width=1.0, height=1.0, x=x, y=y)
    assert gmd_rectangles(SQUARE, other) == pytest.approx(distance, abs=0.6e-6)


@pytest.mark.parametrize(
    ("thickness", "width", "spacing", "printed"),
    [(5, 50, 15, 239.585), (6, 60, 26, 328.351), (10, 100, 60, 420.973), (1, 100, 2, 20.0965)],
)
def test_bar_pair(thickness: float, width: float, spacing: float, printed: float) -> None:
    # Grover, Inductance Calculations (1946), chapter 3, from memory: mu0/pi times the mean of ln(distance) between the
    # sections less that within one. The figures [nH/m] are computed, not printed anywhere: hence the second route. A
    # difference of two places in a bar is spread as a triangle, so both means are double integrals, done to 1e-9.
    def mean_log(offset: float) -> float:
        def integrand(v: float, u: float) -> float:
            return (1 - abs(u)) * (1 - v) * log(hypot(offset + thickness * u, width * v))

        return 2 * sum(dblquad(integrand, a, b, 0, 1, epsabs=1e-9)[0] for a, b in ((-1, 0), (0, 1)))

    found = bar_pair_inductance(2.0, width * 1e-3, thickness * 1e-3, spacing * 1e-3)
    assert found == pytest.approx(MU0 / pi * (mean_log(spacing) - mean_log(0.0)), rel=1e-6)
    assert found == pytest.approx(printed * 1e-9, rel=3e-6)
