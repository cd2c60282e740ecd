"""Readings of meters: what a file of them says, and what the model has for each."""

from dataclasses import replace
from functools import cache
from math import sqrt

import numpy as np
import pytest

from fem.circuit.instruments import Meter, shown, steady_reading
from fem.circuit.steady.half_period import first_half
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.steady.voltage_sweep import idle_curve
from fem.estimation.case import Case
from fem.estimation.stations.bench.meters import meters
from fem.examples import example_design
from fem.readings import states
from fem.readings.accuracy import SHARED
from fem.readings.described import Readings
from fem.readings.predict import covariance, predict
from fem.readings.reading import Reading, readings_of
from fem.trust.doubts import doubts_of
from fem.trust.draws import draws
from tests.support.kept import KEPT

FEWER = 5e-4
"""What 64 points of half a period say beside 128, at most: a twentieth of what the best meter may be off."""


@cache
def case() -> Case:
    return Case(design=example_design(), source=KEPT)


@cache
def some() -> Case:
    return case().with_draws(draws(doubts_of(case().design), 8))


def told(**tables: object) -> tuple[Reading, ...]:
    """Return readings of tables as a file has them; a lone table is one of its kind."""
    lists = {name: value if isinstance(value, list) or name == "bench" else [value] for name, value in tables.items()}
    return readings_of(Readings.model_validate(lists, context={"job_file": True}))


def lone(**tables: object) -> list[float]:
    return predict(case(), told(**tables))[:, 0].tolist()


def test_meters_of_a_sine() -> None:
    # averaging meters are scaled so that they are right on a sine; 128 points of |sin| tell its mean within 1e-4
    half = 3.0 * sqrt(2) * np.sin(np.pi * (np.arange(128) + 0.3) / 128)
    assert shown(Meter.TRUE_RMS, half) == pytest.approx(3.0, rel=1e-12)
    assert shown(Meter.AVERAGING, half) == pytest.approx(3.0, rel=1e-4)
    assert shown(Meter.PEAK, half) == pytest.approx(3.0 * sqrt(2), rel=1e-6)
    assert shown(Meter.PEAK_AS_RMS, half) == pytest.approx(3.0, rel=1e-6)


def test_search_coil_counts_the_primary() -> None:
    # U/u is the ratio of the turns but for the drop of the no-load current across the primary's resistance, at a third
    # of the mains below a per mille of the volts
    volts = case().design.mains.voltage / 3
    coil = {"turns": 10, "voltage": "5 V", "primary_voltage": f"{volts} V"}
    (shows,) = lone(bench={"voltmeter": "true r.m.s."}, search_coil=coil)
    assert 10 * volts / shows == pytest.approx(case().circuit.primary_turns, rel=1e-3)
    # on the secondary's place it links what open lead ends do
    ends = {"voltage": "2 V", "primary_voltage": f"{volts} V"}
    over, open_ends = lone(search_coil=coil | {"place": "secondary"}, secondary_volts=ends)
    assert over / open_ends == pytest.approx(10 / case().design.windings.secondary.turns, rel=1e-12)


@pytest.mark.parametrize("share", [0.3, 0.7, 1.05])
def test_no_load_is_the_voltage_sweep_without_a_source(share: float) -> None:
    volts = share * case().design.mains.voltage
    test = {"primary_voltage": f"{volts} V", "current": "1 A", "power": "1 W"}
    amperes, watts = lone(bench={"meter": "true r.m.s."}, no_load=test)
    swept = idle_curve(replace(case().circuit, source_resistance=0.0, source_inductance=0.0), [volts])
    assert amperes == pytest.approx(swept.current_rms[0], rel=FEWER)
    assert watts == pytest.approx(swept.real_power[0], rel=FEWER)


def test_volts_at_the_terminals_behind_a_source() -> None:
    # the mains' own state, told by the volts that it has at the terminals
    idle = case().at_idle
    volts = {"primary_voltage": f"{idle.terminal_voltage_rms!r} V", "supply": "mains"}
    amperes, on_mains = lone(bench={"meter": "true r.m.s."}, no_load=[volts | {"current": "1 A"}, {"current": "1 A"}])
    assert on_mains == pytest.approx(idle.current_rms, rel=FEWER)
    assert amperes == pytest.approx(
        on_mains, rel=2e-4
    )  # 1e-5 of the volts, which differ by their points, are more here


@pytest.mark.parametrize(("word", "name"), [("averaging", "averaging"), ("peak hold", "peak")])
def test_meters_on_the_mains_are_those_of_the_station(word: str, name: str) -> None:
    station = meters(case())
    (shows,) = lone(bench={"meter": word}, no_load={"current": "1 A"})
    # a peak by a parabola through the samples lies at most 1e-3 above the highest of them
    assert shows == pytest.approx(getattr(station.idle_current, name), rel=1e-3)
    assert getattr(steady_reading(case().at_idle.current), name) == pytest.approx(
        shown(Meter(word), first_half(case().at_idle.current)), rel=1e-3
    )


