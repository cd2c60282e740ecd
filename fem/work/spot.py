"""The spots of metal contacts in the march: their temperature, their resistance, and how they grow as metal softens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt
from typing import NamedTuple

import numpy as np

from fem.arrays import Floats
from fem.materials.contact import LORENZ
from fem.work.bodies import Constriction, SpotMetal
from fem.work.rows import Rowwise

SETTLING = 1e-3
"""Time constant of a spot [s]: radius^2 over diffusivity is 0.04 to 4 ms for spots of 0.1 to 0.6 mm in copper."""
_STEP = 4.0
_MOLTEN = 0.9999
"""How much of the way from softening to melting the hottest place may go: spots are then 100 times as wide."""
_GAUSS = ((0.5 - sqrt(0.15), 5 / 18), (0.5, 8 / 18), (0.5 + sqrt(0.15), 5 / 18))
_FLOWS_OVER = 20.0
"""Over how many kelvins a filler flows, the last of them where it is said to."""
_DRY = 1e-4
"""What of a dry contact's constriction is left once it is filled [-]."""
_NUDGE = 1e-7


class Law(NamedTuple):
    """What follows from the two bodies of spots and their superheats, (..., m, s) each.

    Parameters
    ----------
    constriction, film
        [ohm].
    to_left
        Resistance whose heat goes to the left [ohm].
    thermal
        Resistance of a constriction that would conduct as much heat [ohm].
    growth
        Radius of the spot over that of the cold one [-].
    hottest
        [K].
    """

    constriction: Floats
    film: Floats
    to_left: Floats
    thermal: Floats
    growth: Floats
    hottest: Floats


class Spots(Rowwise):
    """Constrictions between two metals, a film in each: s of each of m members.

    Parameters
    ----------
    constrictions
        (m, s) their sides in the order in which the current meets them.
    film
        (m, s) resistance of the film in the cold spot [ohm].

    Notes
    -----
    Current and heat take the same way through a metal constriction, so that at the potential fraction v between bodies
    at T1 and T2 (Kohlrausch; k rho = L T, Wiedemann and Franz)

        T^2 = T1^2 + (T2^2 - T1^2) v + v (1 - v) U^2/L,

    and L (Ts^2 - T^2)/(2 R) - i^2 R/2 comes out of a film at Ts through a side of resistance R. A metal that conducts
    heat better than L says, by l, is as B = R/l to heat; a film that is Theta to heat as Bf = L Ts Theta. So

        Ts1^2 = T1^2 + B1/S (T2^2 - T1^2 + i^2/L P1),   S = B1 + B2 + Bf,   P1 = (R1 + Rf) (B2 + Bf) + (R2 + Rf) B2

    where side 1 meets a film of resistance Rf; i^2/2 (R1 + P1/S) of the heat goes to side 1, and L (T1 + T2)/(2 S)
    conducts. Of like metals without a film that is an even split and L T/R, whatever their shares.

    The march carries w = (U^2 + 2 U Uf)/L [K^2], U across the constriction, Uf across the film:
    dw/dt = (w of the present current - w)/`SETTLING`. A quasi-steady w would jump where the resistance
    of steel rises faster than a softening spot grows, which real contacts do within milliseconds. What of w is the
    film's follows from the growth before the step. With alternating current w is that of the r.m.s. value; spots so
    small that they follow each half wave are hotter at its crest.

    Resistance: equipotentials are isotherms, so each side is its cold value times rho at the mean temperature over v,
    the harmonic one (exact where rho goes with T). Softening: the indentation hardness falls straight from that of the
    cold metal at the softening temperature to nothing at melting, each metal at its own hottest place; F = H pi a^2
    widens the spot by the root, never to shrink again. The constriction falls as 1/a, Rf and Theta as 1/a^2. So the
    voltage stays below that of melting. R. Holm, Electric Contacts, 4th ed. 1967; the fall of hardness is an
    assumption that meets both temperatures. A filler that flows between the bodies widens the way for good, too.
    """

    ROWS = ("_cold", "_film", "_insulates", "_flows")
    SIDES = ("_share", "_bulge", "_leads", "_softening", "_way", "_most", "_lowest", "_last", "_offset")

    def __init__(self, constrictions: Sequence[Sequence[Constriction]], film: Sequence[Sequence[float]]) -> None:
        def each(number: Callable[[Constriction], float]) -> Floats:
            return np.array([[number(one) for one in row] for row in constrictions], dtype=np.float64)

        def sides(number: Callable[[SpotMetal], float]) -> Floats:
            return np.stack([each(lambda one: number(one.near)), each(lambda one: number(one.far))])

        tables = _Tables([metal for row in constrictions for one in row for metal in (one.near, one.far)])
        self._ratio, self._slope = tables.ratio, tables.slope
        self._cold, self._film = each(lambda one: one.resistance), np.array(film, dtype=np.float64)
        self._insulates, self._flows = each(lambda one: one.insulates), each(lambda one: one.flows)
        self._passes = 3 if (self._film > 0).any() or (self._insulates > 0).any() else 1
        share = each(lambda one: one.share)
        self._share = np.stack([share, 1 - share])
        self._leads = self._share / sides(lambda metal: metal.lorenz / LORENZ)
        self._bulge = self._share * self._leads
        self._softening = sides(lambda metal: metal.softening)
        self._way = sides(lambda metal: metal.melting) - self._softening
        self._most = self._softening + _MOLTEN * self._way
        self._lowest = sides(lambda metal: float(metal.temperature[0]))
        self._last, self._offset = (
            sides(lambda metal, which=which: tables.places[id(metal)][which]).astype(np.int64)  # type: ignore[misc]
            for which in (0, 1)
        )

    def law(self, t: Floats, w: Floats, grown: Floats) -> Law:
        """Return what follows.

        Parameters
        ----------
        t
            (2, ..., m, s) of the bodies on either side [K].
        w
            (..., m, s) superheats [K^2].
        grown
            (m, s) growth so far [-].
        """
        more = (slice(None), *(None,) * (t.ndim - 3))
        x, b, bulges = self._share[more], self._leads[more], self._bulge[more]
        u = t * t
        w = np.maximum(w, -u.min(axis=0))  # which only a step of Newton's method that goes astray is below
        across = u[::-1] - u
        beyond = b[::-1]
        spot = np.broadcast_to(u[0] + x[0] * (across[0] + x[1] * w), u.shape)
        way, rise = 0.0, 1.0
        for _ in range(self._passes):
            # the film over the constriction: first as if that were cold, then as hot as that says
            narrow = self._cold * grown * rise
            film = self._film / narrow
            own = w / (1 + 2 * film)
            if self._passes > 1:
                way = 0.5 * LORENZ * self._insulates * np.sqrt(spot).sum(axis=0) / narrow
            spot = u + b / (b[0] + b[1] + way) * (across + own * _into(x, beyond, film, way))
            bulge = own * bulges
            rise = (x * self._resistivity(_mean(u, spot, bulge), more)).sum(axis=0)
        hot = _highest(u, spot, bulge)
        soft, most = self._softening[more], self._most[more]
        span = self._way[more]
        wide = np.sqrt(span / (soft + span - np.minimum(np.maximum(hot, soft), most)))
        growth = np.maximum(np.maximum(wide[0], wide[1]), grown)
        if np.isfinite(self._flows).any():
            # how many times as wide the way is that a filler has filled by a temperature of the bodies
            filled = np.clip((0.5 * (t[0] + t[1]) - self._flows) / _FLOWS_OVER + 1, 0.0, 1.0)
            growth = np.maximum(growth, 1 / (1 - (1 - _DRY) * filled))
        way, narrow = way * narrow / (self._cold * rise * growth), self._cold * rise / growth
        film = self._film / (growth * growth)
        whole = b[0] + b[1] + way
        return Law(
            constriction=narrow,
            film=film,
            to_left=0.5 * narrow * (x[0] + _into(x, beyond, film / narrow, way)[0] / whole),
            thermal=narrow * whole,
            growth=growth,
            hottest=hot.max(axis=0),
        )

    def with_slopes(self, t: Floats, w: Floats, grown: Floats) -> tuple[Law, Law]:
        """Return the law at (2, m, s) and (m, s), and its slopes to both sides and the superheat, (3, m, s) each.

        By differences: to some 1e-8, which Newton's method takes.
        """
        steps = _NUDGE * np.stack([t[0], t[1], w + t[0] * t[1]])
        bodies, superheats = np.repeat(t[:, None], 4, axis=1), np.repeat(w[None], 4, axis=0)
        bodies[0, 1] += steps[0]
        bodies[1, 2] += steps[1]
        superheats[3] += steps[2]
        found = np.stack(self.law(bodies, superheats, grown))
        return Law(*found[:, 0]), Law(*((found[:, 1:] - found[:, :1]) / steps))

    def _resistivity(self, t: Floats, more: tuple[slice | None, ...]) -> Floats:
        """Return the resistivity of either side over that of the cold metal, (2, ..., m, s) [-]."""
        above = t - self._lowest[more]
        at = np.minimum(np.maximum((above / _STEP).astype(np.int64), 0), self._last[more])
        place = at + self._offset[more]
        found: Floats = self._ratio.take(place) + self._slope.take(place) * (above - _STEP * at)
        return found


