"""The examples run, and say what they are to say."""

import json
from importlib.resources import files

import pytest

from fem.design.job import read_job
from fem.examples import BUILT_IN, UnknownExample, example, example_names
from fem.examples.sweep_turns import sweep
from fem.report.files.json import to_json


def test_every_example_is_a_good_job():
    assert BUILT_IN in example_names()
    for name in example_names():
        read_job(str(files("fem.examples") / f"{name}.toml"))
    with pytest.raises(UnknownExample, match="there is bandsaw_brazing"):
        example("cheese")


def test_the_built_in_example_is_the_shop_s_supply():
    found = sweep(range(3, 4))[3]
    # A salvaged core runs hot: 1.4 to 1.6 T (common practice, no source).
    assert 1.4 < found.saturation.peak_flux_density < 1.6
    # An ideal transformer: 3/230 of the mains; the magnetising drop and the leakage take a few per cent at most.
    assert 0.95 * 3.0 < found.open_circuit.secondary_voltage_rms < 3.0
    assert found.cautions
    assert json.loads(to_json(found))["title"] == "Bandsaw blade brazing supply"


@pytest.mark.slow
def test_the_sweep_gives_more_voltage_with_more_turns():
    found = sweep(range(1, 4))
    voltages = [found[n].open_circuit.secondary_voltage_rms for n in (1, 2, 3)]
    # Each turn adds the same volts: what links the secondary differs by its height alone, some per cent.
    assert [v / voltages[0] for v in voltages] == pytest.approx([1, 2, 3], rel=0.03)
