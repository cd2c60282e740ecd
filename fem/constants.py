"""Constants of nature and of convention [SI]."""

from math import pi

MU0 = 4e-7 * pi
"""Magnetic constant [H/m]; the 2019 SI value differs by less than 1e-9 relative."""

ZERO_CELSIUS = 273.15
"""[K], by definition of the degree Celsius."""

REFERENCE_TEMPERATURE = 293.15
"""20 degC [K], at which resistivities are stated: IEC 60028."""

ROOM = 298.15
"""25 degC [K], a workshop where nothing else is said: common practice, no source."""
