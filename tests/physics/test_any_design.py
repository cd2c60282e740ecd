"""What must be true of every valid design, whatever its turns, wires, leads, loads and mains."""

from importlib.resources import files

import numpy as np
import pytest

from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.sweeps.rows.flat import flat
from tests.support.seeds import FRESH

WANTED = frozenset({Part.REMEDIES, Part.SHORT_TEST, Part.BANDS, Part.LOAD_LINE})
SIZES = {
    "windings.primary.height": 0.03,
    "windings.primary.build": 0.023,
    "windings.secondary.height": 0.03,
    "windings.secondary.build": 0.022,
}
ARRANGEMENTS: dict[str, dict[str, object]] = {
    "side by side": {},
    "shunt": {"windings.spacing": 0.012, "shunt": {"height": 0.008, "total_gap": 0.5e-3}},
    "two cores": {"core.second": {"spacing": 0.05, "primaries": "parallel"}},
}
STRIPS = {"windings.secondary.turns": 3, "windings.secondary.conductor": {"strip": "20 mm x 5 mm"}}


def varied(design: Design, values: dict[str, object]) -> Design:
    for key, value in values.items():
        design = design.vary(key, value)
    return design


def plain_job() -> Design:
    job = read_job(str(files("fem.examples") / "bandsaw_brazing.toml"))
    return varied(job, {"work_piece": None, "duty": None, "windings.secondary.wires_in_hand": 1, **SIZES})


def wire(turns: int, rng: np.random.Generator) -> dict[str, float]:
    """Return a round wire of which so many turns go into a block of the least size in `SIZES`, loosely."""
    return {"round": float(0.015 / np.sqrt(turns) * rng.uniform(0.3, 1.0))}


def drawn(base: Design, rng: np.random.Generator) -> Design:
    """Return the base with other turns, wires, leads, load and mains; its field stays, but for where few lie."""
    turns, few = int(rng.integers(40, 600)), int(rng.integers(1, 12))
    return varied(
        base,
        {
            "mains.voltage": float(rng.choice([110.0, 120.0, 230.0, 240.0])),
            "mains.frequency": float(rng.choice([50.0, 60.0])),
            "mains.source_resistance": None if rng.random() < 0.3 else float(rng.uniform(0, 2)),
            "windings.primary.turns": turns,
            "windings.primary.conductor": wire(turns, rng),
            "windings.secondary.turns": few,
            "windings.secondary.conductor": wire(few, rng),
            "leads.length": float(rng.uniform(0.2, 5)),
            "leads.area": float(rng.choice([10e-6, 35e-6, 120e-6])),
            "leads.joint_resistance": float(rng.uniform(0, 2e-3)),
            "load.resistance": float(10 ** rng.uniform(-4, 0)),
            "load.rectifier": str(rng.choice(["none", "none", "half-wave", "full-wave"])),
        },
    )


@pytest.fixture(scope="module")
def kept() -> Kept:
    return Kept()


STRIP = ("idle.core_loss_W", "supply.idle_dip")
"""What is told for loss of strip, to which building mostly adds."""


def outside(found: Estimate) -> list[str]:
    """Return which results lie outside their own bands."""
    values = flat(found.to_dict())
    known = {key: band for key, band in found.bands.items() if key not in STRIP}
    return [key for key, band in known.items() if not band.low <= values[key] <= band.high]


