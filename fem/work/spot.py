"""The spot of a metal contact in the march: its temperature, its resistance, and how it grows as the metal softens."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

import numpy as np

from fem.materials.contact import LORENZ
from fem.work.bodies import Constriction, SpotMetal

SETTLING = 1e-3
"""Time constant of a spot [s]: radius^2 over diffusivity is 0.04 to 4 ms for spots of 0.1 to 0.6 mm in copper."""
_STEP = 4.0
_MOLTEN = 0.9999
"""How much of the way from softening to melting the hottest place may go: spots are then 100 times as wide."""
_WIDEST = 1 / sqrt(1 - _MOLTEN)
_GAUSS = ((0.5 - sqrt(0.15), 5 / 18), (0.5, 8 / 18), (0.5 + sqrt(0.15), 5 / 18))
_FLOWS_OVER = 20.0
"""Over how many kelvins a filler flows, the last of them where it is said to."""
_DRY = 1e-4
"""What of a dry contact's constriction is left once it is filled [-]."""
_NUDGE = 1e-7


class Law(NamedTuple):
    """What follows from a spot's two bodies and its superheat.

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

    constriction: float
    film: float
    to_left: float
    thermal: float
    growth: float
    hottest: float


@dataclass(frozen=True, kw_only=True, slots=True)
class _Side:
    share: float
    leads: float
    softening: float
    melting: float
    lowest: float
    ratio: list[float]
    slope: list[float]

    def resistivity(self, t: float) -> float:
        """Return the resistivity over that of the cold metal [-]; level beyond its table."""
        at = min(max(int((t - self.lowest) / _STEP), 0), len(self.slope) - 1)
        return self.ratio[at] + self.slope[at] * (t - self.lowest - _STEP * at)

    def growth(self, t: float) -> float:
        """Return how many times as wide a spot is whose hottest place has a temperature [-]."""
        if t <= self.softening:
            return 1.0
        way = self.melting - self.softening
        if t >= self.softening + _MOLTEN * way:
            return _WIDEST
        return sqrt(way / (self.melting - t))


class Spot:
    """A constriction between two metals, a film in it.

    Parameters
    ----------
    constriction
        Its sides in the order in which the current meets them.
    film
        Resistance of the film in the cold spot [ohm].

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

    def __init__(self, constriction: Constriction, film: float) -> None:
        self.cold, self.cold_film, self.insulates = constriction.resistance, film, constriction.insulates
        self.flows = constriction.flows
        share = constriction.share
        self.sides = (_side(constriction.near, share), _side(constriction.far, 1 - share))

    def law(self, t1: float, t2: float, w: float, grown: float) -> Law:
        """Return what follows from the bodies' temperatures [K], the superheat [K^2] and the growth so far [-]."""
        one, other = self.sides
        x1, x2 = one.share, other.share
        b1, b2 = x1 / one.leads, x2 / other.leads
        u1, u2 = t1 * t1, t2 * t2
        w = max(w, -u1, -u2)  # which only a step of Newton's method that goes astray is below
        near = far = u1 + x1 * (u2 - u1 + x2 * w)
        way, rise = 0.0, 1.0
        for _ in range(3 if self.cold_film else 1):
            # the film over the constriction: first as if that were cold, then as hot as that says
            narrow = self.cold * grown * rise
            film = self.cold_film / narrow
            own = w / (1 + 2 * film)
            if self.insulates:
                way = 0.5 * LORENZ * self.insulates * (sqrt(near) + sqrt(far)) / narrow
            whole = b1 + b2 + way
            near = u1 + b1 / whole * (u2 - u1 + own * _into(x1, x2, b2, film, way))
            far = u2 + b2 / whole * (u1 - u2 + own * _into(x2, x1, b1, film, way))
            bulges = own * x1 * b1, own * x2 * b2
            rise = x1 * one.resistivity(_mean(u1, near, bulges[0])) + x2 * other.resistivity(_mean(u2, far, bulges[1]))
        hot_one, hot_other = _highest(u1, near, bulges[0]), _highest(u2, far, bulges[1])
        growth = max(one.growth(hot_one), other.growth(hot_other), self._filled(0.5 * (t1 + t2)))
        if growth < grown:
            growth = grown
        way, narrow = way * narrow / (self.cold * rise * growth), self.cold * rise / growth
        film = self.cold_film / (growth * growth)
        whole = b1 + b2 + way
        return Law(
            constriction=narrow,
            film=film,
            to_left=0.5 * narrow * (x1 + _into(x1, x2, b2, film / narrow, way) / whole),
            thermal=narrow * whole,
            growth=growth,
            hottest=max(hot_one, hot_other),
        )

    def _filled(self, t: float) -> float:
        """Return how many times as wide the way is that a filler has filled by a temperature [K] of the bodies [-]."""
        way = (t - self.flows) / _FLOWS_OVER + 1
        if way <= 0:
            return 1.0
        return 1 / (1 - (1 - _DRY) * way) if way < 1 else 1 / _DRY

    def with_slopes(self, t1: float, t2: float, w: float, grown: float) -> tuple[Law, list[Law]]:
        """Return the law, and its slopes to t1, t2 and w by differences: to some 1e-8, which Newton's method takes."""
        law, slopes = self.law(t1, t2, w, grown), []
        steps = _NUDGE * t1, _NUDGE * t2, _NUDGE * (w + t1 * t2)
        for at, step in enumerate(steps):
            moved = self.law(t1 + (at == 0) * step, t2 + (at == 1) * step, w + (at == 2) * step, grown)
            slopes.append(Law(*[(one - none) / step for one, none in zip(moved, law, strict=True)]))
        return law, slopes


def _into(x1: float, x2: float, b2: float, film: float, way: float) -> float:
    """Return P1 of `Spot`, all over the constriction."""
    return (x1 + film) * (b2 + way) + (x2 + film) * b2


def _mean(body: float, spot: float, bulge: float) -> float:
    """Return the harmonic mean temperature [K] over the potential of a side whose T^2 bulges between body and spot."""
    inverse = 0.0
    for v, weight in _GAUSS:
        inverse += weight / sqrt(body + v * (spot - body + (1 - v) * bulge))
    return 1 / inverse


def _highest(body: float, spot: float, bulge: float) -> float:
    """Return the highest temperature [K] of such a side."""
    way = spot - body
    if bulge > abs(way):
        return sqrt(body + 0.25 * (bulge + 2 * way + way * way / bulge))
    return sqrt(max(body, spot))


def _side(metal: SpotMetal, share: float) -> _Side:
    even = np.arange(metal.temperature[0], metal.temperature[-1], _STEP)
    ratio = np.interp(even, metal.temperature, metal.resistivity_ratio)
    return _Side(
        share=share,
        leads=metal.lorenz / LORENZ,
        softening=metal.softening,
        melting=metal.melting,
        lowest=float(even[0]),
        ratio=ratio.tolist(),
        slope=(np.diff(ratio) / _STEP).tolist(),
    )