def _into(x: Floats, beyond: Floats, film: Floats | float, way: Floats | float) -> Floats:
    """Return P1 of `Spots` for either side, all over the constriction."""
    return (x + film) * (beyond + way) + (x[::-1] + film) * beyond


def _mean(body: Floats, spot: Floats, bulge: Floats) -> Floats:
    """Return the harmonic mean temperature [K] over the potential of a side whose T^2 bulges between body and spot."""
    inverse = np.zeros_like(spot)
    for v, weight in _GAUSS:
        inverse += weight / np.sqrt(body + v * (spot - body + (1 - v) * bulge))
    return 1 / inverse


def _highest(body: Floats, spot: Floats, bulge: Floats) -> Floats:
    """Return the highest temperature [K] of such a side."""
    way = spot - body
    inside = bulge > np.abs(way)
    top = body + 0.25 * (bulge + 2 * way + way * way / np.where(inside, bulge, 1.0))
    return np.sqrt(np.where(inside, top, np.maximum(body, spot)))


class _Tables:
    """Resistivities of metals at equal steps of temperature, one after the other; each metal's last place and first."""

    def __init__(self, metals: Sequence[SpotMetal]) -> None:
        ratios, slopes = [], []
        self.places: dict[int, tuple[int, int]] = {}
        offset = 0
        for metal in metals:
            if id(metal) in self.places:
                continue
            even = np.arange(metal.temperature[0], metal.temperature[-1], _STEP)
            ratio = np.interp(even, metal.temperature, metal.resistivity_ratio)
            ratios.append(ratio[:-1])
            slopes.append(np.diff(ratio) / _STEP)
            self.places[id(metal)] = ratio.size - 2, offset
            offset += ratio.size - 1
        self.ratio, self.slope = np.concatenate(ratios), np.concatenate(slopes)
