"""Physical constants [SI]."""

from math import pi

MU0 = 4e-7 * pi
"""Magnetic constant [H/m]; the 2019 SI value differs by less than 1e-9 relative."""
