"""The mains as the circuit sees them: the impedance up to the primary, and what guards it."""

from __future__ import annotations

from math import pi

from fem.assumptions import assumed
from fem.design.mains import Mains
from fem.mains.devices import Device, Type
from fem.mains.supply import SupplyImpedance, impedance_from_dip, run_impedance

REFERENCE_IMPEDANCE = (assumed("resistance of the supply").typical, assumed("reactance of the supply").typical)
"""Resistance and reactance [ohm] at 50 Hz of a public single-phase supply, line plus neutral: the reference impedance
of IEC TR 60725. What is assumed where a job says nothing of the source."""


def supply_of(mains: Mains) -> SupplyImpedance:
    """Return the impedance of line plus neutral up to the primary: the source's, and that of the run behind it."""
    if mains.dip_voltage is not None and mains.dip_current is not None:
        found = impedance_from_dip(mains.voltage, mains.dip_voltage, mains.dip_current, mains.frequency)
    elif mains.source_given:
        ohms, henries = (0.0 if told is None else told for told in (mains.source_resistance, mains.source_inductance))
        found = SupplyImpedance(resistance=ohms, inductance=henries)
    else:
        resistance, reactance = REFERENCE_IMPEDANCE
        found = SupplyImpedance(resistance=resistance, inductance=reactance / (2 * pi * 50.0))
    if mains.run_length is not None and mains.run_area is not None:
        found = found + run_impedance(mains.run_length, mains.run_area)
    return found


def devices_of(mains: Mains) -> dict[str, Device]:
    """Return what guards the circuit, by a name for it."""
    found: dict[str, Device] = {}
    if mains.breaker_rating is not None:
        # A rating alone is taken as UL 489: the one standard that knows no letter, and the least that is guaranteed.
        kind = Type(mains.breaker_type or "UL 489")
        found[f"{mains.breaker} {'fuse' if kind.is_fuse else 'breaker'}"] = Device(
            type=kind, rating=mains.breaker_rating
        )
    if mains.plug_fuse is not None:
        found[f"{mains.plug_fuse:g} A plug fuse"] = Device(type=Type.BS_1362, rating=mains.plug_fuse)
    return found
