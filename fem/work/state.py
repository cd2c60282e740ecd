"""Everything that follows from the unknowns of work pieces at one instant of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from fem.arrays import Floats, Integers
from fem.work.contacts import AtFaces


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SpotSlopes:
    """Derivatives of and to the superheats of s spots of m members.

    Parameters
    ----------
    of_left, of_right
        (m, s) rate of the node on either side to the superheat.
    to
        (4, m, s) the superheat's rate to the unknowns on either side, to itself and to the current.
    of_resistance
        (m, s) resistance to the superheat [ohm/K^2].
    """

    of_left: Floats
    of_right: Floats
    to: Floats
    of_resistance: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Everything that follows from the unknowns of m members at one instant of each.

    Unknowns, (m, n): the left jaw's temperature [K], the enthalpy of each cell [J/m^3], the right jaw's temperature:
    the nodes; then the superheat of each of s spots [K^2].

    Parameters
    ----------
    rate
        (m, n) time derivative of the unknowns.
    lower, diagonal, upper
        (m, nodes) derivative of the nodes' rates to the nodes at a fixed current, tridiagonal: to the
        node before, to itself, to the next; nothing of the first to the one before, of the last to the next.
    spots
        Derivatives of and to the superheats.
    at
        What the contacts are.
    rate_by_current
        (m, n) of the rates to the current.
    resistance, resistance_by_current
        (m,) between the lead ends [ohm], [ohm/A].
    ohms
        (m, cells) of the bars' [ohm].
    resistance_by_unknown
        (m, n) of the resistance to the unknowns.
    current
        (m,) r.m.s. [A].
    temperature
        (m, n) [K].
    radiated, convected
        (m, cells) flux from the cells' surface [W/m^2].
    thermal
        (m, nodes) from the middle of each cell to its faces [K/W].
    flow, into_left, into_right
        (m, faces) heat through each face from left to right, and the part of its contact's heat that goes
        either way [W].
    """

    rate: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    rate_by_current: Floats
    resistance: Floats
    resistance_by_current: Floats
    ohms: Floats
    resistance_by_unknown: Floats
    current: Floats
    temperature: Floats
    radiated: Floats
    convected: Floats
    thermal: Floats
    spots: SpotSlopes
    at: AtFaces
    flow: Floats
    into_left: Floats
    into_right: Floats


class Kept(NamedTuple):
    """What is kept of a state, of k moments: see `State`; resistance of contacts (k, faces) [ohm], heat of spots."""

    temperature: Floats
    thermal: Floats
    flow: Floats
    into_left: Floats
    into_right: Floats
    ohms: Floats
    left: Floats
    right: Floats
    hottest: Floats
    resistance: Floats

    @classmethod
    def of(cls, state: State, rows: Integers) -> Kept:
        """Return what is kept of some rows (k,)."""
        at = state.at
        return cls(
            state.temperature[rows],
            state.thermal[rows],
            state.flow[rows],
            state.into_left[rows],
            state.into_right[rows],
            state.ohms[rows],
            at.left[rows],
            at.right[rows],
            at.spots.hottest[rows],
            state.resistance[rows],
        )
