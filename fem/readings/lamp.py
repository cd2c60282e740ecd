"""An incandescent lamp in series: it limits the current of what may be shorted, and warms with it."""

from __future__ import annotations

from fem.arrays import Number

EXPONENT = 0.541
"""Current of a lamp goes as so great a power of its volts about their rated value: gas-filled tungsten lamps, exponents
of the IES Lighting Handbook, from memory."""
COLD = 1 / 14
"""Resistance of a filament cold over that at its rated volts: tungsten at 20 degC 5.5 uohm cm, at 2800 K 80 (CRC
Handbook, from memory)."""


def lamp_resistance(watts: float, volts: float, current: Number) -> Number:
    """Return the resistance of a filament that a current has warmed for good, (...,) [ohm].

    Parameters
    ----------
    watts, volts
        Rated [W], [V].
    current
        R.m.s., (...,) [A].

    Notes
    -----
    R = R_0 (I/I_0)^(1/EXPONENT - 1) about the rated current, not below that cold: both are joined as fourth powers, so
    that the resistance rises with the current everywhere. A filament takes tenths of a second to warm: within a period
    its resistance holds.
    """
    hot, share = volts**2 / watts, current * volts / watts
    rest = 1 - COLD**4
    return hot * (COLD**4 + rest * share ** (4 * (1 / EXPONENT - 1))) ** 0.25
