"""The machines' truths and the tool: told the true values, it says the same; made anew, they are as kept."""

from typing import Any

import pytest

import fem
from fem.estimation import characterised
from fem.estimation.parts import Part
from tests.truth.exact import design_of, sheet_given
from tests.truth.machines import Machine, machines, made

TOOL = {
    "saturation.peak_flux_density_T": 0.003,
    "saturation.knee_voltage_V": 0.003,
    "idle.current_rms_A": 0.01,
    "idle.current_peak_A": 0.01,
    "idle.core_loss_W": 0.01,
    "leakage.permeance_H": 0.01,
    "leakage.inductance_secondary_H": 0.01,
    "open_circuit.secondary_voltage_rms_V": 0.003,
    "short_circuit.input_power_W": 0.02,
    "load.power_W": 0.02,
    "load.input_power_W": 0.02,
}
"""The tool's own relative errors, as its README tells them; powers go with the square of currents. Others 1 %."""
ELSEWHERE = ("switch_on.", "short_circuit.secondary_first", "work_piece.", "heating.")
"""What hangs on what the tool takes at its worst, or is not told to it here."""


def flat(tables: dict[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in tables.items():
        found |= flat(value, f"{before}{key}.") if isinstance(value, dict) else {before + key: value}
    return found


ALL = {m.name: m for m in machines()}
QUICK = ("narrow 1", "wide window 1")


@pytest.mark.parametrize(
    "name", [n if n in QUICK else pytest.param(n, marks=pytest.mark.slow) for n in ALL if n.endswith((" 1", " 2"))]
)
def test_told_the_true_values_the_tool_says_the_truths(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Within both sides' own errors."""
    machine = ALL[name]
    monkeypatch.setattr(characterised, "sheet_of", lambda core, shunt=None: sheet_given(machine))
    found = flat(fem.estimate(design_of(machine), wanted={Part.CONDUCTOR_SLICE}).to_dict())
    for key, true in machine.truths.items():
        if not key.startswith(ELSEWHERE):
            assert found[key] == pytest.approx(true, rel=machine.error(key) + TOOL.get(key, 0.01)), key


@pytest.mark.slow
@pytest.mark.parametrize("name", [m.name for m in ALL.values() if m.name.endswith(" 1")])
def test_made_anew_a_machine_is_the_same(name: str) -> None:
    """Steps of time are chosen by an integrator: a hundredth of a per cent, and currents of peaks a thousandth."""
    kept: Machine = ALL[name]
    (again,) = made([(kept.base, int(name.rpartition(" ")[2]))])
    assert again.told == kept.told
    for key, true in kept.truths.items():
        assert again.truths[key] == pytest.approx(true, rel=1e-3), key
