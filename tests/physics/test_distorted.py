"""The loaded state with a saturating leakage path: against an integrator, and what holds however much it saturates."""

from dataclasses import fields, replace
from math import pi, sqrt

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.distorted import distorted
from fem.circuit.steady.half_period import rms
from fem.circuit.steady.load import load_waves, loaded
from fem.circuit.steady.milliohms import series_parts
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.time.connection import Connection, Rectifier
from fem.circuit.time.periodic import periodic
from tests.support.circuits import circuit, square_loss

CONDUCTANCE = 25.0
PLAIN = 1.5e-7
"""Leakage per turn squared without shunt [H]."""


def shunted(knee: float = 300.0, added: float = 8e-6) -> LeakageCurve:
    """Return the plain leakage with a path beside it that saturates about a knee [A]."""
    ampere_turns = np.r_[0, np.geomspace(knee / 10, 1e5, 40)]
    flux = PLAIN * ampere_turns + added * knee * (2 / pi) * np.arctan(pi / 2 * ampere_turns / knee)
    return LeakageCurve(ampere_turns=ampere_turns, flux_per_turn=flux)


def shunt_circuit(primary_resistance: float, **changes: object) -> Circuit:
    return circuit(
        primary_resistance=primary_resistance,
        core_loss=square_loss(CONDUCTANCE),
        **{"leakage_permeance": shunted(), "source_inductance": 0.0, **changes},
    )


def drawn(rng: np.random.Generator) -> Circuit:
    """Return a circuit whose resistance is from a tenth of its unsaturated reactance to ten times it."""
    return shunt_circuit(
        float(10 ** rng.uniform(-0.5, 1.5)),
        leakage_permeance=shunted(float(10 ** rng.uniform(1.5, 3.5)), float(10 ** rng.uniform(-6.5, -5))),
        source_inductance=float(rng.choice([0.0, 8e-4])),
        lead_resistance=float(10 ** rng.uniform(-4, -2)),
    )


@pytest.mark.parametrize(("primary_resistance", "load_resistance"), [(0.3, 0.0), (3.0, 0.02), (30.0, 0.0)])
def test_half_a_period_by_an_integrator(primary_resistance: float, load_resistance: float) -> None:
    """Kirchhoff's laws as differential equations, stepped by another library from the state at the start.

    Half a period later everything has turned its sign, and the currents' r.m.s. agree: to 1e-3, what 64 points leave
    of a curve with jumps in its second derivative.
    """
    c = shunt_circuit(primary_resistance)
    n1, n2, curve = c.primary_turns, c.secondary_turns, c.leakage_permeance
    resistance = c.secondary_resistance + c.lead_resistance + load_resistance

    def rates(t: float, y: np.ndarray) -> list[float]:
        drive = sqrt(2) * c.voltage_rms * np.sin(c.angular_frequency * t)
        still = (float(c.magnetising.ampere_turns_at(y[0])) + n2 * y[1]) / n1
        slope = (drive - c.loop_resistance * still) / (n1 + c.loop_resistance * CONDUCTANCE / n1)
        inductance = n2**2 / float(curve.slope(curve.flux(n2 * y[1]))) + c.lead_inductance
        return [slope, (n2 * slope - resistance * y[1]) / inductance]

    found = distorted(c, load_resistance)
    times = np.linspace(0, 0.5 / c.frequency, 2001)
    y0 = [found.flux[0], found.secondary[0]]
    answer = solve_ivp(rates, (0, times[-1]), y0, method="LSODA", t_eval=times, rtol=1e-8, atol=1e-10)
    assert answer.success
    flux, secondary = answer.y
    assert flux[-1] == pytest.approx(-flux[0], abs=1e-3 * np.abs(flux).max())
    assert secondary[-1] == pytest.approx(-secondary[0], abs=1e-3 * np.abs(secondary).max())
    assert rms(found.secondary) == pytest.approx(float(np.sqrt(np.trapezoid(secondary**2) / 2000)), rel=1e-3)
    assert loaded(c, load_resistance).secondary_current_rms == rms(found.secondary)


