"""Specific core loss of sheet, separated into a hysteresis and an eddy-current part."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log, pi

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats

ASSUMED_CONDUCTIVITY = 1 / 45e-8
"""Conductivity [S/m] taken where that of the sheet is unknown: 45 micro-ohm cm, widely printed for 3 % silicon."""

GRADED_FREQUENCY = 50.0
"""Frequency [Hz] of the guaranteed and indicative losses of EN 10106."""

LOWEST_SHARE = 0.85
"""Least share of the guaranteed loss to expect: a sheet that does better can be sold under the next better grade, and
the widest step between neighbouring 0.50 mm grades of EN 10106 is 8.00/9.40 = 0.85."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CoreLoss:
    """Hold specific loss k_h f B^a + k_e f^2 B^2 of sheet in a sinusoidal flux density.

    Parameters
    ----------
    hysteresis_coefficient
        k_h [W/(kg Hz T^a)]; where the loss is known at one frequency only, it also holds the excess loss.
    hysteresis_exponent
        a [-].
    eddy_coefficient
        k_e [W/(kg Hz^2 T^2)].

    Notes
    -----
    The data end at 1.5 T; above some 1.8 T everything here extrapolates, and so does a flux density that is far from
    sinusoidal. The figures are for strips in an Epstein frame: punching, burrs, clamping and welds add to them.
    """

    hysteresis_coefficient: float
    hysteresis_exponent: float
    eddy_coefficient: float

    def __post_init__(self) -> None:
        if not (self.hysteresis_coefficient > 0 and self.hysteresis_exponent > 0 and self.eddy_coefficient >= 0):
            msg = (
                f"loss parts must be positive: hysteresis {self.hysteresis_coefficient:g}, "
                f"exponent {self.hysteresis_exponent:g}, eddy {self.eddy_coefficient:g}"
            )
            raise ValueError(msg)

    @classmethod
    def of_guarantee(
        cls, *, loss_1_0: float, loss_1_5: float, thickness: float, density: float, conductivity: float | None
    ) -> CoreLoss:
        """Split the losses EN 10106 gives for a grade; both are met exactly.

        Parameters
        ----------
        loss_1_0, loss_1_5
            Loss at 1.0 T and at 1.5 T, 50 Hz [W/kg].
        thickness
            Of the sheet [m].
        density
            Of the sheet [kg/m^3].
        conductivity
            Of the sheet [S/m]; None takes `ASSUMED_CONDUCTIVITY`.

        Raises
        ------
        ValueError
            If the classical eddy-current loss alone exceeds a given loss.

        Notes
        -----
        With r(B) = P(B) - k_e f^2 B^2 at f = 50 Hz: a = ln(r(1.5)/r(1.0))/ln 1.5 and k_h = r(1.0)/f.

        These are maxima (1.5 T) and maxima or indicative values (1.0 T): typical sheet lies below, see `band`. The eddy
        part is the classical one (`eddy_coefficient`); one frequency does not tell hysteresis from excess loss, so the
        rest goes with f although a part of it goes with f^1.5. From 50 to 60 Hz that understates the rest by at most
        sqrt(1.2) - 1 = 9.5 %.
        """
        eddy = eddy_coefficient(
            thickness=thickness,
            density=density,
            conductivity=ASSUMED_CONDUCTIVITY if conductivity is None else conductivity,
        )
        rest_1_0 = loss_1_0 - eddy * GRADED_FREQUENCY**2
        rest_1_5 = loss_1_5 - eddy * GRADED_FREQUENCY**2 * 1.5**2
        if rest_1_0 <= 0 or rest_1_5 <= rest_1_0:
            msg = (
                f"losses {loss_1_0:g} W/kg at 1.0 T and {loss_1_5:g} W/kg at 1.5 T leave {rest_1_0:.3g} and "
                f"{rest_1_5:.3g} W/kg for hysteresis; both must be positive and the second larger"
            )
            raise ValueError(msg)
        return cls(
            hysteresis_coefficient=rest_1_0 / GRADED_FREQUENCY,
            hysteresis_exponent=log(rest_1_5 / rest_1_0) / log(1.5),
            eddy_coefficient=eddy,
        )

    @property
    def guaranteed(self) -> float:
        """The loss at 1.5 T and 50 Hz, by which a grade is told [W/kg]."""
        return float(self.specific(1.5, GRADED_FREQUENCY))

    def times(self, factor: float) -> CoreLoss:
        """Return so many times the loss, its parts in the same proportion."""
        return replace(
            self,
            hysteresis_coefficient=factor * self.hysteresis_coefficient,
            eddy_coefficient=factor * self.eddy_coefficient,
        )

    def hysteresis(self, b_peak: ArrayLike, frequency: float) -> Floats:
        """Return the hysteresis part [W/kg] at peak flux density b_peak [T], any shape, and frequency [Hz]."""
        b = np.abs(np.asarray(b_peak, dtype=np.float64))
        return self.hysteresis_coefficient * _checked(frequency) * b**self.hysteresis_exponent

    def eddy(self, b_peak: ArrayLike, frequency: float) -> Floats:
        """Return the eddy-current part [W/kg] at peak flux density b_peak [T], any shape, and frequency [Hz]."""
        b = np.asarray(b_peak, dtype=np.float64)
        return self.eddy_coefficient * _checked(frequency) ** 2 * b**2

    def specific(self, b_peak: ArrayLike, frequency: float) -> Floats:
        """Return the specific loss [W/kg] at peak flux density b_peak [T], any shape, and frequency [Hz]."""
        return self.hysteresis(b_peak, frequency) + self.eddy(b_peak, frequency)

    def band(self, b_peak: ArrayLike, frequency: float) -> tuple[Floats, Floats]:
        """Return the least and the greatest specific loss [W/kg] to expect of sheet that meets its guarantee.

        Notes
        -----
        From `LOWEST_SHARE` of the guaranteed figure up to that figure; the upper end lets all that is not classical
        eddy-current loss go with f^1.5 above 50 Hz. A built core may lose more than strip: not in this band.
        """
        hysteresis, eddy = self.hysteresis(b_peak, frequency), self.eddy(b_peak, frequency)
        excess = max(frequency / GRADED_FREQUENCY, 1.0) ** 0.5
        return LOWEST_SHARE * (hysteresis + eddy), hysteresis * excess + eddy


def eddy_coefficient(*, thickness: float, density: float, conductivity: float) -> float:
    """Return pi^2 sigma d^2/(6 rho), the classical eddy-current loss per f^2 B^2 [W/(kg Hz^2 T^2)].

    Parameters
    ----------
    thickness
        Of the sheet, d [m]; thin against the skin depth.
    density
        rho [kg/m^3].
    conductivity
        sigma [S/m].

    Raises
    ------
    ValueError
        If one of them is not positive.
    """
    if not (thickness > 0 and density > 0 and conductivity > 0):
        msg = (
            f"thickness {thickness:g} m, density {density:g} kg/m3, conductivity {conductivity:g} S/m must be positive"
        )
        raise ValueError(msg)
    return pi**2 * conductivity * thickness**2 / (6 * density)


def _checked(frequency: float) -> float:
    if not frequency > 0:
        msg = f"frequency {frequency:g} Hz must be positive"
        raise ValueError(msg)
    return frequency
