"""Single-valued magnetisation curves: from a table to a smooth law that saturates."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.constants import MU0
from fem.cubics import Cubics, monotone_slopes
from fem.digits import brief
from fem.materials.user_table import check_rows, read_rows


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class BHCurve:
    """Hold a magnetisation curve: odd, once continuously differentiable, nowhere less steep than air.

    Parameters
    ----------
    name
        What the steel is called.
    H
        Field strength [A/m], shape (n,), n >= 3, from 0 upwards.
    B
        Flux density [T], shape (n,), from 0 upwards.
    saturation_polarisation
        Polarisation J_s approached beyond the last row [T]; None if unknown, and then the curve ends at its last row.
    source
        Where the rows come from.
    within
        By how much H may be off at each row, nine times out of ten, where the table says so (n,) [-].

    Raises
    ------
    ValueError
        If the rows do not start at (0, 0), do not rise, rise less than air does, or contradict J_s.

    Notes
    -----
    The polarisation J = B - MU0 H is interpolated, by a monotone cubic (Fritsch and Carlson, SIAM J. Numer. Anal. 17
    (1980) 238), hence dB/dH >= MU0 between the rows. Beyond the last row the law of approach to saturation with its
    quadratic term, J = J_s - a/(H + c)^2, runs through the last two rows (R. M. Bozorth, Ferromagnetism, 1951, ch. 11,
    from memory); its slope at the last row is also the spline's end slope. At the origin the slope is that of the odd
    cubic through the first two rows, limited to between 1/2 and 3 times their first chord.
    """

    name: str
    H: Floats
    B: Floats
    saturation_polarisation: float | None
    source: str
    within: Floats | None = None
    spline: Cubics = field(init=False, repr=False)
    approach: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        H, B = (np.array(values, dtype=np.float64) for values in (self.H, self.B))
        if H.ndim != 1 or H.shape != B.shape:
            msg = f"{self.name}: H has shape {H.shape}, B has shape {B.shape}; both must be one column of equal length"
            raise ValueError(msg)
        check_rows(self.name, range(1, H.size + 1), H, B, self.saturation_polarisation)
        for values in (H, B):
            values.flags.writeable = False
        object.__setattr__(self, "H", H)
        object.__setattr__(self, "B", B)
        self.interpolate()

    def interpolate(self) -> None:
        """Lay the curve through the rows. With an imaginary step in B (`varied`) cases are told by the real parts."""
        J, J_s = self.B - MU0 * self.H, self.saturation_polarisation
        approach = _approach_field(self.H, J, J_s)
        object.__setattr__(self, "spline", Cubics.hermite(self.H, J, _slopes(self.H, J, J_s, approach)))
        object.__setattr__(self, "approach", approach)

    @property
    def valid_to(self) -> float:
        """Largest flux density the curve answers for [T]: infinite where the saturation polarisation is known."""
        return inf if self.saturation_polarisation is not None else float(self.B[-1])

    def polarisation(self, H: ArrayLike) -> Floats:
        """Return the polarisation J = B - MU0 H [T] at field strength H [A/m], any shape.

        Raises
        ------
        ValueError
            If H lies beyond the last row of a curve without saturation polarisation.
        """
        H = np.asarray(H, dtype=np.float64)
        return np.asarray(np.copysign(self.polarisation_and_slope(np.abs(H))[0], H))

    def flux_density(self, H: ArrayLike) -> Floats:
        """Return the flux density [T] at field strength H [A/m], any shape; raises as `polarisation`."""
        H = np.asarray(H, dtype=np.float64)
        return MU0 * H + self.polarisation(H)

    def differential_permeability(self, H: ArrayLike) -> Floats:
        """Return dB/dH [H/m] at field strength H [A/m], any shape; raises as `polarisation`."""
        return MU0 + self.polarisation_and_slope(np.abs(np.asarray(H, dtype=np.float64)))[1]

    def field_strength(self, B: ArrayLike, iron_fraction: float = 1.0) -> Floats:
        """Return the field strength at which iron and the air beside it carry an average flux density.

        Parameters
        ----------
        B
            Flux density averaged over iron and air along the same field [T], any shape.
        iron_fraction
            Share of the cross-section that is iron [-], above 0, up to 1.

        Returns
        -------
        Field strength H [A/m] with iron_fraction J(H) + MU0 H = B, same shape.

        Raises
        ------
        ValueError
            If the iron would have to carry more than `valid_to`.
        """
        B = np.asarray(B, dtype=np.float64)
        b = np.abs(B)
        rows = iron_fraction * (self.B - MU0 * self.H) + MU0 * self.H
        if self.saturation_polarisation is None and b.size and b.max() > rows[-1] * (1 + 1e-12):
            msg = (
                f"{self.name}: {brief(b.max(), 4)} T is above {brief(rows[-1], 4)} T, the end of the table; "
                "give the saturation polarisation to go beyond"
            )
            raise ValueError(msg)
        above = np.searchsorted(rows, b, side="right")
        inside = np.clip(above, 1, rows.size - 1)
        tail = above >= rows.size
        low = np.where(tail, self.H[-1], self.H[inside - 1])
        # The iron's own part only rises, so that of the last row bounds H from above.
        high = np.where(tail, np.maximum(self.H[-1], self.H[-1] + (b - rows[-1]) / MU0), self.H[inside])
        if self.saturation_polarisation is None:
            high = np.minimum(high, self.H[-1])
        return np.asarray(np.copysign(self._solve(b, iron_fraction, low, high), B))

    def polarisation_and_slope(self, h: Floats) -> tuple[Floats, Floats]:
        """Return polarisation [T] and its slope dJ/dH [H/m] at h >= 0 [A/m]."""
        end = self.H[-1]
        beyond = h > end
        inside = np.minimum(h, end)
        polarisation = self.spline(inside)
        slope = self.spline(inside, 1)
        if not np.any(beyond):
            return polarisation, slope
        J_s = self.saturation_polarisation
        if J_s is None:
            msg = (
                f"{self.name}: {brief(np.max(h), 4)} A/m is beyond {brief(end, 4)} A/m, the end of the table; "
                "give the saturation polarisation to go beyond"
            )
            raise ValueError(msg)
        remaining = J_s - (self.B[-1] - MU0 * end)
        q = self.approach / (self.approach + np.maximum(h - end, 0.0))
        return (
            np.where(beyond, J_s - remaining * q**2, polarisation),
            np.where(beyond, 2 * remaining / self.approach * q**3, slope),
        )

    def _solve(self, b: Floats, iron_fraction: float, low: Floats, high: Floats) -> Floats:
        """Solve iron_fraction J(h) + MU0 h = b by Newton steps kept inside a shrinking bracket [A/m]."""
        h = 0.5 * (low + high)
        for _ in range(200):
            polarisation, slope = self.polarisation_and_slope(h)
            residual = iron_fraction * polarisation + MU0 * h - b
            low = np.where(residual <= 0, h, low)
            high = np.where(residual >= 0, h, high)
            step = residual / (iron_fraction * slope + MU0)
            # Rounding of b leaves some ten ulp in h, more where J is level; 1e-9 A/m only serves b = 0.
            converged = (np.abs(step) <= 1e-13 * (h + 1e-9)) | (np.abs(residual) <= 4 * np.finfo(float).eps * b)
            newton = h - step
            wanders = ~converged & ((newton < low) | (newton > high))
            h = np.where(wanders, 0.5 * (low + high), np.clip(newton, low, high))
            if converged.all():
                return h
        msg = f"{self.name}: no field strength found for {b[~converged].max():.6g} T"
        raise ArithmeticError(msg)


def read_bh_table(path: str | Path, saturation_polarisation: float | None) -> BHCurve:
    """Read a magnetisation curve from a CSV file headed `H_A_per_m,B_T` or `H_A_per_m,B_T,H_within`; see `user_table`.

    Parameters
    ----------
    path
        The file.
    saturation_polarisation
        Polarisation approached beyond the last row [T]; None if unknown.

    Returns
    -------
    The curve, named after the file.

    Raises
    ------
    ValueError
        If a line cannot be used: one line of text with the file, the line, what is wrong and what is allowed.
    OSError
        If the file cannot be opened.
    """
    path = Path(path)
    lines, table = read_rows(path)
    check_rows(path.name, lines, table[:, 0], table[:, 1], saturation_polarisation, row="line")
    return BHCurve(
        name=path.stem,
        H=table[:, 0],
        B=table[:, 1],
        saturation_polarisation=saturation_polarisation,
        source=f"table {path.name}",
        within=table[:, 2] if table.shape[1] > 2 else None,
    )


def _approach_field(H: Floats, J: Floats, J_s: float | None) -> float:
    """Return H + c of the law of approach at the last row [A/m]; 1 where there is nothing left to approach."""
    if J_s is None or J_s - J[-1] <= 1e-9 * J_s:
        return 1.0
    ratio = ((J_s - J[-2]) / (J_s - J[-1])) ** 0.5
    found: float = (H[-1] - H[-2]) * ratio / (ratio - 1)
    return found


def _slopes(H: Floats, J: Floats, J_s: float | None, approach: float) -> Floats:
    """Return dJ/dH at the rows [H/m], none steep enough to make the cubic overshoot."""
    slopes = monotone_slopes(H, J)
    near, far = J[1] / H[1], J[2] / H[2]
    odd_cubic = (near * H[2] ** 2 - far * H[1] ** 2) / (H[2] ** 2 - H[1] ** 2)
    slopes[0] = np.clip(odd_cubic, 0.5 * near, 3 * near)
    if J_s is not None:
        slopes[-1] = 2 * max(J_s - J[-1], 0.0) / approach
    return slopes
