"""No-load current against voltage: the curve one takes with a variable transformer."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Floats, positive
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import first_half
from fem.circuit.steady.idle import Idle, idle
from fem.errors import NotConverged
from fem.roots import root

_DOUBLINGS = 60


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class IdleCurve:
    """What the meters at the primary terminals show as the voltage rises, secondary open; n points.

    Parameters
    ----------
    voltage_rms, current_rms, current_peak
        (n,) [V], [A], [A].
    apparent_power, real_power
        (n,) [VA], [W].
    volts_per_turn, peak_flux_per_turn
        (n,) induced, r.m.s. [V]; [Wb].
    """

    voltage_rms: Floats
    current_rms: Floats
    current_peak: Floats
    apparent_power: Floats
    real_power: Floats
    volts_per_turn: Floats
    peak_flux_per_turn: Floats


def idle_curve(circuit: Circuit, voltages: Iterable[float]) -> IdleCurve:
    """Solve the no-load state at several voltages, in their order.

    Parameters
    ----------
    circuit
        Its source impedance stands for that of the variable transformer too.
    voltages
        R.m.s. e.m.f. behind that impedance [V].

    Raises
    ------
    NotConverged, ValueError
        As `idle`.
    """
    states: Any = idle(circuit.with_voltage(np.array([*voltages])))
    return IdleCurve(
        voltage_rms=states.terminal_voltage_rms,
        current_rms=states.current_rms,
        current_peak=states.current_peak,
        apparent_power=states.apparent_power,
        real_power=states.real_power,
        volts_per_turn=states.secondary_voltage_rms / circuit.secondary_turns,
        peak_flux_per_turn=states.peak_flux_per_turn,
    )


def voltages_up_to(circuit: Circuit, current_rms: float, points: int = 40, known: Idle | None = None) -> Floats:
    """Return mains voltages in equal steps up to the one that drives a wanted no-load current, (points,) [V].

    Parameters
    ----------
    current_rms
        [A], > 0.
    points
        [-], at least 2.
    known
        As `voltage_for_idle_current`.

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
    return voltage_for_idle_current(circuit, current_rms, known) * np.arange(1, points + 1) / points


def voltage_for_idle_current(circuit: Circuit, current_rms: float, known: Idle | None = None) -> float:
    """Find the r.m.s. mains e.m.f. behind the source impedance that drives a wanted r.m.s. no-load current [V].

    Parameters
    ----------
    circuit
        Of one design; its own voltage is only where the search begins.
    current_rms
        [A], > 0.
    known
        The no-load state at that voltage, where it has been solved.

    Raises
    ------
    ValueError
        If the current is not above 0.
    NotConverged
        If no voltage is found, or as `idle`.

    Notes
    -----
    The root of ln(I(U)/I), in which the curve is nearly straight on either side of the knee; bracketed by steps, then
    by Brent's method, each no-load state starting from the last one's flux over voltage.
    """
    positive(current_rms=current_rms)
    low = high = circuit.voltage_rms
    last = (low, known or idle(circuit))

    def excess(voltage: float) -> float:
        nonlocal last
        if voltage != last[0]:
            start = voltage / last[0] * first_half(last[1].flux_per_turn)
            last = voltage, idle(circuit.with_voltage(voltage), start=start)
        return float(np.log(last[1].current_rms / current_rms))

    low_excess = high_excess = excess(low)
    for _ in range(_DOUBLINGS):
        if low_excess > 0:
            low *= 0.5
            low_excess = excess(low)
        elif high_excess < 0:
            high *= 1.25
            high_excess = excess(high)
        else:
            return root(excess, low, high, rtol=1e-10) if high > low else high
    what = f"voltage for a no-load current of {current_rms:g} A"
    raise NotConverged(
        what, residual=max(low_excess, -high_excess), tolerance=0.0, tried=f"voltages from {low:g} V to {high:g} V"
    )
