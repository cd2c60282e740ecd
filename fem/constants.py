"""Constants of nature and of convention [SI]."""

from math import pi

from geometries.described import units

MU0 = 4e-7 * pi
"""Magnetic constant [H/m]; the 2019 SI value differs by less than 1e-9 relative."""

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m^2 K^4)], exact since 2019: CODATA 2018."""

ZERO_CELSIUS = units.ZERO_CELSIUS
"""[K], by definition of the degree Celsius."""

REFERENCE_TEMPERATURE = units.REFERENCE_TEMPERATURE
"""20 degC [K], at which resistivities are stated: IEC 60028."""

ROOM = 298.15
"""25 degC [K], a workshop where nothing else is said."""
