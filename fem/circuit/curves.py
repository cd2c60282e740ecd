"""Turn-free curves the field hands to the circuit: flux per turn against ampere-turns, core loss against flux."""

from bisect import bisect_right
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from fem.arrays import Floats
from fem.errors import NotConverged

_SHARED_STEPS = 60
_SHARED_TOLERANCE = 1e-6


def _rising(name: str, values: ArrayLike, least: int) -> Floats:
    """Return a read-only copy after checking that it is 1-D, finite and strictly rising."""
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1 or array.size < least:
        msg = f"{name}: at least {least} points in one row expected, got shape {array.shape}"
        raise ValueError(msg)
    if not np.isfinite(array).all():
        msg = f"{name}: point {int(np.argmin(np.isfinite(array)))} is not finite"
        raise ValueError(msg)
    falling = np.flatnonzero(np.diff(array) <= 0)
    if falling.size:
        at = int(falling[0])
        msg = f"{name} must rise: point {at + 1} is {array[at + 1]:g} after {array[at]:g}"
        raise ValueError(msg)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FluxCurve:
    """Interpolate the ampere-turns that a flux per turn needs.

    Odd and strictly monotone: a monotone piecewise cubic through the points, on to a straight line through the last
    two points beyond them. Both ends of the cubic take the slope of the end chord, so the curve has no kink anywhere.

    Parameters
    ----------
    ampere_turns : (n,) array
        Excitation [A], rising from 0.
    flux_per_turn : (n,) array
        Mean flux through a turn [Wb], rising from 0.

    Raises
    ------
    ValueError
        If the arrays differ in length, do not start at the origin or do not rise.

    Notes
    -----
    `flux` is the exact inverse of `ampere_turns_at`, not a second interpolation.
    Slopes: F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
    """

    ampere_turns: Floats
    flux_per_turn: Floats
    _coefficients: Floats = field(init=False, repr=False)
    _table: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the points and prepare the cubics."""
        excitation = _rising("ampere_turns", self.ampere_turns, 3)
        flux = _rising("flux_per_turn", self.flux_per_turn, 3)
        if excitation.size != flux.size:
            msg = f"{excitation.size} ampere-turns against {flux.size} flux values"
            raise ValueError(msg)
        if excitation[0] != 0.0 or flux[0] != 0.0:
            msg = f"the curve must start at the origin, not at ({excitation[0]:g} A, {flux[0]:g} Wb)"
            raise ValueError(msg)
        slopes = np.asarray(PchipInterpolator(flux, excitation).derivative()(flux), dtype=np.float64)
        chords = np.diff(excitation) / np.diff(flux)
        slopes[0], slopes[-1] = chords[0], chords[-1]
        cubics = np.asarray(CubicHermiteSpline(flux, excitation, slopes).c, dtype=np.float64)
        straight = np.array([[0.0], [0.0], [chords[-1]], [excitation[-1]]])
        object.__setattr__(self, "ampere_turns", excitation)
        object.__setattr__(self, "flux_per_turn", flux)
        coefficients = np.hstack([cubics, straight])
        a, b, _, _ = coefficients
        object.__setattr__(self, "_coefficients", np.ascontiguousarray(coefficients))
        # All that a piece needs in one column, slopes too: integrations in time live on this look-up.
        object.__setattr__(self, "_table", np.vstack([coefficients, 3 * a, 2 * b, flux]))

    def excitation(self, flux: ArrayLike) -> tuple[Floats, Floats]:
        """Return the ampere-turns and their slope at a flux per turn.

        Parameters
        ----------
        flux : array of any shape
            Flux per turn [Wb].

        Returns
        -------
        ampere_turns : array, same shape
            Excitation [A].
        slope : array, same shape
            d(ampere-turns)/d(flux per turn) [A/Wb], always > 0.
        """
        signed = np.asarray(flux, dtype=np.float64)
        size = np.abs(signed)
        piece = self.flux_per_turn.searchsorted(size, side="right") - 1
        a, b, c, d, a3, b2, start = self._table.take(piece, axis=1)
        x = size - start
        return np.copysign(((a * x + b) * x + c) * x + d, signed), (a3 * x + b2) * x + c

    def ampere_turns_at(self, flux: ArrayLike) -> Floats:
        """Return the ampere-turns [A] at a flux per turn [Wb], any shape."""
        return self.excitation(flux)[0]

    def slope(self, flux: ArrayLike) -> Floats:
        """Return d(ampere-turns)/d(flux per turn) [A/Wb] at a flux per turn [Wb], any shape."""
        return self.excitation(flux)[1]

    def flux(self, ampere_turns: ArrayLike) -> Floats:
        """Return the flux per turn [Wb] at given ampere-turns [A], any shape."""
        signed = np.asarray(ampere_turns, dtype=np.float64)
        size = np.abs(signed)
        piece = np.searchsorted(self.ampere_turns, size, side="right") - 1
        a, b, c, d = self._coefficients[:, piece]
        inner = piece < self.flux_per_turn.size - 1
        low = np.zeros_like(size)
        width = np.diff(self.flux_per_turn, append=np.inf)[piece]
        high = np.where(inner, width, (size - d) / c)
        x = np.where(inner, 0.5 * high, high)
        # Newton kept between bounds that close in on the one root of a rising cubic; bisection alone would need 53.
        for _ in range(60):
            excess = ((a * x + b) * x + c) * x + d - size
            high, low = np.where(excess > 0, x, high), np.where(excess > 0, low, x)
            step = x - excess / np.maximum((3 * a * x + 2 * b) * x + c, np.finfo(np.float64).tiny)
            new = np.where((step < low) | (step > high), 0.5 * (low + high), step)
            moved, x = np.abs(new - x), new
            if np.all(moved <= 4e-16 * self.flux_per_turn[-1]):
                break
        return np.copysign(self.flux_per_turn[piece] + x, signed)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MagnetisingCurve(FluxCurve):
    """Give the core's flux per primary turn, primary energised alone; see `FluxCurve`."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LeakageCurve(FluxCurve):
    """Give the windings' leakage flux per turn against the ampere-turns of either, where it saturates.

    See `FluxCurve`. For a leakage path with iron in it, such as a shunt; elsewhere one permeance will do.
    """

    @property
    def unsaturated_permeance(self) -> float:
        """Largest flux per turn over ampere-turns [H]: where the iron in the path conducts best, just off the foot."""
        return float(np.max(self.flux_per_turn[1:] / self.ampere_turns[1:]))

    def in_series_with(self, permeance: float) -> "LeakageCurve":
        """Return the curve with a path of constant permeance [H] linked as well, such as that of the leads."""
        return LeakageCurve(
            ampere_turns=self.ampere_turns, flux_per_turn=self.flux_per_turn + permeance * self.ampere_turns
        )

    def shared(self, flux: Floats, permeance: float, near: Floats) -> tuple[Floats, Floats, Floats]:
        """Split a flux between this path and one of constant permeance that the same ampere-turns drive.

        Parameters
        ----------
        flux : (m,) array
            Of both together, per turn [Wb].
        permeance : float
            Of the other path [H], >= 0.
        near : (m,) array
            Where to begin, such as the last answer [Wb].

        Returns
        -------
        own : (m,) array
            This path's flux [Wb].
        ampere_turns, slope : (m,) array
            Of both [A], and their slope against the flux of both [A/Wb].

        Raises
        ------
        NotConverged
            If Newton's method, kept between bounds that close in on the one root, fails.
        """
        size = np.abs(flux)
        low, own = np.zeros_like(size), np.minimum(np.abs(near), size)
        high = size
        close = _SHARED_TOLERANCE * self.flux_per_turn[-1]
        for _ in range(_SHARED_STEPS):
            excitation, rise = self.excitation(own)
            step = (own + permeance * excitation - size) / (1.0 + permeance * rise)
            high, low = np.where(step > 0, own, high), np.where(step > 0, low, own)
            moved = float(np.abs(step).max())
            if moved <= close:
                # The tangent carries the excitation over the last step exactly enough.
                return (
                    np.copysign(own - step, flux),
                    np.copysign(excitation - rise * step, flux),
                    rise / (1.0 + permeance * rise),
                )
            new = own - step
            own = np.where((new < low) | (new > high), 0.5 * (low + high), new)
        what = "sharing of the leakage flux"
        tried = f"{_SHARED_STEPS} bounded Newton steps"
        raise NotConverged(what, residual=moved * _SHARED_TOLERANCE / close, tolerance=_SHARED_TOLERANCE, tried=tried)

    def __mul__(self, factor: float) -> "LeakageCurve":
        """Return the curve with every flux times a factor [-], > 0."""
        return LeakageCurve(ampere_turns=self.ampere_turns, flux_per_turn=factor * self.flux_per_turn)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class CoreLossCurve:
    """Model the core loss as a current in phase with the induced voltage.

    Parameters
    ----------
    flux_per_turn : (m,) array
        Peak of a sinusoidal flux per turn [Wb], rising, > 0.
    loss : (m,) array
        Core loss at that peak [W], at the frequency the circuit is later used at, >= 0.

    Raises
    ------
    ValueError
        If the arrays differ in length, flux does not rise from above 0 or a loss is negative or not finite.

    Notes
    -----
    Loss = G e^2, e the r.m.s. volts per turn: G [S] is monotone-cubic between the points and constant beyond them
    (loss as the square of flux), below the first and above the last alike.
    """

    flux_per_turn: Floats
    loss: Floats
    _knots: list[float] = field(init=False, repr=False)
    _cubics: list[list[float]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the points and prepare the interpolation."""
        flux = _rising("flux_per_turn", self.flux_per_turn, 2)
        loss = np.array(self.loss, dtype=np.float64)
        if loss.shape != flux.shape:
            msg = f"{loss.size} losses against {flux.size} flux values"
            raise ValueError(msg)
        if flux[0] <= 0:
            msg = f"flux_per_turn must start above 0, not at {flux[0]:g} Wb"
            raise ValueError(msg)
        wrong = np.flatnonzero(~(np.isfinite(loss) & (loss >= 0)))
        if wrong.size:
            msg = f"loss must be finite and not negative: point {int(wrong[0])} is {loss[wrong[0]]:g} W"
            raise ValueError(msg)
        loss.setflags(write=False)
        object.__setattr__(self, "flux_per_turn", flux)
        object.__setattr__(self, "loss", loss)
        # Asked for one flux at a time, where plain floats are many times quicker than arrays.
        object.__setattr__(self, "_knots", flux.tolist())
        object.__setattr__(self, "_cubics", PchipInterpolator(flux, loss / flux**2).c.T.tolist())

    def conductance(self, peak_flux: float, frequency: float) -> float:
        """Return the conductance per turn squared at a peak flux.

        Parameters
        ----------
        peak_flux : float
            Peak flux per turn [Wb].
        frequency : float
            Frequency of the curve and the circuit [Hz].

        Returns
        -------
        float
            G [S], so that loss = G e^2 with e the r.m.s. volts per turn.
        """
        knots = self._knots
        within = min(max(abs(peak_flux), knots[0]), knots[-1])
        piece = min(bisect_right(knots, within), len(knots) - 1) - 1
        a, b, c, d = self._cubics[piece]
        x = within - knots[piece]
        return (((a * x + b) * x + c) * x + d) / (2 * np.pi**2 * frequency**2)
