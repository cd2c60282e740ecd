"""Everything that follows from a work piece's unknowns at one instant."""

from dataclasses import dataclass

from fem.arrays import Floats
from fem.work.contacts import AtFaces


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SpotSlopes:
    """Derivatives of and to the superheats of s spots.

    Parameters
    ----------
    of_left, of_right
        (s,) rate of the node on either side to the superheat.
    to
        (s, 4) the superheat's rate to the unknowns on either side, to itself and to the current.
    of_resistance
        (s,) resistance to the superheat [ohm/K^2].
    """

    of_left: Floats
    of_right: Floats
    to: Floats
    of_resistance: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Everything that follows from the unknowns at one instant.

    Unknowns, (n,): the left jaw's temperature [K], the enthalpy of each cell [J/m^3], the right jaw's temperature: the
    nodes; then the superheat of each of s spots [K^2].

    Parameters
    ----------
    rate
        (n,) time derivative of the unknowns.
    lower, diagonal, upper
        Derivative of the nodes' rates to the nodes at a fixed current, tridiagonal.
    spots
        Derivatives of and to the superheats.
    at
        What the contacts are.
    rate_by_current
        (n,) of the rates to the current.
    resistance, resistance_by_current
        Between the lead ends [ohm], [ohm/A].
    ohms
        (cells,) of the bars' [ohm].
    resistance_by_unknown
        (n,) of the resistance to the unknowns.
    current
        R.m.s. [A].
    temperature
        (n,) [K].
    radiated, convected
        (cells,) flux from the cells' surface [W/m^2].
    thermal
        (nodes,) from the middle of each cell to its faces [K/W].
    flow, into_left, into_right
        (faces,) heat through each face from left to right, and the part of its contact's heat that goes either way [W].
    """

    rate: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    rate_by_current: Floats
    resistance: float
    resistance_by_current: float
    ohms: Floats
    resistance_by_unknown: Floats
    current: float
    temperature: Floats
    radiated: Floats
    convected: Floats
    thermal: Floats
    spots: SpotSlopes
    at: AtFaces
    flow: Floats
    into_left: Floats
    into_right: Floats
