"""Where the volts and watts of the mains go in a periodic state with currents that are no sinusoids."""

from math import sqrt

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.milliohms import SeriesPart, SeriesParts, check_joints
from fem.circuit.time.periodic import Periodic
from fem.circuit.time.stepping import leakage_flux


def wave_parts(circuit: Circuit, state: Periodic, *, joint_resistance: float = 0.0) -> SeriesParts:
    """Split what the mains give over a period into what each part takes, from the mains to the load.

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
    parts leave. A part's resistance is its watts over the square of the secondary's r.m.s. current, its reactance what
    remains of its r.m.s. volts: reactances of unlike waves do not add up. The core is told by its watts alone.
    """
    load = state.connection.load_resistance
    if not np.isfinite(load):
        msg = "nothing hangs on the lead ends"
        raise ValueError(msg)
    check_joints(circuit, joint_resistance)
    step = state.time[1] - state.time[0]
    turns, current = circuit.secondary_turns, state.secondary_current
    ratio = turns / circuit.primary_turns

    def rate(wave: Floats) -> Floats:
        return np.asarray((np.roll(wave, -1) - np.roll(wave, 1)) / (2 * step))

    cable = circuit.lead_resistance - joint_resistance
    volts = {
        "source": ratio * (state.voltage - state.terminal_voltage),
        "primary": ratio * circuit.primary_resistance * state.primary_current,
        "leakage": turns * rate(leakage_flux(circuit, current)),
        "secondary": circuit.secondary_resistance * current,
        "leads": cable * current + circuit.lead_inductance * rate(current),
        "joints": joint_resistance * current,
        "load": load * current,
    }
    if state.connection.rectifier is not None:
        volts["rectifier"] = ratio * state.voltage - sum(volts.values())
    # the primary does not see the direct part of the secondary's current
    flows = dict.fromkeys(("source", "primary"), state.primary_current / ratio)
    square = float(np.mean(current**2))
    parts = {}
    for name, wave in volts.items():
        power = float(np.mean(wave * flows.get(name, current)))
        apart = max(float(np.mean(wave**2)) / square - (power / square) ** 2, 0.0)
        parts[name] = SeriesPart(impedance=complex(power / square, sqrt(apart)), power=power)
        if name == "primary":
            parts["core"] = SeriesPart(impedance=0j, power=state.core_loss)
    return SeriesParts(current=sqrt(square), emf=ratio * circuit.voltage_rms, parts=parts)
