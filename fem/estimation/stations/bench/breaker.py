"""What a breaker, or a fuse, makes of the machine's currents, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import inf, isfinite

from fem.assumptions import assumed
from fem.design.mains import Mains
from fem.digits import brief, duration
from fem.estimation.inputs.supply import devices_of
from fem.mains.devices import Device, Type, opening_times
from fem.mains.forecasts import Behaviour, forecast_peak
from fem.mains.typical import typical_time
from fem.quantity import Unknown
from fem.trust.caution import COMPUTED, PRACTICE, Caution, Danger

AT_ONCE = 0.1
"""Time [s] within which a breaker opens that opens at once: IEC 60898-1, table 7."""
SLOW_TRIP = (
    (120.0, "within a minute or two"),
    (3600.0, "within the hour"),
    (7200.0, "within two hours"),
)
"""Time [s] within which a breaker has opened for certain, and how that is said."""
HIGH_IDLE_SHARE = assumed("high idle current").typical
"""Share of the breaker's rating above which an idle current is worth a word [-]."""


def of_breaker(
    text: str,
    danger: Danger = Danger.DISTURBS,
    *,
    source: str = COMPUTED,
    numbers: Mapping[str, float] | None = None,
) -> Caution:
    """Return a caution about the breaker."""
    return Caution(about="breaker", text=text, danger=danger, source=source, numbers=numbers or {})


def breaker_cautions(mains: Mains, currents: Mapping[str, float], first_peak: float | Unknown) -> Iterator[Caution]:
    """Say what the branch circuit's breaker, and any fuse, makes of the machine.

    Parameters
    ----------
    mains
        As described.
    currents
        R.m.s. currents of the primary by state, in words that begin a sentence [A].
    first_peak
        After switching on at the worst moment [A].
    """
    if mains.breaker is None:
        text = "No breaker given: its circuit was not checked. Whether it carries these currents is open."
        yield of_breaker(text, Danger.DAMAGES, source=PRACTICE)
    elif not mains.breaker_type:
        text = (
            f'"{mains.breaker}" names no standard: a breaker of UL 489 is taken. That guarantees no least time above '
            'its rating. Write "B16" or "C16" for IEC 60898-1, "gG16" for a fuse, "UL 489 16 A" for this.'
        )
        yield of_breaker(text, source="UL 489")
    for name, device in devices_of(mains).items():
        yield from _device_cautions(name, device, currents, first_peak)


def _device_cautions(
    name: str, device: Device, currents: Mapping[str, float], first_peak: float | Unknown
) -> Iterator[Caution]:
    for state, current in currents.items():
        times = current / device.rating
        if says := _trips(device, current):
            text = f"{state} {brief(current)} A, {times:.2f} times the {name}. That {says}."
            yield of_breaker(text, source=device.type.standard)
        elif state == "Idle" and times > HIGH_IDLE_SHARE:
            yield of_breaker(f"Idle alone takes {times:.0%} of what the {name} carries.")
    if (
        not isinstance(first_peak, Unknown)
        and device.type is not Type.UL_489
        and forecast_peak(device, first_peak).behaviour is not Behaviour.HOLDS
    ):
        text = (
            f"A first peak of {brief(first_peak)} A may {'blow' if device.type.is_fuse else 'trip'} the {name}. That "
            "is where it is switched on at the worst moment, and nothing is wrong."
        )
        yield of_breaker(text, source=device.type.standard)


def _trips(device: Device, current: float) -> str | None:
    """Say what a device does at a current, or None where it carries it."""
    above = current > device.rating
    if device.type is Type.UL_489:
        typical = typical_time(device, current) or inf
        commonly = f"commonly trips it after some {duration(typical)}" if isfinite(typical) else "commonly holds"
        found = f"{commonly} (common practice), but no least time is guaranteed: look up its curve"
        return found if above else None
    earliest, latest = opening_times(device, current)
    verb = "blow" if device.type.is_fuse else "trip"
    if latest <= AT_ONCE:
        return f"{verb}s it at once"
    if earliest < AT_ONCE:
        return f"may {verb} it at once"
    slow = next((text for most, text in SLOW_TRIP if latest <= most), None)
    return (
        f"{verb}s it {slow}" if slow else f"may {verb} it" if earliest < inf else "above its rating" if above else None
    )
