"""Supply and overcurrent devices: what they accept, and relations that hold whatever the numbers."""

from itertools import pairwise
from math import inf, isinf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fem.heat.phases import Phase
from fem.mains.devices import Device, Type, curve, opening_times
from fem.mains.forecasts import Behaviour, forecast, forecast_duty, forecast_peak
from fem.mains.supply import (
    SupplyImpedance,
    impedance_from_dip,
    prospective_current,
    run_impedance,
)

DEVICES = [
    *(Device(type=kind, rating=rating) for kind in (Type.B, Type.C, Type.D) for rating in (6.0, 32.0, 40.0, 80.0)),
    *(Device(type=Type.RATING_ONLY, rating=rating) for rating in (15.0, 40.0, 60.0, 110.0)),
    *(Device(type=Type.PLUG_FUSE, rating=rating) for rating in (3.0, 13.0)),
]


@pytest.mark.parametrize("device", DEVICES, ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_times_fall_with_current_and_keep_their_order(device: Device) -> None:
    currents = device.rating * np.geomspace(0.5, 60.0, 400)
    times = np.array(opening_times(device, currents))
    assert np.all(times[0] <= times[1])
    for edge in times:
        assert np.all(edge[1:] <= edge[:-1] * (1 + 1e-12))
    assert np.isinf(times[:, 0]).all()
    assert np.isfinite(times[:, -1]).all()


@pytest.mark.parametrize("device", DEVICES, ids=lambda d: f"{d.type.value} {d.rating:g}")
def test_a_block_of_currents_is_its_members(device: Device) -> None:
    points = np.r_[curve(device).early[:, 0], curve(device).late[:, 0]]
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
    times = [forecast(device, 32.0, 1.0, preload=p).earliest for p in (0.0, 8.0, 14.0, 18.0, 40.0)]
    assert all(a > b for a, b in pairwise(times))
    # From 1.13 times the rating on the device is as warm as it may be: nothing is left.
    assert times[-1] == pytest.approx(0.0, abs=1e-12)
    assert forecast(device, 8.0, preload=15.0).earliest == inf


def test_between_points_the_edges_are_straight_in_log_scales() -> None:
    # The stated choice of the model: half way between 1.13 (3600 s) and 2.55 (1 s) by ratio lies their geometric mean;
    # beyond 7.69 times (0.2 s) a fuse opens at constant I^2 t.
    breaker = Device(type=Type.C, rating=16.0)
    assert opening_times(breaker, 16.0 * (1.13 * 2.55) ** 0.5)[0] == pytest.approx(60.0, rel=1e-6)
    fuse = Device(type=Type.PLUG_FUSE, rating=13.0)
    assert opening_times(fuse, 200.0)[1] == pytest.approx(0.25 * opening_times(fuse, 100.0)[1], rel=1e-6)


def test_preload_is_that_of_a_thermal_image() -> None:
    # d(theta)/dt = (I^2 - theta)/tau from theta = Ip^2 to (1.13 In)^2, tau chosen so that the cold time fits: the same
    # image integrated by scipy must arrive at the same time (rtol 1e-10).
    device = Device(type=Type.B, rating=16.0)
    cold, warm = forecast(device, 32.0, 1.0), forecast(device, 32.0, 1.0, preload=12.0)
    held = (1.13 * 16.0) ** 2

    def arrival(tau: float, theta: float) -> float:
        def crossing(_: float, y: np.ndarray) -> float:
            return float(y[0]) - held

        crossing.terminal = True
        image = solve_ivp(lambda _, y: (32.0**2 - y) / tau, (0, 100), [theta], events=crossing, rtol=1e-10, atol=1e-8)
        return float(image.t_events[0][0])

    tau = cold.earliest / arrival(1.0, 0.0)
    assert warm.earliest == pytest.approx(arrival(tau, 144.0), rel=1e-6)


def test_duty_is_the_worse_of_mean_and_burst() -> None:
    device = Device(type=Type.B, rating=16.0)
    gentle = forecast_duty(device, [Phase(duration=10.0, primary_current=10.0)])
    assert gentle.behaviour is gentle.mean.behaviour is Behaviour.HOLDS
    hard = forecast_duty(device, [Phase(duration=1.0, primary_current=90.0), Phase(duration=3600.0)])
    assert hard.mean.behaviour is Behaviour.HOLDS
    assert hard.behaviour is hard.burst.behaviour is Behaviour.OPENS


def test_peak_of_a_fuse_is_held_against_half_a_period() -> None:
    fuse = Device(type=Type.PLUG_FUSE, rating=13.0)
    # 100 A r.m.s. takes at least 0.01 s.
    assert forecast_peak(fuse, 95.0 * 2**0.5).behaviour is Behaviour.HOLDS
    assert forecast_peak(fuse, 105.0 * 2**0.5).behaviour is Behaviour.MAY_OPEN


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: Device(type=Type.B, rating=0.0), "got 0.0"),
        (lambda: Device(type=Type.PLUG_FUSE, rating=16.0), "up to 13 A"),
        (lambda: opening_times(DEVICES[0], -1.0), "got -1.0"),
        (lambda: forecast(DEVICES[0], 1.0, 0.0), "got 0.0"),
        (lambda: forecast(DEVICES[0], 1.0, preload=nan), "got nan"),
        (lambda: forecast_peak(DEVICES[0], inf), "got inf"),
        (lambda: forecast_duty(DEVICES[0], []), "got 0"),
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
