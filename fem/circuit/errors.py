"""What the circuit solvers raise when they fail."""

from fem import errors
from fem.arrays import Floats
from fem.constants import ZERO_CELSIUS


class NotConverged(errors.NotConverged):
    """Say which iteration stopped short of its tolerance, and what had been tried.

    Parameters
    ----------
    what : str
        The quantity that was sought.
    residual : float
        Relative residual reached [-].
    tolerance : float
        Relative residual asked for [-].
    tried : str
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
        return _rebuild, (self.what, self.residual, self.tolerance, self.tried)


def _rebuild(what: str, residual: float, tolerance: float, tried: str) -> NotConverged:
    return NotConverged(what, residual=residual, tolerance=tolerance, tried=tried)


class TooHot(errors.OutOfRange):
    """Say which lump of the machine passes the temperature at which the data end, and when.

    Parameters
    ----------
    part : str
    ceiling : float
        Where the data end [K].
    time : float or None
        From the beginning [s]; None where it is of a cycle repeated for good.
    temperatures : (nodes,) array
        Of all lumps at that moment; of a repeated cycle's peaks at least so much [K].
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
