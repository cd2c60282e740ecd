"""Alternating-current resistance of one round wire or strip: its own field and the field around it.

A wire carries its current with a resistance raised by its own field, and takes a loss from the field of all others.
In a round wire the two are independent by symmetry. All fields are r.m.s. values.
"""

from __future__ import annotations

from math import pi

import numpy as np

from fem.bessel import round_quotient
from fem.constants import MU0
from fem.field.harmonic.problem import skin_depth

STRAND_DIAMETER = 0.51e-3
"""Of the strands of flexible cable, class 5, from 50 mm2 up [m]. IEC 60228:2004, table 3."""


def round_wire_ratio(radius: float, conductivity: float, frequency: float) -> float:
    """Return the a.c. against the d.c. resistance of an isolated round wire [-].

    Parameters
    ----------
    radius
        [m].
    conductivity
        [S/m].
    frequency
        [Hz].

    Notes
    -----
    Re[k a J0(k a) / (2 J1(k a))], k = (1 - j)/skin depth. E. B. Rosa and F. W. Grover, Bull. Bureau of Standards 8
    (1911), table XXII; NBS Circular 74, table 18.
    """
    z = (1 + 1j) * radius / skin_depth(conductivity, frequency)
    return 0.5 * complex(round_quotient(z)).real


def round_wire_field_loss(radius: float, conductivity: float, frequency: float) -> float:
    """Return the loss per metre of a round wire without current in a uniform field across it, per squared field.

    Parameters
    ----------
    radius
        [m].
    conductivity, frequency
        [S/m], [Hz].

    Returns
    -------
    [W/(m T2)], of the field far from the wire.

    Notes
    -----
    Inside A = c J1(k r) sin(phi) with c = 2 B/(k J0(k a)); the loss is the power that flows in through the surface,
    omega pi a/mu0 Re[j c J1 (c k J1')*]. It is the field term of J. A. Ferreira, IEEE Trans. Power Electron. 9
    (1994) 127, and tends to pi sigma omega^2 a^4/4 in wires thin against the skin depth.
    """
    # q = k a J0/J1: c J1 = 2 a/q and c k J1' = 2 (1 - 1/q).
    q = complex(round_quotient((1 + 1j) * radius / skin_depth(conductivity, frequency)))
    slope = 2 * (1 - 1 / q)
    return 2 * pi * frequency * pi * radius / MU0 * (1j * 2 * radius / q * slope.conjugate()).real


def strip_field_loss(thickness: float, face: float, conductivity: float, frequency: float) -> float:
    """Return the loss per metre of a strip in a uniform field along its face, per squared field.

    Parameters
    ----------
    thickness
        Across the field [m].
    face
        Along the field [m].
    conductivity
        [S/m].
    frequency
        [Hz].

    Returns
    -------
    [W/(m T2)].

    Notes
    -----
    sigma omega^2 face thickness^3/12 times 6 (sinh x - sin x)/(x^3 (cosh x + cos x)), x = thickness/skin depth: exact
    where the field is kept along the face. P. L. Dowell, Proc. IEE 113 (1966) 1387, the term with the layers squared.
    """
    x = thickness / skin_depth(conductivity, frequency)
    # Below 0.01 the quotient loses digits and is 1 to 1e-9.
    shield = 1.0 if x < 0.01 else 6 * (np.sinh(x) - np.sin(x)) / (x**3 * (np.cosh(x) + np.cos(x)))
    return float(conductivity * (2 * pi * frequency) ** 2 * face * thickness**3 / 12 * shield)


def cable_field_loss(area: float, conductivity: float, frequency: float) -> float:
    """Return the loss per metre of a flexible cable in a uniform field, per squared field [W/(m T2)].

    Parameters
    ----------
    area
        Conducting area [m2].
    conductivity, frequency
        [S/m], [Hz].

    Notes
    -----
    The strands alone, of `STRAND_DIAMETER`: the twist sets what the field induces between them against itself.
    """
    strands = area / (pi / 4 * STRAND_DIAMETER**2)
    return strands * round_wire_field_loss(STRAND_DIAMETER / 2, conductivity, frequency)
