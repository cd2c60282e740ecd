"""What the circuit solvers raise when they fail."""

from fem import errors


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
