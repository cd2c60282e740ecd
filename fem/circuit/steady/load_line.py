"""From open circuit to short circuit: volts at the lead ends against current, and power."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, inf, log
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import Loaded, loaded
from fem.roots import root

_APART = 1e-3
"""Of the loads at which the slope of the power is taken, in ln R: a third derivative as large as the second then moves
the strongest load by 2e-7, where power is flat."""
_OPEN = 1e9
"""Load over inner impedance [-] that stands for an open circuit: the current is a billionth of the short circuit's."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LoadLine:
    """The states from open circuit to short circuit at the lead ends.

    Parameters
    ----------
    load_resistance
        (n,) falling from infinity to 0 [ohm].
    current, voltage
        (n,) r.m.s. load current, rising from 0 [A]; r.m.s. volts at the lead ends [V].
    power
        (n,) into the load [W].
    primary_current, input_power, input_apparent_power
        (n,) at the primary terminals, r.m.s. [A], [W], [VA].
    power_factor, efficiency
        (n,) [-].
    open_voltage
        [V].
    strongest
        The state at which the load takes most power.
    """

    load_resistance: Floats
    current: Floats
    voltage: Floats
    power: Floats
    primary_current: Floats
    input_power: Floats
    input_apparent_power: Floats
    power_factor: Floats
    efficiency: Floats
    open_voltage: float
    strongest: Loaded


def inner_impedance(circuit: Circuit) -> complex:
    """Return the impedance between the ideal source and the lead ends, magnetising branch left out, (...,) [ohm].

    Notes
    -----
    Z = (N_2/N_1)^2 (R_s + R_1 + j omega L_s) + R_2 + R_l + j omega (N_2^2 Lambda + L_l), seen from the secondary; of a
    leakage curve, the unsaturated one.
    """
    ratio = circuit.secondary_turns / circuit.primary_turns
    resistance = circuit.loop_resistance * ratio**2 + circuit.secondary_resistance + circuit.lead_resistance
    inductance = circuit.source_inductance * ratio**2 + circuit.leakage_inductance_secondary
    return resistance + 1j * (circuit.angular_frequency * inductance)


def over_loads(circuit: Circuit, loads: Floats, at: Callable[[Any], Circuit] | None = None) -> Loaded:
    """Return the states with loads (n,) [ohm] as one, fields (n,).

    Parameters
    ----------
    circuit, at
        As `load_line`; `at` takes the loads together.
    """
    return loaded(circuit if at is None else at(loads), loads)  # type: ignore[arg-type]


def load_line(circuit: Circuit, *, at: Callable[[Any], Circuit] | None = None, points: int = 41) -> LoadLine:
    """Trace the lead ends from open circuit to short circuit.

    Parameters
    ----------
    circuit
        Its own load plays no part.
    at
        From a load [ohm] to the circuit as it is with that load; `circuit` itself where not given.
    points
        Loads, the two ends included [-], at least 3.

    Raises
    ------
    ValueError
        If `points` is below 3.

    Notes
    -----
    Each point is `loaded`. With s the share of the short circuit's current, R = |Z| (1 - s)/s: a source of constant
    impedance would give near equal steps of current. The strongest load is sought as the root of the power's
    slope in ln R, a central difference; where nothing saturates it is |Z| (maximum power transfer into a resistance).
    """
    if points < 3:
        msg = f"points must be at least 3, got {points}"
        raise ValueError(msg)

    scale = abs(inner_impedance(circuit))
    share = np.linspace(0.0, 1.0, points)[1:]
    resistances = np.array([_OPEN * scale, *(scale * (1 - share) / share)])
    states: Any = over_loads(circuit, resistances, at)

    def rise(log_resistance: float) -> float:
        power: Any = over_loads(circuit, np.exp([log_resistance - _APART, log_resistance + _APART]), at).load_power
        return float(power[1] - power[0])

    best = root(rise, log(scale) - 5, log(scale) + 5, xtol=1e-7)
    strongest = exp(best)
    return LoadLine(
        load_resistance=np.array([inf, *resistances[1:]]),
        current=np.array([0.0, *states.secondary_current_rms[1:]]),
        voltage=states.load_voltage_rms,
        power=np.array([0.0, *states.load_power[1:]]),
        primary_current=states.primary_current_rms,
        input_power=states.input_power,
        input_apparent_power=states.input_apparent_power,
        power_factor=states.power_factor,
        efficiency=np.array([0.0, *states.efficiency[1:]]),
        open_voltage=float(states.load_voltage_rms[0]),
        strongest=loaded(circuit if at is None else at(strongest), strongest),
    )