def test_joined_is_the_reduced_voltage_test() -> None:
    found = short_test(case().circuit, 3.0)
    test = {
        "primary_voltage": f"{found.primary_voltage_rms!r} V",
        "primary_current": "3 A",
        "secondary_current": "200 A",
        "power": "50 W",
    }
    shows = lone(bench={"meter": "true r.m.s."}, joined=test)
    # the station takes the coupling as on full mains, a per mille from that of the test's own flux
    expected = [found.primary_current_rms, found.secondary_current_rms, found.power]
    assert shows == pytest.approx(expected, rel=2e-3)
    # at such flux the waves are sines, of which averaging meters tell the r.m.s. value
    averaging = lone(joined=test)
    assert averaging == pytest.approx(shows, rel=3e-3)


def test_resistance_carries_its_temperature_and_leads() -> None:
    wound, at = case().windings.primary, case().design.temperature
    two, four, warm = lone(
        resistance=[
            {"resistance": "1 ohm", "leads_together": "0.3 ohm"},
            {"resistance": "1 ohm", "method": "four-wire"},
            {"resistance": "1 ohm", "method": "four-wire", "temperature": f"{at + 30} K"},
        ]
    )
    assert four == pytest.approx(wound.resistance, rel=1e-12)
    assert two == pytest.approx(wound.resistance + 0.3, rel=1e-12)
    # copper rises by 1/(234.5 + t) of itself a kelvin, t in degC (IEC 60076-1)
    assert warm / four == pytest.approx(1 + 30 / (234.5 + at - 273.15), rel=2e-3)


def test_a_block_is_its_members() -> None:
    readings = told(
        resistance={"resistance": "1 ohm"},
        search_coil={"turns": 10, "voltage": "5 V", "primary_voltage": "90 V", "place": "secondary"},
        no_load=[{"current": "1 A", "power": "9 W"}, {"current": "1 A", "primary_voltage": "260 V"}],
        joined=[{"primary_voltage": "30 V", "primary_current": "3 A"}, {"primary_current": "30 A"}],
        loaded=[{"load": "3 mohm", "current": "400 A"}, {"current": "300 A", "voltage": "2 V"}],
        joint_drop={"current": "200 A", "voltage": "20 mV"},
        mains={"idle_voltage": "230 V", "loaded_voltage": "226 V", "current": "9 A"},
    )
    together = predict(some(), readings)
    alone = np.concatenate([predict(some().member(place), readings) for place in range(some().members)], axis=1)
    assert np.isfinite(together).all()
    np.testing.assert_allclose(together, alone, rtol=1e-9)
    assert (np.ptp(together, axis=1) > 0).all()


def test_covariance_of_one_test() -> None:
    # of a linear choke amperes go as the volts: well below the knee they share the voltmeter's doubt about one to one
    readings = told(no_load={"primary_voltage": "80 V +-3 V", "current": "0.3 A +-1 mA", "power": "5 W +-0.01 W"})
    assert readings[0].uncertainty == pytest.approx(1e-3 / sqrt(3), rel=1e-12)
    found = covariance(case(), readings)
    amperes, watts = predict(case(), readings)[:, 0]
    # watts go with about the square of the volts, amperes with less than their first power
    by_volts = 3 / sqrt(3) / 80
    assert sqrt(found[1, 1]) == pytest.approx(2 * by_volts * watts, rel=0.2)
    assert 0.3 * by_volts * amperes < sqrt(found[0, 0]) < 1.2 * by_volts * amperes
    assert found[0, 1] / sqrt(found[0, 0] * found[1, 1]) > 0.95


def test_readings_of_one_meter_share_half_of_what_goes_with_the_reading() -> None:
    # ohmmeters are off by 1 % and 3 steps of 2000: of both parts' limits, over sqrt(3), only the first is shared
    ohms = told(resistance=[{"resistance": f"{value} ohm", "method": "four-wire"} for value in (2, 3)])
    found = covariance(case(), ohms)
    assert found[0, 1] == pytest.approx(SHARED * 0.02 * 0.03 / 3, rel=1e-9)
    assert np.diag(found) == pytest.approx([(0.02 + 3e-3) ** 2 / 3, (0.03 + 3e-2) ** 2 / 3], rel=1e-9)
    # volts of a coil go as the primary's: an error that both share cancels, told tolerances are parted as typical ones
    coil = {"turns": 10, "voltage": "5 V +-1 %", "primary_voltage": "80 V +-1 %"}
    (found,) = covariance(case(), told(search_coil=coil)).ravel()
    (shows,) = lone(search_coil=coil)
    first, second = (0.01 * volts / (0.01 * volts + 5 * full / 2000) for volts, full in ((5, 20), (80, 200)))
    off = 0.05**2 + (0.01 * shows) ** 2 - 2 * SHARED * first * second * 0.05 * 0.01 * shows
    assert found == pytest.approx(off / 3, rel=0.01)


