"""The contacts of a work piece as its march sees them: resistances, where their heat arises, what they conduct."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from fem.arrays import Floats, Integers
from fem.materials.contact import LORENZ
from fem.work.bodies import Joint
from fem.work.rows import Rowwise
from fem.work.spot import SETTLING, Spots


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AtSpots:
    """What s spots of each of m members add to the equations, and its slopes to the bodies and the superheat.

    Parameters
    ----------
    rate
        (m, s) of the superheat [K^2/s].
    left, right
        (3, m, s) slopes of the resistance whose heat arises on either side [ohm/K, ohm/K, ohm/K^2].
    conducts
        (3, m, s) slopes of the contact's thermal resistance, turned round [1/W, 1/W, 1/(W K)].
    rate_by
        (4, m, s) slopes of `rate`, the last to the current.
    growth, hottest
        (m, s) radius over that of the cold spot [-], hottest place [K].
    """

    rate: Floats
    left: Floats
    right: Floats
    conducts: Floats
    rate_by: Floats
    growth: Floats
    hottest: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AtFaces:
    """What contacts put in the way, by face.

    Parameters
    ----------
    left, right
        (m, faces) resistance whose heat arises on either side [ohm]; both together are the contact's.
    by_current
        (m, faces) slope of both together to the current [ohm/A].
    thermal
        (m, faces) resistance to heat [K/W].
    spots
        What else spots do.
    """

    left: Floats
    right: Floats
    by_current: Floats
    thermal: Floats
    spots: AtSpots


class Contacts(Rowwise):
    """All contacts of m work pieces of one shape.

    Parameters
    ----------
    joints
        (m, contacts) from the left jaw's to the right jaw's, the constriction of the last told from the jaw.
    faces
        (contacts,) where each lies among all faces.
    count
        Of all faces.

    Notes
    -----
    `Spots` says what constrictions of metals with a film in each resist, where their heat goes and what they conduct;
    the faces conduct beside. Its laws take the temperatures in the middle of the cells on either side. A contact of
    carbon drops U0 i/(i + i0), half its heat on either side: the law of metals does not hold in it.
    """

    ROWS = ("resistance", "thermal", "drop", "drop_from", "beside", "highest_resistance")

    def __init__(self, joints: Sequence[Sequence[Joint]], faces: Sequence[int], count: int) -> None:
        m = len(joints)
        self.resistance, self.thermal, self.drop = np.zeros((3, m, count))
        self.drop_from = np.ones((m, count))
        narrow = [place for place, joint in enumerate(joints[0]) if joint.constriction is not None]
        self.faces = np.array([faces[place] for place in narrow], dtype=np.int64)
        self.beside = np.array([[row[place].conductance for place in narrow] for row in joints])
        turned, films = [], []
        for k, row in enumerate(joints):
            sides = []
            for face, joint in zip(faces, row, strict=True):
                if (way := joint.constriction) is None:
                    self.resistance[k, face] = joint.resistance
                    self.thermal[k, face] = 1 / joint.conductance
                    self.drop[k, face], self.drop_from[k, face] = joint.drop, joint.drop_from
                else:
                    sides.append(way.turned if face == count - 1 else way)
            turned.append(sides)
            films.append([row[place].resistance for place in narrow])
        self.spots = Spots(turned, films) if narrow else None
        self.highest_resistance = np.array([sum(joint.highest_resistance for joint in row) for row in joints])

    def take(self, rows: Integers) -> Self:
        """Return those of some members."""
        other = super().take(rows)
        other.spots = None if self.spots is None else self.spots.take(rows)
        return other

    def at(self, temperature: Floats, superheat: Floats, current: Floats, grown: Floats) -> AtFaces:
        """Return what they are.

        Parameters
        ----------
        temperature
            (m, nodes) [K].
        superheat
            (m, s) [K^2].
        current
            (m,) [A].
        grown
            (m, s) growths so far [-].
        """
        left, by_current = 0.5 * self.resistance, np.zeros_like(self.resistance)
        if self.drop.any():
            whole = current[:, None] + self.drop_from
            left += 0.5 * self.drop / whole
            by_current = -self.drop / whole**2
        right, thermal = left.copy(), self.thermal.copy()
        if self.spots is None:
            none, wide = np.zeros(superheat.shape), np.zeros((3, *superheat.shape))
            spots = AtSpots(
                rate=none,
                left=wide,
                right=wide,
                conducts=wide,
                rate_by=np.zeros((4, *none.shape)),
                growth=none,
                hottest=none,
            )
            return AtFaces(left=left, right=right, by_current=by_current, thermal=thermal, spots=spots)
        f = self.faces
        t = np.stack([temperature[:, f], temperature[:, f + 1]])
        law, by = self.spots.with_slopes(t, superheat, grown)
        narrow, film = law.constriction, law.film
        left[:, f], right[:, f] = law.to_left, narrow + film - law.to_left
        both = t[0] + t[1]
        led = 0.5 * LORENZ * both / law.thermal
        whole = led + self.beside
        thermal[:, f] = 1 / whole
        heating = (current * current / LORENZ)[:, None]
        square = (narrow + 2 * film) * narrow
        rate_by = np.empty((4, *superheat.shape))
        rate_by[:3] = 2 * heating * ((narrow + film) * by.constriction + narrow * by.film)
        rate_by[2] -= 1
        rate_by[3] = 2 * current[:, None] * square / LORENZ
        conducts = -by.thermal / law.thermal
        conducts[:2] += 1 / both
        spots = AtSpots(
            rate=(heating * square - superheat) / SETTLING,
            left=by.to_left,
            right=by.constriction + by.film - by.to_left,
            conducts=led * conducts / whole**2,
            rate_by=rate_by / SETTLING,
            growth=law.growth,
            hottest=law.hottest,
        )
        return AtFaces(left=left, right=right, by_current=by_current, thermal=thermal, spots=spots)
