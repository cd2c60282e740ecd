"""The core loss against flux per turn, free of turns; rows as of `fem.circuit.curves`."""

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fem.arrays import Floats, Real, rising
from fem.circuit.curves import Rowed, hermite
from fem.cubics import monotone_slopes
from fem.rows import Rows


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class CoreLossCurve(Rowed):
    """The core loss as a current in phase with the induced voltage.

    Parameters
    ----------
    flux_per_turn
        (n,) or (m, n) peak of a sinusoidal flux per turn [Wb], rising, > 0.
    loss
        As many; core loss at that peak [W], at the frequency the circuit is later used at, >= 0.

    Raises
    ------
    ValueError
        If the arrays differ in length, flux does not rise from above 0 or a loss is negative or not finite.

    Notes
    -----
    P = G e^2 with e = sqrt(2) pi f phi the r.m.s. volts per turn, so G = P/phi^2 / (2 pi^2 f^2) [S]. P/phi^2 is a
    monotone cubic between the points and constant beyond them, below the first and above the last.
    """

    flux_per_turn: Floats
    loss: Floats
    _knots: list[float] = field(init=False, repr=False)
    _cubics: list[list[float]] = field(init=False, repr=False)
    _table: Floats = field(init=False, repr=False)
    _rows: Rows | None = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the points and prepare the interpolation."""
        flux = rising("flux_per_turn", self.flux_per_turn, 2, rows=True)
        loss = np.array(self.loss, dtype=np.float64)
        if loss.shape != flux.shape:
            msg = f"{loss.size} losses against {flux.size} flux values"
            raise ValueError(msg)
        if flux[..., 0].min() <= 0:
            msg = f"flux_per_turn must start above 0, not at {flux[..., 0].min():g} Wb"
            raise ValueError(msg)
        wrong = np.flatnonzero(~(np.isfinite(loss) & (loss >= 0)))
        if wrong.size:
            msg = f"loss must be finite and not negative: point {int(wrong[0])} is {loss.flat[wrong[0]]:g} W"
            raise ValueError(msg)
        loss.setflags(write=False)
        object.__setattr__(self, "flux_per_turn", flux)
        object.__setattr__(self, "loss", loss)
        over_square = loss / flux**2
        cubics = hermite(flux, over_square, monotone_slopes(flux, over_square))
        # Asked for one flux at a time, where plain floats are many times quicker than arrays, or for those of a block.
        alone = flux.ndim == 1
        object.__setattr__(self, "_knots", flux.tolist() if alone else [])
        object.__setattr__(self, "_cubics", cubics.T.tolist() if alone else [])
        # At its last knot a row goes on with nothing but its value.
        last = np.zeros((4, *flux.shape[:-1], 1))
        last[3, ..., 0] = over_square[..., -1]
        table = np.concatenate([cubics, last], axis=-1)
        object.__setattr__(self, "_table", np.stack([*table, flux]).reshape(5, -1))
        object.__setattr__(self, "_rows", None if alone else Rows(flux))

    def conductance(self, peak_flux: Real, frequency: Real) -> Real:
        """Return G, the conductance per turn squared at a peak flux, (...,) [S].

        Parameters
        ----------
        peak_flux
            (...,) peak flux per turn [Wb].
        frequency
            (...,) of the curve and the circuit [Hz].
        """
        knots, rows = self._knots, self._rows
        a: Any
        if rows is not None:
            size = np.abs(np.asarray(peak_flux))
            ends = self.flux_per_turn[rows.members][:, [0, -1]].reshape(-1, *(1,) * (size.ndim - 1), 2)
            size = np.minimum(np.maximum(size, ends[..., 0]), ends[..., 1])
            a, b, c, d, start = self._table.take(rows.find(size), axis=1)
            x: Any = size - start
        elif isinstance(peak_flux, np.ndarray):
            size = np.minimum(np.maximum(np.abs(peak_flux), knots[0]), knots[-1])
            piece = np.minimum(self.flux_per_turn.searchsorted(size, side="right"), len(knots) - 1) - 1
            a, b, c, d, start = self._table.take(piece, axis=1)
            x = size - start
        else:
            within = min(max(abs(peak_flux), knots[0]), knots[-1])
            at = min(bisect_right(knots, within), len(knots) - 1) - 1
            a, b, c, d = self._cubics[at]
            x = within - knots[at]
        found: Real = (((a * x + b) * x + c) * x + d) / (2 * np.pi**2 * frequency**2)
        return found
