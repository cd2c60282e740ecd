"""Supply and overcurrent devices: what they accept, and relations that hold whatever the numbers."""

from itertools import pairwise
from math import exp, inf, isinf, log, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fem.heat.phases import Phase
from fem.mains.devices import Device, Type, deciding_points, opening_times, points_of
from fem.mains.forecasts import Behaviour, forecast, forecast_burst, forecast_duty, forecast_peak
from fem.mains.supply import (
    SupplyImpedance,
    impedance_from_dip,
    prospective_current,
    run_impedance,
)
from fem.mains.typical import typical_burst, typical_duty, typical_time

DEVICES = [
    *(Device(type=kind, rating=rating) for kind in (Type.B, Type.C, Type.D) for rating in (6.0, 32.0, 40.0, 80.0)),
    *(Device(type=Type.UL_489, rating=rating) for rating in (15.0, 40.0, 60.0, 110.0)),
    *(Device(type=Type.BS_1362, rating=rating) for rating in (3.0, 5.0, 13.0)),
]
FUSES = [Device(type=Type.GG, rating=rating) for rating in (10.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0)]


@pytest.mark.parametrize("device", [*DEVICES, *FUSES], ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_times_fall_with_current_and_keep_their_order(device: Device) -> None:
    currents = device.rating * np.geomspace(0.5, 60.0, 400)
    times = np.array(opening_times(device, currents))
    assert np.all(times[0] <= times[1])
    for edge in times:
        assert np.all(edge[1:] <= edge[:-1] * (1 + 1e-12))
    assert np.isinf(times[:, 0]).all()
    assert np.isfinite(times[:, -1]).all()


@pytest.mark.parametrize("device", [*DEVICES, *FUSES], ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_a_block_of_currents_is_its_members(device: Device) -> None:
    points = np.r_[points_of(device).holds[:, 0], points_of(device).opens[:, 0]]
    block = device.rating * np.r_[0.0, points, 1.01 * points, 100.0].reshape(2, -1)
    for many in (
        lambda i: forecast(device, i, 2.0),
        lambda i: forecast(device, i, 2.0, preload=0.8 * device.rating),
        lambda i: forecast_peak(device, i),
    ):
        found, alone = many(block), [many(float(i)) for i in block.flat]
        for name in ("multiple", "earliest", "latest", "may_open", "opens"):
            np.testing.assert_array_equal(getattr(found, name).ravel(), [getattr(one, name) for one in alone])


@given(
    resistance=st.floats(0.01, 2.0),
    ratio=st.floats(0.0, 3.0),
    current=st.floats(0.5, 20.0),
    frequency=st.sampled_from([50.0, 60.0]),
)
def test_dip_gives_its_impedance_back(resistance: float, ratio: float, current: float, frequency: float) -> None:
    z = SupplyImpedance(resistance=resistance, inductance=ratio * resistance / (2 * np.pi * frequency))
    without = abs(230.0 + z.at(frequency) * current)
    found = impedance_from_dip(without, 230.0, current, frequency, x_over_r=ratio)
    # A dip of 5 mV in 230 V is known to 1e-16 x 230/0.005 of itself.
    assert found.resistance == pytest.approx(resistance, rel=1e-9)
    assert found.inductance == pytest.approx(z.inductance, rel=1e-9, abs=1e-15)


def test_preload_only_hastens() -> None:
    device = Device(type=Type.C, rating=16.0)
    times = [forecast(device, 32.0, 1.0, preload=p).earliest for p in (0.0, 8.0, 14.0, 15.5, 40.0)]
    assert all(a > b for a, b in pairwise(times))
    # From the rating on the device may be as warm as it may ever be: nothing is left.
    assert times[-1] == pytest.approx(0.0, abs=1e-12)
    assert forecast(device, 8.0, preload=15.0).earliest == inf


@pytest.mark.parametrize("device", DEVICES, ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_times_are_the_widest_that_the_points_allow(device: Device) -> None:
    # Steps at a point: at it the point itself counts, beside it the next. A curve that hugs either edge keeps each
    # point and does not rise, so no standard that fixes no more than these excludes it.
    points = points_of(device)
    near = np.r_[points.holds[:, 0], points.opens[:, 0]]
    multiples = np.unique(np.r_[near, near - 1e-6, near + 1e-6, np.geomspace(0.5, 60.0, 300)])
    earliest, latest = opening_times(device, device.rating * multiples)
    for m, least, most in zip(multiples, earliest, latest, strict=True):
        assert least == max((t for k, t in points.holds if k >= m - 1e-9), default=0.0)
        assert most == min((t for k, t in points.opens if k <= m + 1e-9), default=inf)
    for edge in (earliest, latest):
        assert np.all(edge[1:] <= edge[:-1])
        for k, t in points.holds:
            assert edge[np.searchsorted(multiples, k)] >= t
        for k, t in points.opens:
            assert edge[np.searchsorted(multiples, k)] <= t


@pytest.mark.parametrize("device", FUSES, ids=lambda d: f"{d.rating:g}")
def test_gates_are_steps_down_to_a_corridor_of_i2t(device: Device) -> None:
    points = points_of(device)
    currents = device.rating * np.geomspace(0.9, 100.0, 4001)
    earliest, latest = opening_times(device, currents)
    for k, t in points.holds:
        assert np.all(earliest[currents <= k * device.rating] >= t)
    for k, t in points.opens:
        assert np.all(latest[currents >= k * device.rating] <= t * (1 + 1e-9))
    # Slower than 0.01 s each time is one of the standard's; faster ones keep their I2t.
    assert set(earliest[earliest >= 0.01]) <= {inf, 3600.0, 10.0, 0.1, 0.01}
    assert set(latest[latest > 0.01 * (1 + 1e-9)]) <= {inf, 3600.0, 5.0, 0.1, 0.01}
    np.testing.assert_allclose((earliest * currents**2)[earliest < 0.01], points.least_i2t, rtol=1e-12)
    fast = latest < 0.01 * (1 - 1e-9)
    np.testing.assert_allclose((latest * currents**2)[fast], points.most_i2t, rtol=1e-12)


@pytest.mark.parametrize("device", [*DEVICES, *FUSES], ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_the_common_time_keeps_the_standard(device: Device) -> None:
    # Between the guaranteed times at every current, and never rising with it.
    currents = device.rating * np.geomspace(0.5, 60.0, 1501)
    found = [typical_time(device, float(i)) for i in currents]
    if device.type is Type.BS_1362:
        assert set(found) == {None}
        return
    times = np.array(found, dtype=np.float64)
    earliest, latest = opening_times(device, currents)
    assert np.all(earliest <= times * (1 + 1e-9))
    assert np.all(times <= latest * (1 + 1e-9))
    assert np.all(times[1:] <= times[:-1])


def test_the_common_time_is_that_of_the_release() -> None:
    # d(theta)/dt = (m^2 - theta)/60 s from 0 up to 1.25^2, at m = 2: 60 s ln(4/(4 - 1.5625)) = 29.7 s.
    assert typical_time(Device(type=Type.UL_489, rating=20.0), 40.0) == pytest.approx(29.72, abs=0.005)
    # In the middle of the gates of a gG fuse of 16 A, sqrt(33 65) A: sqrt(10 5) s.
    assert typical_time(Device(type=Type.GG, rating=16.0), (33 * 65) ** 0.5) == pytest.approx(50**0.5)


def test_the_points_that_decide_are_named() -> None:
    breaker, other = Device(type=Type.C, rating=16.0), Device(type=Type.UL_489, rating=20.0)
    assert deciding_points(breaker, 32.0) == "IEC 60898-1: holds 1 s at 2.55 times, opens within 1 h at 1.45 times"
    assert deciding_points(breaker, 17.0) == "IEC 60898-1: holds 1 h at 1.13 times, need not open below 1.45 times"
    assert deciding_points(breaker, 96.0) == "IEC 60898-1: no least time above 5 times, opens within 15 s at 5 times"
    assert deciding_points(breaker, 15.0) == "IEC 60898-1: holds for good at 1 times"
    fuse = Device(type=Type.GG, rating=16.0)
    assert deciding_points(fuse, 40.0) == "IEC 60269: holds 0.1 s at 5.312 times, opens within 1 h at 1.6 times"
    assert deciding_points(fuse, 400.0) == "IEC 60269: I2t not below 300 A2s, I2t not above 1000 A2s"
    assert deciding_points(other, 44.0) == "UL 489: no least time above 1 times, opens within 2 min at 2 times"


@given(
    ratio=st.floats(1.01, 20.0),
    preload=st.floats(0.01, 0.99),
    held=st.floats(1.0, 1.45),
)
def test_no_thermal_image_opens_before_the_early_edge(ratio: float, preload: float, held: float) -> None:
    # d(theta)/dt = (I^2 - theta)/tau from theta = Ip^2 up to Ik^2: in units of tau ln((I^2 - Ip^2)/(I^2 - Ik^2)).
    # Whatever its Ik between rating and conventional current, it keeps 1 - Ip^2/In^2 of its time from cold.
    current = ratio * held
    cold = np.log(current**2 / (current**2 - held**2))
    warm = np.log((current**2 - preload**2) / (current**2 - held**2))
    device = Device(type=Type.B, rating=1.0)
    multiple = 2.0
    share = forecast(device, multiple, 1.0, preload=preload).earliest / forecast(device, multiple, 1.0).earliest
    assert warm / cold >= share * (1 - 1e-9)


def test_the_thermal_image_integrated_gives_the_hot_curve() -> None:
    # The closed form above against scipy (rtol 1e-10), I = 2, Ip = 0.75, Ik = 1.13 times the rating.
    def crossing(_: float, y: np.ndarray) -> float:
        return float(y[0]) - 1.13**2

    crossing.terminal = True
    image = solve_ivp(lambda _, y: 4.0 - y, (0, 100), [0.75**2], events=crossing, rtol=1e-10, atol=1e-10)
    assert image.t_events[0][0] == pytest.approx(np.log((4 - 0.75**2) / (4 - 1.13**2)), rel=1e-8)


def test_duty_is_the_worse_of_mean_and_burst() -> None:
    device = Device(type=Type.B, rating=16.0)
    gentle = forecast_duty(device, [Phase(duration=10.0, primary_current=10.0)])
    assert gentle.behaviour is gentle.mean.behaviour is Behaviour.HOLDS
    hard = forecast_duty(device, [Phase(duration=1.0, primary_current=90.0), Phase(duration=3600.0)])
    assert hard.mean.behaviour is Behaviour.HOLDS
    assert hard.behaviour is hard.burst.behaviour is Behaviour.OPENS


@given(
    held=st.floats(1.13, 1.44),
    rank=st.floats(0.0, 1.0),
    current=st.floats(0.5, 2.99),
    idle=st.floats(0.0, 0.4),
    on=st.floats(0.05, 2000.0),
    off=st.floats(0.05, 4000.0),
)
def test_verdicts_on_bursts_hold_for_every_thermal_image(
    held: float, rank: float, current: float, idle: float, on: float, off: float
) -> None:
    # All images tau d(theta)/dt = I^2 - theta that keep the points of a B breaker from cold: 1 to 60 s at 2.55 times,
    # within an hour at 1.45, not within one at 1.13 (Ik of 1.13 or more), 0.1 s at 3. tau is drawn from what that
    # leaves; the end of a burst in the steady cycle, in closed form, is where it opens first.
    at = [log(m**2 / (m**2 - held**2)) for m in (2.55, 1.45, 3.0)]
    low, high = max(1 / at[0], 0.1 / at[2]), min(60 / at[0], 3600 / at[1], 45 / at[2])
    tau = low * (high / low) ** rank
    a, b = exp(-on / tau), exp(-off / tau)
    hottest = (current**2 * (1 - a) + idle**2 * (1 - b) * a) / (1 - a * b)
    phases = [Phase(duration=on, primary_current=current), Phase(duration=off, primary_current=idle)]
    behaviour = forecast_duty(Device(type=Type.B, rating=1.0), phases).behaviour
    # At Ik itself the image never arrives but in rounding, 1e-9 of room.
    assert behaviour is not Behaviour.HOLDS or hottest < held**2 * (1 + 1e-9)
    assert behaviour is not Behaviour.OPENS or hottest >= held**2 * (1 - 1e-9)


def course(durations: list[float], currents: list[float]) -> list[Phase]:
    return [Phase(duration=t, primary_current=i) for t, i in zip(durations, currents, strict=True)]


@pytest.mark.parametrize("device", [*DEVICES, *FUSES], ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_a_burst_of_one_current_is_that_current(device: Device) -> None:
    # However finely it is cut: to rounding of the sum of its stretches.
    for multiple in (0.9, 1.5, 2.7, 4.0, 12.0, 70.0):
        current = multiple * device.rating
        for phases in (course([2.0], [current]), course([2.0 / 7] * 7, [current] * 7)):
            found, plain = forecast_burst(device, phases, preload=3.0), forecast(device, current, 2.0, preload=3.0)
            assert (found.behaviour, float(found.multiple)) == (plain.behaviour, pytest.approx(multiple))
            assert (float(found.earliest), float(found.latest)) == (float(plain.earliest), float(plain.latest))
            common = typical_time(device, current)
            assert typical_burst(device, phases) == (common if common is None else pytest.approx(common))


@given(
    held=st.floats(1.13, 1.44),
    rank=st.floats(0.0, 1.0),
    burst=st.lists(st.tuples(st.floats(0.01, 500.0), st.floats(0.5, 2.99)), min_size=1, max_size=6),
    off=st.floats(0.05, 4000.0),
)
def test_verdicts_on_changing_bursts_hold_for_every_thermal_image(
    held: float, rank: float, burst: list[tuple[float, float]], off: float
) -> None:
    # Images as in `test_verdicts_on_bursts_hold_for_every_thermal_image`, through currents that rise and fall; in
    # closed form from piece to piece, from cold, and in the steady cycle with a pause.
    device, phases = Device(type=Type.B, rating=1.0), course(*map(list, zip(*burst, strict=True)))
    at = [log(m**2 / (m**2 - held**2)) for m in (2.55, 1.45, 3.0)]
    low, high = max(1 / at[0], 0.1 / at[2]), min(60 / at[0], 3600 / at[1], 45 / at[2])
    tau = low * (high / low) ** rank

    def ends(theta: float) -> list[float]:
        found = [theta]
        for time, current in burst:
            found.append(current**2 + (found[-1] - current**2) * exp(-time / tau))
        return found

    clock, opened = 0.0, inf
    for (time, current), theta in zip(burst, ends(0.0), strict=False):
        # at its own current the image arrives but in rounding
        if current > held * (1 + 1e-9) and opened == inf:
            after = tau * log((current**2 - theta) / (current**2 - held**2))
            opened = clock + after if after <= time else inf
        clock += time
    found = forecast_burst(device, phases)
    assert found.earliest <= opened * (1 + 1e-9) or opened == inf
    assert not found.opens or opened <= float(found.latest) * (1 + 1e-9)
    assert found.behaviour is not Behaviour.HOLDS or opened == inf
    settled = ends(0.0)[-1] * exp(-off / tau) / (1 - exp(-(clock + off) / tau))
    hottest = max(ends(settled))
    behaviour = forecast_duty(device, [*phases, Phase(duration=off)]).behaviour
    assert behaviour is not Behaviour.HOLDS or hottest < held**2 * (1 + 1e-9)
    assert behaviour is not Behaviour.OPENS or hottest >= held**2 * (1 - 1e-9)


def test_a_falling_burst_lies_between_its_currents() -> None:
    # 3 times a C16 for 2 s, then 1.5 times: 3 times opens it from 0.1 s on, 1.5 times for good within the hour.
    device = Device(type=Type.C, rating=16.0)
    found = forecast_burst(device, course([2.0, 8.0], [48.0, 24.0]))
    assert (found.behaviour, found.earliest, found.latest) == (Behaviour.MAY_OPEN, 0.1, 3600.0)
    # 2.6 times for 70 s has opened it after 60 s, whatever comes before and after.
    through = forecast_burst(device, course([5.0, 70.0, 5.0], [16.0, 41.6, 16.0]))
    assert (through.behaviour, through.latest) == (Behaviour.OPENS, 65.0)


def test_the_common_time_of_a_burst_is_the_image_integrated() -> None:
    # scipy at 1e-10: 4.7 In falling as exp(-t/20 s), in 400 stretches of its mean square, to second order in each.
    device = Device(type=Type.UL_489, rating=20.0)
    edges = np.linspace(0.0, 40.0, 401)
    squares = 9000 * 10 * (np.exp(-edges[:-1] / 10) - np.exp(-edges[1:] / 10)) / 0.1
    phases = course([0.1] * 400, list(np.sqrt(squares)))

    def crossing(_: float, y: np.ndarray) -> float:
        return float(y[0]) - 625.0

    crossing.terminal = True
    image = solve_ivp(
        lambda t, y: (9000 * np.exp(-t / 10) - y) / 60, (0, 40), [0.0], events=crossing, rtol=1e-10, atol=1e-8
    )
    assert typical_burst(device, phases) == pytest.approx(float(image.t_events[0][0]), rel=1e-4)
    # a gG fuse below 0.01 s melts at one I^2 t, however the current changes
    fuse = Device(type=Type.GG, rating=16.0)
    steady = typical_time(fuse, 2000.0)
    assert steady is not None
    changing = typical_burst(fuse, course([steady / 4, 1.0], [3000.0, 1000.0]))
    assert changing == pytest.approx(steady / 4 + (1 - 9 / 16) * 4 * steady)


def test_memory_is_bounded_both_ways() -> None:
    # C16 at twice its rating, 1.5 s of every 61.5 s: Ie = 32 sqrt(1.5/61.5) = 5 A, a tenth of In^2 in Ie^2.
    phases = [Phase(duration=1.5, primary_current=32.0), Phase(duration=60.0)]
    found = forecast_duty(Device(type=Type.C, rating=16.0), phases)
    assert found.forgotten.earliest == 1.0
    assert found.burst.earliest == pytest.approx(1 - 4 * 1.5 / 61.5)
    assert found.behaviour is Behaviour.MAY_OPEN


def test_common_practice_tells_bursts_apart() -> None:
    # Quickest and slowest common image, 20 and 200 s, settle at 0.30 and 0.11 In^2 of 1.5625 (2 In, 1.5 s of 61.5 s);
    # at 2 In for 60 s of 70 s both pass it: 3.9 and 3.5.
    device = Device(type=Type.C, rating=16.0)

    def bursts(on: float, off: float, current: float = 32.0) -> Behaviour | None:
        return typical_duty(device, [Phase(duration=on, primary_current=current), Phase(duration=off)])

    assert bursts(1.5, 60.0) is Behaviour.HOLDS
    assert bursts(60.0, 10.0) is Behaviour.OPENS
    assert bursts(15.0, 60.0) is Behaviour.MAY_OPEN
    assert bursts(0.5, 60.0, 200.0) is Behaviour.OPENS
    assert typical_duty(FUSES[0], [Phase(duration=1.0), Phase(duration=1.0)]) is None


def test_peak_of_a_fuse_is_held_against_half_a_period() -> None:
    fuse = Device(type=Type.BS_1362, rating=13.0)
    # 50 A r.m.s. takes at least 0.1 s, 100 A 0.01 s.
    assert forecast_peak(fuse, 49.0 * 2**0.5).behaviour is Behaviour.HOLDS
    assert forecast_peak(fuse, 105.0 * 2**0.5).behaviour is Behaviour.MAY_OPEN


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: Device(type=Type.B, rating=0.0), "got 0.0"),
        (lambda: Device(type=Type.BS_1362, rating=16.0), "up to 13 A"),
        (lambda: Device(type=Type.GG, rating=12.0), "got 12.0"),
        (lambda: opening_times(DEVICES[0], -1.0), "got -1.0"),
        (lambda: forecast(DEVICES[0], 1.0, 0.0), "got 0.0"),
        (lambda: forecast(DEVICES[0], 1.0, preload=nan), "got nan"),
        (lambda: forecast_peak(DEVICES[0], inf), "got inf"),
        (lambda: forecast_duty(DEVICES[0], []), "got 0"),
        (lambda: forecast_burst(DEVICES[0], []), "got 0"),
        (lambda: SupplyImpedance(resistance=-0.1), "got -0.1"),
        (lambda: run_impedance(10.0, 3e-6), "3 mm2"),
        (lambda: run_impedance(0.0, 2.5e-6), "got 0.0"),
        (lambda: impedance_from_dip(230.0, 231.0, 10.0, 50.0), "got 230.0"),
        (lambda: impedance_from_dip(230.0, 225.0, 0.0, 50.0), "got 0.0"),
        (lambda: impedance_from_dip(230.0, 225.0, 1.0, 50.0, x_over_r=-1.0), "got -1.0"),
        (lambda: prospective_current(230.0, SupplyImpedance(resistance=0.0), 50.0), "got 0"),
    ],
)
def test_numbers_out_of_range_are_refused(wrong: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        wrong()


def test_nothing_opens_at_rest() -> None:
    assert all(isinf(t) for device in DEVICES for t in opening_times(device, 0.0))
