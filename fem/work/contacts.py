"""The contacts of a work piece as its march sees them: resistances, where their heat arises, what they conduct."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.materials.contact import LORENZ
from fem.work.bodies import Joint
from fem.work.spot import SETTLING, Spot


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AtSpots:
    """What s spots add to the equations, and how it goes with the temperatures on either side and the superheat.

    Parameters
    ----------
    rate
        (s,) of the superheat [K^2/s].
    left, right
        (s, 3) slopes of the resistance whose heat arises on either side [ohm/K, ohm/K, ohm/K^2].
    conducts
        (s, 3) slopes of the contact's thermal resistance, turned round [1/W, 1/W, 1/(W K)].
    rate_by
        (s, 4) slopes of `rate`, the last to the current.
    growth, hottest
        (s,) radius over that of the cold spot [-], hottest place [K].
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
        (faces,) resistance whose heat arises on either side [ohm]; both together are the contact's.
    by_current
        (faces,) slope of both together to the current [ohm/A].
    thermal
        (faces,) resistance to heat [K/W].
    spots
        What else spots do.
    """

    left: Floats
    right: Floats
    by_current: Floats
    thermal: Floats
    spots: AtSpots


class Contacts:
    """All contacts of a work piece.

    Parameters
    ----------
    joints
        From the left jaw's to the right jaw's, the constriction of the last told from the jaw.
    faces
        Where each lies among all faces.
    count
        Of all faces.

    Notes
    -----
    `Spot` says what a constriction of metals with a film in it resists, where its heat goes and what it conducts; the
    faces conduct beside. Its laws take the temperatures in the middle of the cells on either side. A contact of carbon
    drops U0 i/(i + i0), half its heat on either side: the law of metals does not hold in it.
    """

    def __init__(self, joints: Sequence[Joint], faces: Sequence[int], count: int) -> None:
        self.resistance, self.thermal = np.zeros(count), np.zeros(count)
        self.spots: list[Spot] = []
        self.faces: list[int] = []
        self.beside: list[float] = []
        pairs = list(zip(faces, joints, strict=True))
        self.drops = [(face, joint.drop, joint.drop_from) for face, joint in pairs if joint.drop]
        for face, joint in pairs:
            if (narrow := joint.constriction) is None:
                self.resistance[face] = joint.resistance
                self.thermal[face] = 1 / joint.conductance
            else:
                self.spots.append(Spot(narrow.turned if face == count - 1 else narrow, joint.resistance))
                self.faces.append(face)
                self.beside.append(joint.conductance)
        self.highest_resistance = sum(joint.highest_resistance for joint in joints)

    def at(self, temperature: Floats, superheat: Floats, current: float, grown: Floats) -> AtFaces:
        """Return what they are at the nodes' temperatures [K], (s,) superheats [K^2], a current [A], growths so far."""
        plain, thermal, by_current = self.resistance.copy(), self.thermal.copy(), np.zeros_like(self.resistance)
        for face, drop, start in self.drops:
            plain[face] += drop / (current + start)
            by_current[face] = -drop / (current + start) ** 2
        left, right = 0.5 * plain, 0.5 * plain
        s = len(self.spots)
        rate, growth, hottest = np.empty((3, s))
        by_left, by_right, conducts = np.empty((3, s, 3))
        rate_by = np.empty((s, 4))
        heating = current * current / LORENZ
        for k, (spot, face) in enumerate(zip(self.spots, self.faces, strict=True)):
            one, other, w = float(temperature[face]), float(temperature[face + 1]), float(superheat[k])
            law, slopes = spot.with_slopes(one, other, w, float(grown[k]))
            narrow, film = law.constriction, law.film
            left[face], right[face] = law.to_left, narrow + film - law.to_left
            led = 0.5 * LORENZ * (one + other) / law.thermal
            whole = led + self.beside[k]
            thermal[face] = 1 / whole
            square = (narrow + 2 * film) * narrow
            rate[k] = (heating * square - w) / SETTLING
            rate_by[k, 3] = 2 * current * square / (LORENZ * SETTLING)
            growth[k], hottest[k] = law.growth, law.hottest
            for d, by in enumerate(slopes):
                by_left[k, d] = by.to_left
                by_right[k, d] = by.constriction + by.film - by.to_left
                warmer = 1 / (one + other) if d < 2 else 0.0
                conducts[k, d] = led * (warmer - (by.thermal / law.thermal)) / whole**2
                drive = 2 * heating * ((narrow + film) * by.constriction + narrow * by.film)
                rate_by[k, d] = (drive - (d == 2)) / SETTLING
        spots = AtSpots(
            rate=rate,
            left=by_left,
            right=by_right,
            conducts=conducts,
            rate_by=rate_by,
            growth=growth,
            hottest=hottest,
        )
        return AtFaces(left=left, right=right, by_current=by_current, thermal=thermal, spots=spots)
