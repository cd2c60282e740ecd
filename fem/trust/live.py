"""What is live: old windings, extra turns, lead ends, stray paths, the test's supply."""

from __future__ import annotations

from collections.abc import Iterator

from fem.assumptions import assumed
from fem.design.transformer import Design
from fem.digits import brief
from fem.trust.caution import PRACTICE, Caution, Danger
from geometries.cores.stacked import Joint

TOUCH_VOLTAGE = assumed("touch voltage").typical
"""A.c. voltage [V] up to which bare parts may be touched where dry."""
EXTRA_LOW, LOW = 50.0, 1000.0
"""A.c. voltages [V] at which extra-low and low voltage end: IEC 62257-7-1, 3.55, as std.iec.ch prints it; IEC 61140."""
STRAY = 100.0
"""Current [A] that no protective conductor of a cord is made for: common practice."""


def old_winding(design: Design, volts_per_turn: float) -> Iterator[Caution]:
    """Warn of a high-voltage winding where the core is built as those of microwave ovens: welded, or with shunts."""
    if design.core.joint is not Joint.WELDED and design.shunt is None:
        return
    built = (
        "with shunts" if design.shunt is not None else f"that is {'' if design.core.joint_told else 'perhaps '}welded"
    )
    text = (
        f"Cut out all of the old high-voltage winding, of some 2 kV. A core {built} may be of a microwave oven, whose "
        f"winding makes {brief(volts_per_turn)} V a turn, its inner end on the core."
    )
    numbers = {"saturation.volts_per_turn_V": volts_per_turn}
    yield Caution(about="old winding", text=text, danger=Danger.KILLS, source=PRACTICE, numbers=numbers)


def extra_turns(design: Design) -> Iterator[Caution]:
    """Warn of turns in series with the primary: their wire is often that of the secondary's side."""
    if design.windings.primary.extra is None:
        return
    text = (
        f"Insulate the extra turns for mains, {brief(design.mains.voltage)} V against earth. They are in series with "
        "the primary, tails and splices too: keep them apart from the secondary."
    )
    yield Caution(about="extra turns", text=text, danger=Danger.KILLS, source="IEC 61140, basic insulation")


def touch(voltage: float) -> Iterator[Caution]:
    """Warn of lead ends at more than may be touched, by the band that their voltage [V] is in."""
    if voltage <= TOUCH_VOLTAGE:
        return
    if voltage <= EXTRA_LOW:
        means, source = f"Above {TOUCH_VOLTAGE:g} V a.c. bare parts are guarded even where dry", "IEC 60364-4-41"
    elif voltage <= LOW:
        means = f"Above {EXTRA_LOW:g} V a.c. or 120 V d.c. it is no extra-low voltage: guarded and earthed as mains"
        source = "IEC 61140; IEC 61201"
    else:
        means, source = f"Above {LOW:g} V a.c. it is high voltage, and not for a bench", "IEC 61140"
    text = f"Do not touch the lead ends: {brief(voltage)} V with nothing connected. {means}."
    numbers = {"open_circuit.secondary_voltage_rms_V": voltage}
    yield Caution(about="touch", text=text, danger=Danger.KILLS, source=source, numbers=numbers)


def variable_transformer(voltage: float) -> Caution:
    """Warn of what feeds the test on reduced voltage [V]."""
    text = (
        f"A variable transformer does not isolate, at {brief(voltage)} V as at none. Both its ends and the primary may "
        "stand at full mains voltage against earth."
    )
    numbers = {"short_circuit.reduced_voltage_test.primary_voltage_rms_V": voltage}
    return Caution(about="short test", text=text, danger=Danger.KILLS, source=PRACTICE, numbers=numbers)


def stray(current: float) -> Iterator[Caution]:
    """Warn of an r.m.s. secondary current [A] that finds other ways than the leads."""
    if current < STRAY:
        return
    text = (
        f"Clamp both leads to the work itself, or {brief(current)} A stray. Earth one point only: else they go back "
        "through bench, machine frames and protective conductors, which no breaker watches and which burn."
    )
    numbers = {"short_circuit.secondary_current_rms_A": current}
    source = "HSE, stray welding currents"
    yield Caution(about="stray paths", text=text, danger=Danger.BURNS, source=source, numbers=numbers)
