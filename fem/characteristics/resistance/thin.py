"""Alternating-current resistance of windings whose conductors are thin against the skin depth.

Such conductors hardly change the field they lie in, so the static leakage field with evenly spread current tells the
loss: the mean of its square over each winding's block. No further field is solved. With k_x and k_y the loss per metre
of one conductor in a squared field across the build and along the leg [W/(m T2)], N turns of n wires in hand of area a
each, and N / (n sigma a) i^2 their d.c. loss per metre of a side,

    excess = N n (k_x mean Bx^2 + k_y mean By^2) / (N / (n sigma a) i^2) = (N n)^2 sigma a (k_x X + k_y Y),

X and Y the mean squares per squared ampere-turn [T2/A2]: the current cancels.

References
----------
P. L. Dowell, Proc. IEE 113 (1966) 1387. J. A. Ferreira, IEEE Trans. Power Electron. 9 (1994) 127: own and field parts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.characteristics.resistance.wire import (
    STRAND_DIAMETER,
    cable_field_loss,
    round_wire_field_loss,
    round_wire_ratio,
    strip_field_loss,
)
from fem.field.harmonic.problem import skin_depth
from fem.materials.metals import metal
from geometries.windings.turns import Winding

THIN = 1.0
"""Largest size of a conductor, in skin depths, for which the static field tells its loss."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WireLoss:
    """What one conductor of a winding does at one frequency.

    Parameters
    ----------
    conductivity
        Of the metal at its temperature [S/m].
    thickness
        Largest size of what is solid in it, in skin depths [-]; of one strand, for a cable.
    own_ratio
        A.c. against d.c. resistance without the field of others [-].
    along_x, along_y
        Loss per metre and squared field across the build and along the leg [W/(m T2)].
    """

    conductivity: float
    thickness: float
    own_ratio: float
    along_x: float
    along_y: float


def wire_loss(winding: Winding, frequency: float, temperature: float) -> WireLoss:
    """Return what one conductor of a winding does.

    Parameters
    ----------
    winding
        The winding.
    frequency
        [Hz].
    temperature
        [K].

    Notes
    -----
    For a strip no own part is added: counted from the field smeared over its cell, the loss in foils that fill their
    layers is x^4/45 too high already (5 p^2 against 5 p^2 - 1 in Dowell's formula for p layers). For a cable it is
    that of a solid wire of the same resistance, after IEC 60287-1-1: an upper bound for fine, twisted strands.
    """
    conductor = winding.conductor
    sigma = 1 / float(metal(winding.material).resistivity(temperature))
    depth = skin_depth(sigma, frequency)
    width, height, area = conductor.bare_width, conductor.bare_height, conductor.conducting_area
    if conductor.strip is not None:
        return WireLoss(
            conductivity=sigma,
            thickness=max(width, height) / depth,
            own_ratio=1.0,
            along_x=strip_field_loss(height, width, sigma, frequency),
            along_y=strip_field_loss(width, height, sigma, frequency),
        )
    solid_radius = float(np.sqrt(area / np.pi))
    own = round_wire_ratio(solid_radius, sigma, frequency)
    if conductor.cable is not None:
        loss, thickness = cable_field_loss(area, sigma, frequency), STRAND_DIAMETER / depth
    else:
        loss, thickness = round_wire_field_loss(solid_radius, sigma, frequency), width / depth
    return WireLoss(conductivity=sigma, thickness=thickness, own_ratio=own, along_x=loss, along_y=loss)


def field_excess(winding: Winding, wire: WireLoss, squared_x: float, squared_y: float) -> float:
    """Return how much the field of all turns adds to the a.c. against the d.c. resistance [-].

    Parameters
    ----------
    winding, wire
        The winding and what one of its conductors does.
    squared_x, squared_y
        Mean squared field over its block, per squared ampere-turn, across the build and along the leg [T2/A2].
    """
    loss = wire.along_x * squared_x + wire.along_y * squared_y
    return float(winding.conductors**2 * loss * wire.conductivity * winding.conductor.conducting_area)