@pytest.mark.parametrize(
    ("arrangement", "seed", "count"),
    [
        ("side by side", 1, 1),
        # without a rectifier: behind one each draw of its bands is stepped through time
        ("shunt", 6, 1),
        *(pytest.param(name, FRESH, 30, marks=pytest.mark.slow, id=f"{name}-{FRESH}") for name in ARRANGEMENTS),
    ],
)
def test_relations_of_random_designs(arrangement: str, seed: int, count: int, kept: Kept) -> None:
    """No share above the whole, no result outside its band, parts that add up, less current through more resistance."""
    rng = np.random.default_rng(seed)
    base = varied(plain_job(), ARRANGEMENTS[arrangement])
    for _ in range(count):
        design = drawn(base, rng)
        found = estimate(design, wanted=WANTED, characteristics=kept)
        assert outside(found) == []
        test, load, line, leak = (
            found.short_circuit.reduced_voltage_test,
            found.load,
            found.load_line,
            found.leakage,
        )
        assert test.primary_voltage_rms < design.mains.voltage
        factors = [part.power_factor for part in (found.idle, found.short_circuit, test, load)]
        assert max(factors) <= 1 + 1e-9
        assert 0 < load.efficiency < 1
        assert max(line.efficiency) < 1
        assert 0 <= found.idle.joint_share <= 1
        assert np.all(np.diff(line.voltage_rms) < 1e-9)
        assert np.all(np.diff(line.current_rms) > -1e-9)
        parts = leak.window_reactance_secondary + leak.end_turn_reactance_secondary + leak.lead_reactance
        assert parts == pytest.approx(leak.reactance_secondary, rel=1e-9)
        assert leak.permeance == pytest.approx(leak.window_permeance + leak.end_turn_permeance, rel=1e-12)
        for key, more in (("leads.length", 1.0), ("leads.joint_resistance", 1e-3)):
            table, name = key.split(".")
            worse = design.vary(key, getattr(getattr(design, table), name) + more)
            other = estimate(worse, wanted=frozenset(), characteristics=kept)
            assert other.short_circuit.secondary_current_rms < found.short_circuit.secondary_current_rms
            # settled to a part in a million by the search for the periodic state behind a rectifier
            assert other.load.current_rms < load.current_rms * (1 + 1e-5)


def test_leakage_of_thick_conductors_lies_in_its_band(kept: Kept) -> None:
    """Currents in thick strips drive flux out of the window: value and band both know it, as does the circuit."""
    design = varied(plain_job(), STRIPS)
    thick, thin = (
        estimate(design, wanted=frozenset({Part.BANDS, *parts}), characteristics=kept)
        for parts in ((Part.CONDUCTOR_SLICE,), ())
    )
    assert outside(thick) == []
    assert thick.leakage.permeance <= thin.leakage.permeance
    turns = design.windings.secondary.turns
    inductance = thick.leakage.permeance * turns**2 + thick.leakage.lead_loop_inductance
    assert inductance == pytest.approx(thick.leakage.inductance_secondary, rel=1e-9)


def test_the_short_test_follows_the_design_and_the_choice(kept: Kept) -> None:
    """3 A/mm2 in a thin primary, half of what the mains drives in a thick one, the chosen current where it can flow."""
    thin = varied(plain_job(), {"windings.primary.conductor": {"round": 0.5e-3}})
    wanted = frozenset({Part.SHORT_TEST})
    test = estimate(thin, wanted=wanted, characteristics=kept).short_circuit.reduced_voltage_test
    assert test.primary_current_rms == pytest.approx(3 * np.pi / 16, rel=1e-9)
    thick = varied(
        plain_job(), {"leads.length": 20.0, "leads.area": 10e-6, "mains.source_resistance": 0.0, "mains.voltage": 120.0}
    )
    found = estimate(thick, wanted=wanted, characteristics=kept).short_circuit
    # without source impedance the mains drives what the short takes; half the current is half the volts where nothing
    # saturates, and the core is far from it in either state
    assert found.reduced_voltage_test.primary_current_rms == pytest.approx(found.primary_current_rms / 2, rel=1e-9)
    assert found.reduced_voltage_test.primary_voltage_rms == pytest.approx(60, rel=0.02)
    chosen = estimate(thick.vary("limits.short_test_current", 0.3), wanted=wanted, characteristics=kept)
    assert chosen.short_circuit.reduced_voltage_test.primary_current_rms == pytest.approx(0.3, rel=1e-9)
    beyond = estimate(thick.vary("limits.short_test_current", 900.0), wanted=wanted, characteristics=kept)
    assert isinstance(beyond.short_circuit.reduced_voltage_test, Unknown)
    assert "900 A" in beyond.reasons["short_circuit.reduced_voltage_test"]
