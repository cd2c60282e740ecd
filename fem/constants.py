"""Physical constants [SI]."""

from math import pi

MU0 = 4e-7 * pi
"""Magnetic constant [H/m]; the 2019 SI value differs by less than 1e-9 relative."""

ZERO_CELSIUS = 273.15
"""[K], by definition of the degree Celsius."""
