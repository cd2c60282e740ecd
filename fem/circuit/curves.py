"""Turn-free curves the field hands to the circuit: flux per turn against ampere-turns, core loss against flux.

Of a block whose members have curves of their own a curve has a row for each, and takes numbers (m, ...), each member's
in its own row.
"""

from copy import copy
from dataclasses import dataclass, field, fields
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers, Number, rising
from fem.cubics import monotone_slopes
from fem.errors import NotConverged
from fem.rows import Rows

_SHARED_STEPS = 60
_SHARED_TOLERANCE = 1e-6


class Rowed:
    """What may have a row for each of m members: arrays (n,) or (m, n), and a table of pieces for all rows."""

    __slots__ = ()
    _rows: Rows | None

    @property
    def members(self) -> Integers | None:
        """Which row each member has, (m,); None of a curve that all share."""
        return None if self._rows is None else self._rows.members

    def taken(self, places: Any) -> Self:
        """Return the curve of some members, or of one by its place alone; one that all share as it stands."""
        if self._rows is None:
            return self
        if np.ndim(places):
            found = copy(self)
            object.__setattr__(found, "_rows", self._rows.taken(places))
            return found
        row = self._rows.members[places]
        own = {item.name: getattr(self, item.name) for item in fields(self) if item.init}  # type: ignore[arg-type]
        return type(self)(**{name: values[row] if values.ndim > 1 else values for name, values in own.items()})


