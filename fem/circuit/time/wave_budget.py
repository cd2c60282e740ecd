"""Where the volts of the mains go in a periodic state with currents that are no sinusoids, as behind a rectifier."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.time.periodic import Periodic
from fem.circuit.time.stepping import leakage_flux


@dataclass(frozen=True, kw_only=True, slots=True)
class WaveDrop:
    """One part of the mains e.m.f., as it appears at the secondary.

    Parameters
    ----------
    name
        What takes it.
    magnitude
        R.m.s. [V].
    share
        Its component along the e.m.f., as a share of it [-]; all shares add up to 1.
    """

    name: str
    magnitude: float
    share: float


def wave_budget(circuit: Circuit, state: Periodic, *, joint_resistance: float = 0.0) -> tuple[WaveDrop, ...]:
    """Split the mains e.m.f. into what each part takes over a period, from the mains to the load.

    Parameters
    ----------
    state
        Of that circuit, with a load across the lead ends.
    joint_resistance
        That part of the circuit's lead resistance which is joints [ohm].

    Raises
    ------
    ValueError
        If nothing hangs on the lead ends, or the joints exceed the lead resistance they are part of.

    Notes
    -----
    Kirchhoff's voltage law at every moment, e N_2/N_1 = sum_k v_k; what the valves hold back or drop is what the other
    parts leave. The share of a part is <v_k e>/<e^2> N_1/N_2, means over the period.
    """
    load = state.connection.load_resistance
    if not np.isfinite(load):
        msg = "nothing hangs on the lead ends"
        raise ValueError(msg)
    if not 0 <= joint_resistance <= circuit.lead_resistance:
        msg = f"joint_resistance must lie within 0 and {circuit.lead_resistance:g} ohm, got {joint_resistance!r}"
        raise ValueError(msg)
    step = state.time[1] - state.time[0]
    turns, current = circuit.secondary_turns, state.secondary_current
    ratio = turns / circuit.primary_turns

    def rate(wave: Floats) -> Floats:
        return np.asarray((np.roll(wave, -1) - np.roll(wave, 1)) / (2 * step))

    parts = {
        "source": ratio * (state.voltage - state.terminal_voltage),
        "primary copper": ratio * circuit.primary_resistance * state.primary_current,
        "leakage reactance": turns * rate(leakage_flux(circuit, current)),
        "secondary copper": circuit.secondary_resistance * current,
        "lead resistance": (circuit.lead_resistance - joint_resistance) * current,
        "lead reactance": circuit.lead_inductance * rate(current),
        "joints": joint_resistance * current,
        "load": load * current,
    }
    emf = ratio * state.voltage
    if state.connection.rectifier is not None:
        parts["rectifier"] = emf - sum(parts.values())
    square = float(np.mean(emf**2))
    return tuple(
        WaveDrop(name=name, magnitude=float(np.sqrt(np.mean(wave**2))), share=float(np.mean(wave * emf)) / square)
        for name, wave in parts.items()
    )
