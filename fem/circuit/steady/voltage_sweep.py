"""No-load current against voltage: the curve one takes with a variable transformer."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite

import numpy as np
from scipy.optimize import brentq

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.idle import Idle, idle, idle_sweep
from fem.errors import NotConverged

MAINS_SHARES = (0.90, 1.00, 1.06, 1.10)
"""Shares of the nominal mains voltage worth a look: the limits of supply, -10 % and +10 % (EN 50160, from memory), and
the +6 % at which small transformers are tested for heating (IEC 61558-1, from memory)."""

_DOUBLINGS = 60


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class IdleCurve:
    """Hold what the meters at the primary terminals show as the voltage rises, secondary open; n points.

    Parameters
    ----------
    voltage_rms, current_rms, current_peak : (n,) array
        [V], [A], [A].
    apparent_power, real_power : (n,) array
        [VA], [W].
    volts_per_turn, peak_flux_per_turn : (n,) array
        Induced, r.m.s. [V]; [Wb].
    """

    voltage_rms: Floats
    current_rms: Floats
    current_peak: Floats
    apparent_power: Floats
    real_power: Floats
    volts_per_turn: Floats
    peak_flux_per_turn: Floats


def idle_curve(circuit: Circuit, voltages: Iterable[float]) -> IdleCurve:
    """Solve the no-load state at rising voltages.

    Parameters
    ----------
    circuit : Circuit
        Its source impedance stands for that of the variable transformer too.
    voltages : iterable of float
        R.m.s. e.m.f. behind that impedance [V].

    Returns
    -------
    IdleCurve
        In the order of `voltages`.

    Raises
    ------
    NotConverged, ValueError
        As `idle`.
    """
    states = idle_sweep(circuit, voltages)

    def column(name: str) -> Floats:
        return np.array([getattr(state, name) for state in states], dtype=np.float64)

    return IdleCurve(
        voltage_rms=column("terminal_voltage_rms"),
        current_rms=column("current_rms"),
        current_peak=column("current_peak"),
        apparent_power=column("apparent_power"),
        real_power=column("real_power"),
        volts_per_turn=column("secondary_voltage_rms") / circuit.secondary_turns,
        peak_flux_per_turn=column("peak_flux_per_turn"),
    )


def voltages_up_to(circuit: Circuit, current_rms: float, points: int = 40) -> Floats:
    """Return mains voltages from low up to the one that drives a wanted no-load current.

    Parameters
    ----------
    circuit : Circuit
    current_rms : float
        [A], > 0.
    points : int
        [-], at least 2.

    Returns
    -------
    (points,) array
        Equal steps [V].

    Raises
    ------
    ValueError
        If a number is out of range.
    NotConverged
        As `idle`.
    """
    if points < 2:
        msg = f"points must be at least 2, got {points}"
        raise ValueError(msg)
    return voltage_for_idle_current(circuit, current_rms) * np.arange(1, points + 1) / points


def voltage_for_idle_current(circuit: Circuit, current_rms: float) -> float:
    """Find the mains voltage that drives a wanted r.m.s. no-load current.

    Parameters
    ----------
    circuit : Circuit
        Its own voltage is only where the search begins.
    current_rms : float
        [A], > 0.

    Returns
    -------
    float
        R.m.s. e.m.f. behind the source impedance [V].

    Raises
    ------
    ValueError
        If the current is not above 0.
    NotConverged
        If no voltage is found, or as `idle`.

    Notes
    -----
    With everything that the turn-free `volts_per_turn_for` leaves out: loss current, winding and source impedance.
    """
    if not (isfinite(current_rms) and current_rms > 0):
        msg = f"current_rms must be above 0, got {current_rms!r}"
        raise ValueError(msg)

    def excess(voltage: float) -> float:
        # In logarithms the curve is nearly straight on either side of the knee.
        return float(np.log(idle(circuit.with_voltage(voltage)).current_rms / current_rms))

    low = high = circuit.voltage_rms
    low_excess = high_excess = excess(low)
    for _ in range(_DOUBLINGS):
        if low_excess > 0:
            low *= 0.5
            low_excess = excess(low)
        elif high_excess < 0:
            high *= 1.25
            high_excess = excess(high)
        else:
            return float(brentq(excess, low, high, rtol=1e-10)) if high > low else high
    what = f"voltage for a no-load current of {current_rms:g} A"
    raise NotConverged(
        what, residual=max(low_excess, -high_excess), tolerance=0.0, tried=f"voltages from {low:g} V to {high:g} V"
    )


def idle_at_mains(circuit: Circuit, shares: Iterable[float] = MAINS_SHARES) -> dict[float, Idle]:
    """Solve the no-load state at shares of the mains voltage.

    Parameters
    ----------
    circuit : Circuit
    shares : iterable of float
        Of its mains voltage [-].

    Returns
    -------
    dict
        From share to state.

    Raises
    ------
    NotConverged, ValueError
        As `idle`.
    """
    wanted = tuple(shares)
    return dict(zip(wanted, idle_sweep(circuit, [share * circuit.voltage_rms for share in wanted]), strict=True))
