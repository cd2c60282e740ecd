"""What a file of readings is refused for, each in one line."""

from pathlib import Path

import pytest

from fem.design.tables import JobError
from fem.examples import example_design
from fem.readings.file import read_readings
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
            '[[secondary_volts]]\nvoltage = "24 V"',
            "secondary_volts.0.voltage: 24 V on 3 turns, where 230 V on the primary's",
        ),
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
