"""Geometric mean distances of rectangles, for the inductance of bars."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, positive


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Rectangle:
    """A rectangle with sides along the axes, or a block (...,) of them.

    Parameters
    ----------
    width, height
        (...,) along x and y [m], > 0.
    x, y
        (...,) of the centre [m].

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    width: float | Floats
    height: float | Floats
    x: float | Floats = 0.0
    y: float | Floats = 0.0

    def __post_init__(self) -> None:
        """Refuse a rectangle without area."""
        positive(width=self.width, height=self.height)


def gmd_rectangles(a: Rectangle, b: Rectangle) -> Floats:
    """Return the geometric mean distance between two rectangles, of one from itself if they are the same, (...,) [m].

    Parameters
    ----------
    a, b
        They may touch or coincide.

    Notes
    -----
    ln D = 1/(A_a A_b) int_a int_b ln|r_a - r_b| dA_b dA_a. The kernel depends on differences of coordinates alone, so
    the four integrals become second differences, in x and in y, of the function g with d^4 g/dx^2 dy^2 = ln r:

        g(x, y) = (x^2 y^2/8 - (x^4 + y^4)/48) ln r^2 + x y/6 (x^2 atan(y/x) + y^2 atan(x/y)) - 25/48 x^2 y^2
        A_a A_b ln D = sum_ij s_i s_j g(x_i, y_j), s = (1, -1, -1, 1), x_i and y_j the differences of edges.

    It cancels digits where the distance is large against the sides: the error grows as their ratio to the fourth power,
    to about 1e-8 at a hundred times the side.

    References
    ----------
    T. J. Higgins, J. Appl. Phys. 14 (1943) 188; for squares E. B. Rosa, Bull. Bur. Stds 3 (1907) 1, from memory.
    """
    scale = np.maximum(np.maximum(a.width, a.height), np.maximum(b.width, b.height))
    x = _differences(np.subtract(b.x, a.x), a.width, b.width, scale)[..., :, None]
    y = _differences(np.subtract(b.y, a.y), a.height, b.height, scale)[..., None, :]
    signs = np.array([1.0, -1.0, -1.0, 1.0])
    total = signs @ _corner_sum(*np.broadcast_arrays(x, y)) @ signs
    areas = a.width * a.height * b.width * b.height / scale**4
    return np.asarray(scale * np.exp(total / areas))


def _differences(centre: Floats, side_a: float | Floats, side_b: float | Floats, scale: Floats) -> Floats:
    """Return the differences of the edges' coordinates over a scale, (..., 4) [-]."""
    half_a, half_b = 0.5 * np.asarray(side_a), 0.5 * np.asarray(side_b)
    edges = (centre + half_b + half_a, centre + half_b - half_a, centre - half_b + half_a, centre - half_b - half_a)
    return np.stack(np.broadcast_arrays(*(edge / scale for edge in edges)), axis=-1)


def _corner_sum(x: Floats, y: Floats) -> Floats:
    """Return g(x, y) of `gmd_rectangles`, (...,)."""
    x2, y2 = x**2, y**2
    square = x2 + y2
    logarithm = np.log(np.where(square > 0, square, 1.0))
    # atan(y/x) is multiplied by x^3 y, so its value on x = 0 never matters.
    over_x = np.arctan(np.divide(y, x, out=np.zeros_like(y), where=x != 0))
    over_y = np.arctan(np.divide(x, y, out=np.zeros_like(x), where=y != 0))
    return (
        (x2 * y2 / 8 - (x2**2 + y2**2) / 48) * logarithm + x * y / 6 * (x2 * over_x + y2 * over_y) - 25 / 48 * x2 * y2
    )
