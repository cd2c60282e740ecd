"""Errors that reach the command line with an exit code of their own."""

from collections.abc import Iterable

from fem.arrays import Floats
from fem.constants import ZERO_CELSIUS


class NotConverged(ArithmeticError):
    """An iteration stopped short of its tolerance.

    Parameters
    ----------
    what
        The quantity that was sought.
    residual, tolerance
        Relative residual reached and asked for [-].
    tried
        Means already used, in words.
    """

    def __init__(self, what: str, *, residual: float, tolerance: float, tried: str) -> None:
        super().__init__(f"{what}: relative residual {residual:.3g} instead of {tolerance:.3g} after {tried}")
        self.what = what
        self.residual = residual
        self.tolerance = tolerance
        self.tried = tried

    def __reduce__(self) -> tuple[object, ...]:
        """Survive the way back from a worker process, keyword arguments and all."""
        return _not_converged, (self.what, self.residual, self.tolerance, self.tried)


def _not_converged(what: str, residual: float, tolerance: float, tried: str) -> NotConverged:
    return NotConverged(what, residual=residual, tolerance=tolerance, tried=tried)


class OutOfRange(ValueError):
    """A result would rest on data beyond their end; the message names the data and what to give."""


class TooHot(OutOfRange):
    """A lump of the machine passes the temperature at which the data end.

    Parameters
    ----------
    part
        Which lump.
    ceiling
        Where the data end [K].
    time
        From the beginning [s]; None where it is of a cycle repeated for good.
    temperatures
        (nodes,) of all lumps at that moment; of a repeated cycle's peaks at least so much [K].
    """

    def __init__(self, part: str, ceiling: float, time: float | None, temperatures: Floats) -> None:
        super().__init__(part, ceiling, time, temperatures)
        self.part = part
        self.ceiling = ceiling
        self.time = time
        self.temperatures = temperatures

    def __str__(self) -> str:
        """Return the sentence for the user."""
        end = f"{self.ceiling - ZERO_CELSIUS:.0f} degC"
        if self.time is None:
            return f"{self.part} would settle above {end}, where the data end, or nowhere"
        return f"{self.part} passes {end} after {self.time:.3g} s, where the data end"


class DoesNotFit(ValueError):
    """The windings or shunts do not go into the window; `faults` has one (key, sentence) for each reason."""

    def __init__(self, faults: Iterable[tuple[str, str]]) -> None:
        self.faults = tuple((key, text) for key, text in faults)
        super().__init__("; ".join(f"{key}: {text}" for key, text in self.faults))
