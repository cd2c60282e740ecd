"""Inrush: switching on with the secondary open."""

from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import OPEN
from fem.circuit.time.stepping import STEPS
from fem.circuit.time.switch_on import FirstPeak, worst_peaks


def inrush(circuit: Circuit, *, remanence: float = 0.0, steps: int = STEPS) -> FirstPeak:
    """Find the first primary current peak when switched on at the worst moment with the secondary open.

    Parameters
    ----------
    circuit : Circuit
        Its leads and load play no part.
    remanence : float
        Flux per turn left in the core, either sign [Wb].
    steps : int
        Time steps per period [-].

    Returns
    -------
    FirstPeak

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    As `worst_peaks`, the secondary loop left open. `switch_on` follows the decay over the cycles.
    """
    return worst_peaks(circuit, OPEN, remanence, steps).primary