def hermite(x: Floats, y: Floats, slope: Floats) -> Floats:
    """Return the cubics (4, ..., n - 1) through values and slopes (..., n), as `Cubics.hermite` of columns."""
    h = np.diff(x)
    chord = np.diff(y) / h
    bend = (slope[..., :-1] + slope[..., 1:] - 2 * chord) / h
    return np.stack([bend / h, (chord - slope[..., :-1]) / h - bend, slope[..., :-1], y[..., :-1]])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FluxCurve(Rowed):
    """The ampere-turns F that a flux per turn phi needs, between points.

    Parameters
    ----------
    ampere_turns
        (n,) or (m, n) excitation [A], rising from 0.
    flux_per_turn
        (n,) or (m, n) mean flux through a turn [Wb], rising from 0.

    Raises
    ------
    ValueError
        If the arrays differ in length, do not start at the origin or do not rise.

    Notes
    -----
    F(phi) = sign(phi) (((a x + b) x + c) x + d), x = |phi| - phi_k: odd, strictly monotone, once differentiable. Slopes
    inside are the weighted harmonic means of the chords, which keep a cubic monotone; both ends take the slope of their
    chord, with which the curve goes on as a straight line. `flux` is the exact inverse, not a second interpolation.

    References
    ----------
    F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
    """

    ampere_turns: Floats
    flux_per_turn: Floats
    _table: Floats = field(init=False, repr=False)
    _rows: Rows | None = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the points and prepare the cubics."""
        excitation = rising("ampere_turns", self.ampere_turns, 3, rows=True)
        flux = rising("flux_per_turn", self.flux_per_turn, 3, rows=True)
        if excitation.shape[-1] != flux.shape[-1]:
            msg = f"{excitation.shape[-1]} ampere-turns against {flux.shape[-1]} flux values"
            raise ValueError(msg)
        if excitation[..., 0].any() or flux[..., 0].any():
            msg = f"the curve must start at the origin, not at ({excitation.flat[0]:g} A, {flux.flat[0]:g} Wb)"
            raise ValueError(msg)
        excitation, flux = np.broadcast_arrays(excitation, flux)
        slopes = monotone_slopes(flux, excitation)
        chords = np.diff(excitation) / np.diff(flux)
        slopes[..., 0], slopes[..., -1] = chords[..., 0], chords[..., -1]
        straight = np.zeros((4, *chords.shape[:-1], 1))
        straight[2:, ..., 0] = chords[..., -1], excitation[..., -1]
        coefficients = np.concatenate([hermite(flux, excitation, slopes), straight], axis=-1)
        object.__setattr__(self, "ampere_turns", excitation)
        object.__setattr__(self, "flux_per_turn", flux)
        a, b, _, _ = coefficients
        # All that a piece needs in one column, slopes too: integrations in time live on this look-up.
        object.__setattr__(self, "_table", np.stack([*coefficients, 3 * a, 2 * b, flux]).reshape(7, -1))
        object.__setattr__(self, "_rows", Rows(flux) if flux.ndim > 1 else None)

    def excitation(self, flux: ArrayLike) -> tuple[Floats, Floats]:
        """Return the ampere-turns and their slope at a flux per turn.

        Parameters
        ----------
        flux
            (...,) flux per turn [Wb].

        Returns
        -------
        ampere_turns
            (...,) excitation [A].
        slope
            (...,) d(ampere-turns)/d(flux per turn) [A/Wb], always > 0.
        """
        signed = np.asarray(flux, dtype=np.float64)
        size = np.abs(signed)
        rows = self._rows
        piece = self.flux_per_turn.searchsorted(size, side="right") - 1 if rows is None else rows.find(size)
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
        size, known, rows = np.abs(signed), self.flux_per_turn, self._rows
        if rows is None:
            piece = np.searchsorted(self.ampere_turns, size, side="right") - 1
        else:
            piece = Rows(self.ampere_turns).taken(rows.members).find(size)
        a, b, c, d = self._table[:4, piece]
        inner = piece % known.shape[-1] < known.shape[-1] - 1
        low = np.zeros_like(size)
        width = np.diff(known, append=np.inf).ravel()[piece]
        high = np.where(inner, width, (size - d) / c)
        x = np.where(inner, 0.5 * high, high)
        # Newton kept between bounds that close in on the one root of a rising cubic; bisection alone would need 53.
        for _ in range(60):
            excess = ((a * x + b) * x + c) * x + d - size
            high, low = np.where(excess > 0, x, high), np.where(excess > 0, low, x)
            step = x - excess / np.maximum((3 * a * x + 2 * b) * x + c, np.finfo(np.float64).tiny)
            new = np.where((step < low) | (step > high), 0.5 * (low + high), step)
            moved, x = np.abs(new - x), new
            if np.all(moved <= 4e-16 * known.max()):
                break
        return np.copysign(known.ravel()[piece] + x, signed)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class MagnetisingCurve(FluxCurve):
    """The core's flux per primary turn, primary energised alone."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LeakageCurve(FluxCurve):
    """The windings' leakage flux per turn against the ampere-turns of either, where it saturates.

    For a leakage path with iron in it, such as a shunt; elsewhere one permeance will do.
    """

    @property
    def unsaturated_permeance(self) -> Any:
        """Largest flux per turn over ampere-turns, (...,) [H]: where the iron in the path conducts best."""
        best = np.max(self.flux_per_turn[..., 1:] / self.ampere_turns[..., 1:], axis=-1)
        return float(best) if self._rows is None else best[self._rows.members]

    def shared(self, flux: Floats, permeance: Number, near: Floats) -> tuple[Floats, Floats, Floats]:
        """Split a flux between this path and one of constant permeance that the same ampere-turns drive.

        Parameters
        ----------
        flux
            (...,) of both together, per turn [Wb].
        permeance
            (...,) of the other path [H], >= 0.
        near
            (...,) where to begin, such as the last answer [Wb].

        Returns
        -------
        own
            (...,) this path's flux [Wb].
        ampere_turns, slope
            (...,) of both [A], and their slope against the flux of both [A/Wb].

        Raises
        ------
        NotConverged
            If Newton's method, kept between bounds that close in on the one root, fails.

        Notes
        -----
        y + Lambda F(y) = flux for the own flux y, with Lambda the other path's permeance: rising, so one root.
        """
        size = np.abs(flux)
        low, own = np.zeros_like(size), np.minimum(np.abs(near), size)
        high = size
        close = _SHARED_TOLERANCE * self.flux_per_turn.max()
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
