"""What a file of readings is refused for, each in one line."""

from pathlib import Path

import pytest

from fem.design.tables import JobError
from fem.examples import example_design
from fem.readings.described import Readings
from fem.readings.file import doubtful, far_off, read_readings
from fem.readings.reading import readings_of

FILE = """
[bench]
temperature = "18 degC"

[[resistance]]
resistance = "1.3 ohm"
leads_together = "0.2 ohm"

[[no_load]]
primary_voltage = "120 V"
current = "0.41 A +-2 %"
"""


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ("", ""),
        (
            '[[no_load]]\nprimary_voltage = "120 V"\ncurrent = "0.5 A"',
            "no_load.1.current: 500 mA here and 410 mA at no_load.0.current",
        ),
        ('[[no_load]]\nprimary_voltage = "120 V"\ncurrent = "0.413 A"', ""),
        ('[[no_load]]\nprimary_voltage = "130 V"\ncurrent = "0.5 A"', ""),
        ('[[no_load]]\nprimary_voltage = "120 V"\nmeter = "true r.m.s."\ncurrent = "0.5 A"', ""),
        ('[[no_load]]\nprimary_voltage = "120 V"', "no_load.1: nothing was read: give current or power"),
        (
            '[[no_load]]\nprimary_voltage = "120"\ncurrent = "1 A"',
            "no_load.1.primary_voltage: expected a voltage with its unit",
        ),
        ('[[no_load]]\ncurrent = "1 V"', "no_load.1.current: expected a current with its unit"),
        ('[[no_load]]\ncurrent = "-1 A"', "no_load.1.current: -1 A is outside 100 uA to 20 kA"),
        ('[[no_load]]\ncurent = "1 A"', 'no_load.1.curent: unknown key "curent"; did you mean "current"?'),
        (
            '[[no_load]]\nprimary_voltage = "60 V"\ncurrent = "0.1 A"\npower = "15 W"',
            "no_load.1.power: 15 W is more than volts times amperes, 6 VA",
        ),
        (
            '[[joined]]\nprimary_voltage = "20 V"\nprimary_current = "2 A"\nsecondary_current = "100 kA"',
            "joined.0.secondary_current: 100 kA is outside",
        ),
        (
            '[[joined]]\nprimary_current = "50 A"\nclamp_range = "40 A"',
            "joined.0: primary_current 50 A is beyond clamp_range, 40 A",
        ),
        (
            '[[secondary_volts]]\nvoltage = "840 V"',
            "secondary_volts.0.voltage: 840 V on 3 turns, where one turn of the primary alone would have 230 V",
        ),
        ('[[secondary_volts]]\nvoltage = "24 V"', ""),
        ('[[no_load]]\nlamp = "100 W"\nprimary_voltage = "300 V"', "no_load.1.primary_voltage: 300 V behind a lamp"),
        (
            '[[resistance]]\nresistance = "0.2 ohm"\nleads_together = "0.3 ohm"',
            "resistance.1: leads_together must lie below resistance",
        ),
        ('[[mains]]\nloaded_voltage = "220 V"', "mains.0: loaded_voltage and current belong together"),
        ('[[loaded]]\nvoltage = "2 V"', "loaded.0: load: tell its ohms, or current"),
    ],
)
def test_refusals(tmp_path: Path, more: str, line: str) -> None:
    file = tmp_path / "readings.toml"
    file.write_text(FILE + more, encoding="utf-8")
    design = example_design().vary("windings.secondary.turns", 3)
    if line:
        with pytest.raises(JobError) as refused:
            read_readings(file, design)
        assert [one for one in refused.value.lines if line in one], refused.value.lines
        assert len(refused.value.lines) == 1
    else:
        assert readings_of(read_readings(file, design))


def test_what_lies_far_off_the_turns_is_said_and_fitted() -> None:
    design = example_design()
    turns = design.windings.primary.turns
    offs = ((90, 0.4), (100, 0.6), (110, 1.9), (120, 2.2))
    volts = [{"turns": 10, "primary_voltage": f"{u} V", "voltage": f"{10 * u / turns * k:.4g} V"} for u, k in offs]
    joined = {"primary_voltage": "10 V", "primary_current": "1 A", "secondary_current": f"{3 * turns} A"}
    described = Readings.model_validate({"search_coil": volts, "joined": [joined]}, context={"job_file": True})
    keys = ["search_coil.0.voltage", "search_coil.3.voltage"]
    assert [fault.key for fault in far_off(readings_of(described), design)] == [*keys, "joined.0.secondary_current"]
    assert not doubtful(readings_of(described), design)