def test_powers_and_shares_of_any_circuit() -> None:
    """Twelve circuits: what the mains delivers is lost or used, and no power factor is above 1.

    The branches that saturate take no energy over a period: over sample points that is so to third order, 1e-4 here.
    """
    rng = np.random.default_rng(4)
    for _ in range(12):
        c, load_resistance = drawn(rng), float(rng.choice([0.0, 1e-3, 0.1]))
        state, found = loaded(c, load_resistance), distorted(c, load_resistance)
        emf = sqrt(2) * c.voltage_rms * np.sin(pi * np.arange(found.primary.size) / found.primary.size)
        delivered = float(np.mean(emf * found.primary))
        lost = state.primary_copper_loss + state.secondary_copper_loss + state.lead_loss + state.core_loss
        assert state.input_power + state.source_loss == pytest.approx(delivered, rel=1e-9)
        assert state.input_power == pytest.approx(lost + state.load_power, rel=3e-4)
        assert state.power_factor < 1
        assert state.efficiency < 1
        parts = series_parts(c, state)
        assert parts.emf == pytest.approx(c.voltage_rms * c.secondary_turns / c.primary_turns, rel=1e-9)
        half = short_test(c, 0.5 * loaded(c, 0.0).primary_current_rms)
        assert half.primary_voltage_rms < c.voltage_rms


def test_a_member_of_a_block_is_what_it_is_alone() -> None:
    """Members with curves, resistances, turns and loads of their own, some of which need their voltage raised."""
    rng = np.random.default_rng(6)
    each = [drawn(rng) for _ in range(6)]
    curves = [c.leakage_permeance for c in each]
    rows = LeakageCurve(
        ampere_turns=np.stack([curve.ampere_turns for curve in curves]),
        flux_per_turn=np.stack([curve.flux_per_turn for curve in curves]),
    )
    names = ("primary_resistance", "lead_resistance", "source_inductance")
    block = replace(each[0], leakage_permeance=rows, **{n: np.array([getattr(c, n) for c in each]) for n in names})
    loads, shares = np.array([0.0, 1e-3, 0.1, 0.0, 0.02, 0.0]), np.linspace(0.95, 1.0, 6)
    many, waves = loaded(block.with_coupling(shares, 1e-5), loads), load_waves(block, loads)
    for place, one in enumerate(each):
        alone = loaded(one.with_coupling(shares[place], 1e-5), loads[place])
        for item in fields(alone):
            told = getattr(many, item.name)
            if np.ndim(told):
                assert told[place] == pytest.approx(getattr(alone, item.name), rel=1e-9), item.name
        assert waves.secondary[place] == pytest.approx(distorted(one, loads[place]).secondary, rel=1e-9)


def test_a_shunt_never_raises_the_current() -> None:
    """More flux through the leakage path at every current, more volts across it; to the 1e-4 of the points."""
    rng = np.random.default_rng(5)
    for _ in range(12):
        c = drawn(rng)
        without = replace(c, leakage_permeance=PLAIN)
        for load_resistance in (0.0, 0.02):
            current = loaded(c, load_resistance).secondary_current_rms
            assert current < loaded(without, load_resistance).secondary_current_rms * (1 + 1e-4)


@pytest.mark.parametrize("primary_resistance", [0.3, 30.0])
def test_an_ideal_bridge_is_the_bare_resistance(primary_resistance: float) -> None:
    """Into a resistance the transformer sees no bridge that drops nothing, and a small drop changes little.

    128 steps: 0.2 % of the currents. A drop v takes up to 4 v / pi of the e.m.f., plus what its harmonics do.
    """
    c, resistance = shunt_circuit(primary_resistance), 0.02
    bare = loaded(c, resistance).secondary_current_rms
    currents = [
        periodic(
            c,
            Connection(load_resistance=resistance, rectifier=Rectifier(forward_drop=drop, full_wave=True)),
            steps=128,
        ).secondary_rms
        for drop in (0.0, 1e-3, 0.1)
    ]
    assert currents[0] == pytest.approx(bare, rel=2e-3)
    emf = c.voltage_rms * c.secondary_turns / c.primary_turns
    for drop, current in zip((1e-3, 0.1), currents[1:], strict=True):
        assert currents[0] * (1 - 2 * drop / (emf - drop)) < current < currents[0]
