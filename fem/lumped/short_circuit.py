"""Short circuit at the lead ends: on the mains, and the reduced-voltage test on the bench."""

from dataclasses import dataclass
from math import isfinite

from scipy.optimize import brentq

from fem.lumped.circuit import Circuit
from fem.lumped.load import Loaded, loaded, state_at_emf


@dataclass(frozen=True, kw_only=True, slots=True)
class ShortTest:
    """Hold what the meters show with shorted leads and the primary on a reduced voltage.

    Parameters
    ----------
    primary_voltage_rms : float
        At the primary terminals, fundamental [V].
    primary_current_rms, secondary_current_rms : float
        [A].
    power : float
        At the primary terminals [W].
    power_factor : float
        [-].
    """

    primary_voltage_rms: float
    primary_current_rms: float
    secondary_current_rms: float
    power: float
    power_factor: float


def short_circuit(circuit: Circuit) -> Loaded:
    """Solve the sustained short circuit at the lead ends on the mains.

    Parameters
    ----------
    circuit : Circuit
        Its load is bridged.

    Returns
    -------
    Loaded
    """
    return loaded(circuit, 0.0)


def short_test(circuit: Circuit, primary_current: float = 10.0) -> ShortTest:
    """Find the reduced primary voltage that drives a chosen primary current with the leads shorted.

    Parameters
    ----------
    circuit : Circuit
        Its mains voltage and source impedance play no part.
    primary_current : float
        R.m.s. [A], > 0.

    Returns
    -------
    ShortTest

    Raises
    ------
    ValueError
        If the current is not above 0.
    """
    if not (isfinite(primary_current) and primary_current > 0):
        msg = f"primary_current must be above 0, got {primary_current!r}"
        raise ValueError(msg)

    def excess(emf: float) -> float:
        return state_at_emf(circuit, emf, 0.0).primary_current_rms - primary_current

    high = 1e-3 * circuit.voltage_rms
    while excess(high) < 0:
        high *= 2
    emf = float(brentq(excess, 1e-12 * high, high, xtol=1e-13 * high))
    state = state_at_emf(circuit, emf, 0.0)
    return ShortTest(
        primary_voltage_rms=state.terminal_voltage_rms,
        primary_current_rms=state.primary_current_rms,
        secondary_current_rms=state.secondary_current_rms,
        power=state.input_power,
        power_factor=state.power_factor,
    )
