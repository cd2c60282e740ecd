"""The spot of a metal contact in the march: its temperature, its resistance, and how it grows as the metal softens."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

import numpy as np

from fem.work.bodies import Constriction, SpotMetal

SETTLING = 1e-3
"""Time constant of a spot [s]: radius^2 over diffusivity is 0.04 to 4 ms for spots of 0.1 to 0.6 mm in copper."""
_STEP = 4.0
_MOLTEN = 0.9999
"""How much of the way from softening to melting the hottest place may go: spots are then 100 times as wide."""
_WIDEST = 1 / sqrt(1 - _MOLTEN)
_GAUSS = ((0.5 - sqrt(0.15), 5 / 18), (0.5, 8 / 18), (0.5 + sqrt(0.15), 5 / 18))
_TINY = 1e-30


class Law(NamedTuple):
    """What follows from a spot's two bodies and its superheat.

    Parameters
    ----------
    constriction, film
        [ohm].
    growth
        Radius of the spot over that of the cold one [-].
    hottest
        [K].
    """

    constriction: complex
    film: complex
    growth: complex
    hottest: float


@dataclass(frozen=True, kw_only=True, slots=True)
class _Side:
    share: float
    softening: float
    melting: float
    lowest: float
    ratio: list[float]
    slope: list[float]

    def resistivity(self, t: complex) -> complex:
        """Return the resistivity over that of the cold metal [-]; level beyond its table."""
        at = min(max(int((t.real - self.lowest) / _STEP), 0), len(self.slope) - 1)
        return self.ratio[at] + self.slope[at] * (t - self.lowest - _STEP * at)

    def growth(self, t: complex) -> complex:
        """Return how many times as wide a spot is whose hottest place has a temperature [-]."""
        if t.real <= self.softening:
            return 1.0
        way = self.melting - self.softening
        if t.real >= self.softening + _MOLTEN * way:
            return _WIDEST
        wider: complex = (way / (self.melting - t)) ** 0.5
        return wider


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

        T^2 = T1^2 + (T2^2 - T1^2) v + v (1 - v) U^2/L.

    A thin film in it, at v = x1, the first metal's share of the resistance, raises T^2 there to that of

        w = (U^2 + 2 U Uf)/L,

    U across the constriction, Uf across the film; either side keeps its bulge (x U)^2 v (1 - v)/L. w [K^2] is what the
    march carries: dw/dt = (w of the present current - w)/`SETTLING`. A quasi-steady w would jump where the resistance
    of steel rises faster than a softening spot grows, which real contacts do within milliseconds. What of w is the
    film's follows from the growth before the step. With alternating current w is that of the r.m.s. value; spots so
    small that they follow each half wave are hotter at its crest.

    Resistance: equipotentials are isotherms, so each side is its cold value times rho at the mean temperature over v,
    the harmonic one (exact where rho goes with T). Softening: the indentation hardness falls straight from that of the
    cold metal at the softening temperature to nothing at melting, each metal at its own hottest place; F = H pi a^2
    widens the spot by the root, never to shrink again. The constriction falls as 1/a, the film as 1/a^2. So the
    voltage stays below that of melting. R. Holm, Electric Contacts, 4th ed. 1967; the fall of hardness is an
    assumption that meets both temperatures.
    """

    def __init__(self, constriction: Constriction, film: float) -> None:
        self.cold, self.cold_film = constriction.resistance, film
        share = constriction.share
        self.sides = (_side(constriction.near, share), _side(constriction.far, 1 - share))

    @property
    def shares(self) -> tuple[float, float]:
        """Each side's share of the constriction [-]."""
        return self.sides[0].share, self.sides[1].share

    def law(self, t1: complex, t2: complex, w: complex, grown: float) -> Law:
        """Return what follows from the bodies' temperatures [K], the superheat [K^2] and the growth so far [-]."""
        one, other = self.sides
        u1, u2 = t1 * t1, t2 * t2
        spot = u1 + one.share * (u2 - u1 + other.share * w)
        rise: complex = 1.0
        for _ in range(2 if self.cold_film else 1):
            # what of w is the constriction's own: first as if it were cold, then as hot as that says
            own = w / (1 + 2 * self.cold_film / (self.cold * grown * rise))
            bulges = own * one.share**2, own * other.share**2
            rise = one.share * one.resistivity(_mean(u1, spot, bulges[0]))
            rise += other.share * other.resistivity(_mean(u2, spot, bulges[1]))
        hot_one, hot_other = _highest(u1, spot, bulges[0]), _highest(u2, spot, bulges[1])
        growth = max(one.growth(hot_one), other.growth(hot_other), key=_real)
        if growth.real < grown:
            growth = grown
        return Law(
            constriction=self.cold * rise / growth,
            film=self.cold_film / (growth * growth),
            growth=growth,
            hottest=max(hot_one.real, hot_other.real),
        )

    def with_slopes(self, t1: float, t2: float, w: float, grown: float) -> tuple[Law, list[tuple[float, float]]]:
        """Return the law, and the slopes of constriction and film to t1, t2 and w, by complex steps: exact."""
        slopes = []
        for complex_t1, complex_t2, complex_w in (
            (complex(t1, _TINY), t2, w),
            (t1, complex(t2, _TINY), w),
            (t1, t2, complex(w, _TINY)),
        ):
            found = self.law(complex_t1, complex_t2, complex_w, grown)
            slopes.append((found.constriction.imag / _TINY, found.film.imag / _TINY))
        law = Law(found.constriction.real, found.film.real, found.growth.real, found.hottest)
        return law, slopes


def _real(value: complex) -> float:
    return value.real


def _mean(body: complex, spot: complex, bulge: complex) -> complex:
    """Return the harmonic mean temperature [K] over the potential of a side whose T^2 bulges between body and spot."""
    inverse: complex = 0.0
    for v, weight in _GAUSS:
        inverse += weight * (body + v * (spot - body + (1 - v) * bulge)) ** -0.5
    return 1 / inverse


def _highest(body: complex, spot: complex, bulge: complex) -> complex:
    """Return the highest temperature [K] of such a side."""
    way = spot - body
    if bulge.real > abs(way.real):
        return (body + 0.25 * (bulge + 2 * way + way * way / bulge)) ** 0.5
    return max(body, spot, key=_real) ** 0.5


def _side(metal: SpotMetal, share: float) -> _Side:
    even = np.arange(metal.temperature[0], metal.temperature[-1], _STEP)
    ratio = np.interp(even, metal.temperature, metal.resistivity_ratio)
    return _Side(
        share=share,
        softening=metal.softening,
        melting=metal.melting,
        lowest=float(even[0]),
        ratio=ratio.tolist(),
        slope=(np.diff(ratio) / _STEP).tolist(),
    )