def test_words_and_conditions() -> None:
    coil, amperes = told(
        bench={"temperature": "18 degC"},
        search_coil={"turns": 10, "voltage": "5 V", "primary_voltage": "90 V"},
        no_load={"current": "1.2 A +-2 %", "clamp_range": "40 A", "meter": "true r.m.s."},
    )
    assert amperes.words == "amperes in the mains lead, idle on the mains, true r.m.s. clamp of 40 A"
    assert coil.words == "volts of a search coil of 10 turns over the primary at 90 V, averaging meter"
    assert {c.key for c in coil.conditions} == {"bench.temperature", "search_coil.0.primary_voltage"}
    assert not amperes.accuracy.assumed
    assert coil.accuracy.assumed


def test_a_lamp_shares_the_mains_with_the_primary() -> None:
    # of a lamp far brighter than the machine needs nothing is left but its cold filament; a dim one takes nearly all
    lamps = [{"lamp": f"{w} W", "primary_voltage": "99 V", "current": "1 A"} for w in (15, 60, 300, 3000)]
    shows = np.reshape(lone(bench={"meter": "true r.m.s.", "voltmeter": "true r.m.s."}, no_load=lamps), (4, 2))
    amperes, volts = shows.T
    mains = case().design.mains.voltage
    assert (np.diff(volts) > 0).all()
    assert (np.diff(amperes) > 0).all()
    assert volts[-1] == pytest.approx(mains, rel=0.02)
    assert amperes[0] == pytest.approx(15 / mains, rel=0.01)
    # both numbers are those of one no-load state: at these volts the machine takes these amperes, whatever fed it, but
    # for the shape of its voltage, which lets it take less
    plain = lone(bench={"meter": "true r.m.s."}, no_load={"primary_voltage": f"{volts[0]} V", "current": "1 A"})
    assert plain[0] == pytest.approx(amperes[0], rel=0.1)


def test_points_behind_a_lamp(monkeypatch: pytest.MonkeyPatch) -> None:
    lamps = [{"lamp": f"{w} W", "primary_voltage": "99 V", "current": "1 A", "power": "1 W"} for w in (25, 100, 500)]
    few = lone(no_load=lamps)
    monkeypatch.setattr(states, "_LIMITED", 128)
    assert few == pytest.approx(lone(no_load=lamps), rel=1.5e-3)


def test_points_of_no_load(monkeypatch: pytest.MonkeyPatch) -> None:
    # deeper in saturation than on the mains: twice as many points change nothing that meters of either kind show
    volts = {"primary_voltage": f"{1.1 * case().design.mains.voltage} V"}
    tables = {"no_load": [volts | {"current": "1 A", "power": "1 W", "meter": m} for m in ("averaging", "true r.m.s.")]}
    tables["search_coil"] = [volts | {"turns": 10, "voltage": "5 V"}]
    few = lone(**tables)
    monkeypatch.setattr(states, "_POINTS", 128)
    assert few == pytest.approx(lone(**tables), rel=FEWER)


def test_loaded_ends_by_ohms_or_by_amperes() -> None:
    # amperes that a load was found to take lead back to its ohms, and to the volts across them
    bench = {"meter": "true r.m.s.", "voltmeter": "true r.m.s."}
    volts, amperes, watts = lone(
        bench=bench, loaded={"load": "3 mohm", "current": "1 A", "voltage": "1 V", "power": "9 W"}
    )
    assert volts == pytest.approx(3e-3 * amperes, rel=1e-9)
    again = lone(bench=bench, loaded={"current": f"{amperes!r} A", "voltage": "1 V", "power": "9 W"})
    assert again == pytest.approx([volts, watts], rel=1e-4)
    # with no load at all the lead ends' volts are those of the open secondary less nothing
    nothing = lone(bench=bench, loaded={"load": "1 kohm", "voltage": "1 V"}, secondary_volts={"voltage": "1 V"})
    assert nothing[0] == pytest.approx(nothing[1], rel=2e-3)


def test_what_cannot_be_reached_is_not_a_number() -> None:
    most = lone(bench={"meter": "true r.m.s."}, joined={"secondary_current": "1 A"})[0]
    assert np.isnan(lone(loaded={"current": f"{1.2 * most} A", "voltage": "1 V"})[0])


def test_mains_and_joints_by_ohms_law() -> None:
    mains = example_design().mains.model_copy(update={"source_resistance": 0.5, "source_inductance": 1e-3})
    one = Case(design=example_design().model_copy(update={"mains": mains}), source=KEPT)
    readings = told(mains={"idle_voltage": "230 V", "loaded_voltage": "226 V", "current": "9 A"})
    idle, under = predict(one, readings)[:, 0]
    assert idle == pytest.approx(mains.voltage, rel=1e-12)
    seen = abs(under + (0.5 + 1j * 2 * np.pi * mains.frequency * 1e-3) * 9)
    assert seen - idle == pytest.approx(one.circuit.source_resistance * 9 - 0.5 * 9, abs=1e-6)
