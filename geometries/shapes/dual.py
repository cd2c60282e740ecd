"""Numbers that carry their derivatives, so that whatever lengths are computed from yields theirs as well, exactly.

Forward differentiation: a number x with its gradient dx over some inputs; x y has the gradient x dy + y dx, and so on.
What decides between cases (comparisons, counts of conductors) sees the value alone, so the derivative is that of the
case at hand.

References
----------
A. Griewank and A. Walther, Evaluating Derivatives, SIAM 2008, chapter 3: the forward mode.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from geometries.shapes.arrays import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Dual:
    """A number and its derivatives.

    It compares and rounds like its value. It refuses to become a plain float, because there its derivatives would be
    lost without a word, and has no hash, so that no table of kept values takes it for one.

    Parameters
    ----------
    value
        The number.
    grad
        Its derivatives by the inputs (n,).
    """

    value: float
    grad: Floats

    __array_ufunc__ = None
    __hash__ = None  # type: ignore[assignment]

    def __add__(self, other: Dual | float) -> Dual:
        return Dual(self.value + number(other), self.grad + _grad(other))

    __radd__ = __add__

    def __neg__(self) -> Dual:
        return Dual(-self.value, -self.grad)

    def __sub__(self, other: Dual | float) -> Dual:
        return Dual(self.value - number(other), self.grad - _grad(other))

    def __rsub__(self, other: float) -> Dual:
        return Dual(other - self.value, -self.grad)

    def __mul__(self, other: Dual | float) -> Dual:
        y = number(other)
        return Dual(self.value * y, self.grad * y + self.value * _grad(other))

    __rmul__ = __mul__

    def __truediv__(self, other: Dual | float) -> Dual:
        y = number(other)
        return Dual(self.value / y, (self.grad - self.value / y * _grad(other)) / y)

    def __rtruediv__(self, other: float) -> Dual:
        return Dual(other / self.value, -other / self.value**2 * self.grad)

    def __pow__(self, power: float) -> Dual:
        # a root of nothing stays nothing in the case at hand
        slope = power * self.value ** (power - 1) if self.value or power >= 1 else 0.0
        return Dual(self.value**power, slope * self.grad)

    def __abs__(self) -> Dual:
        return -self if self.value < 0 else self

    def __eq__(self, other: object) -> bool:
        return self.value == (other.value if isinstance(other, Dual) else other)

    def __lt__(self, other: Dual | float) -> bool:
        return self.value < number(other)

    def __le__(self, other: Dual | float) -> bool:
        return self.value <= number(other)

    def __gt__(self, other: Dual | float) -> bool:
        return self.value > number(other)

    def __ge__(self, other: Dual | float) -> bool:
        return self.value >= number(other)

    def __bool__(self) -> bool:
        return bool(self.value)

    def __round__(self, digits: int | None = None) -> int:
        return round(self.value)

    def __floor__(self) -> int:
        return math.floor(self.value)

    def __ceil__(self) -> int:
        return math.ceil(self.value)

    def __float__(self) -> float:
        msg = f"{self.value}: its derivatives would be lost; take `number`"
        raise TypeError(msg)

    def __format__(self, spec: str) -> str:
        return format(self.value, spec)


def number(x: Dual | float) -> float:
    """Return the value alone."""
    return x.value if isinstance(x, Dual) else float(x)


def gradients(values: Iterable[Dual | float], size: int) -> Floats:
    """Return the derivatives of some numbers (numbers, size); of plain ones 0."""
    return np.array([x.grad if isinstance(x, Dual) else np.zeros(size) for x in values]).reshape(-1, size)


def _grad(x: Dual | float) -> Floats | float:
    return x.grad if isinstance(x, Dual) else 0.0


def root(x: float) -> float:
    """Return the square root of a number that may carry derivatives."""
    return x**0.5 if isinstance(x, Dual) else math.sqrt(x)
