"""Short circuit at the lead ends: on the mains, and the reduced-voltage test on the bench."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fem.arrays import Floats, positive
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import Loaded, loaded
from fem.errors import NotConverged
from fem.quantity import of
from fem.roots import root

_SECANTS, _CLOSE = 30, 1e-10


@dataclass(frozen=True, kw_only=True, slots=True)
class ShortTest:
    """What the meters show with shorted leads and the primary on a reduced voltage.

    Parameters
    ----------
    primary_voltage_rms
        At the primary terminals [V].
    primary_current_rms, secondary_current_rms
        [A].
    power
        At the primary terminals [W].
    power_factor
        [-].
    """

    primary_current_rms: float = of("A", "primary current")
    primary_voltage_rms: float = of("V", "primary volts for it")
    secondary_current_rms: float = of("A", "secondary current")
    power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")

    FORMULAS = """
    power_factor = `.power_W` / (`.primary_voltage_rms_V` * `.primary_current_rms_A`)
    <fem.estimation.stations.states.reduced_voltage.reduced_voltage_test>
    primary_current_rms: `job.limits.short_test_current`, or a usual density in the primary, at most half of what the
        mains drives
    <fem.circuit.steady.short_circuit.short_test>
    primary_voltage_rms: the voltage at which the circuit with joined lead ends takes `.primary_current_rms_A`
    secondary_current_rms: of that state; `.primary_current_rms_A` by the turns, less the magnetising current
    power: heat in all resistances at that state: `.primary_current_rms_A`^2 times the primary's,
        `.secondary_current_rms_A`^2 times the secondary's with leads and joints, the core's
    """


def short_circuit(circuit: Circuit) -> Loaded:
    """Solve the sustained short circuit at the lead ends on the mains: `loaded`, any load bridged."""
    return loaded(circuit, 0.0)


def short_test(circuit: Circuit, primary_current: float) -> ShortTest:
    """Find the reduced primary voltage that drives a chosen primary current with the leads shorted.

    Parameters
    ----------
    circuit
        Its mains voltage and source impedance play no part; of one design, or of a block whose voltages are (n,).
    primary_current
        R.m.s. [A], > 0.

    Raises
    ------
    ValueError
        If the current is not above 0.
    NotConverged
        As `loaded`.

    Notes
    -----
    The root U of I_1(U) = I, I_1 the primary current of `loaded` at R = 0 and no source impedance: it rises with U. The
    current hardly saturates the core, so Brent's method needs few steps; of a block secants of ln I against ln U.
    """
    positive(primary_current=primary_current)
    bench = replace(circuit, source_resistance=0.0, source_inductance=0.0)

    def excess(volts: float) -> float:
        return loaded(bench.with_voltage(volts), 0.0).primary_current_rms - primary_current

    if np.ndim(circuit.voltage_rms):
        volts: Any = _by_secants(bench, primary_current)
    else:
        high = 1e-3 * circuit.voltage_rms
        while excess(high) < 0:
            high *= 2
        volts = root(excess, 1e-9 * high, high, xtol=1e-12 * high)
    state = loaded(bench.with_voltage(volts), 0.0)
    return ShortTest(
        primary_voltage_rms=state.terminal_voltage_rms,
        primary_current_rms=state.primary_current_rms,
        secondary_current_rms=state.secondary_current_rms,
        power=state.input_power,
        power_factor=state.power_factor,
    )


def _by_secants(bench: Circuit, primary_current: float) -> Floats:
    """Return the voltages (n,) that drive a primary current."""

    def missed(log_volts: Floats) -> Floats:
        state = loaded(bench.with_voltage(np.exp(log_volts)), 0.0)
        return np.asarray(np.log(primary_current / state.primary_current_rms))

    before = np.log(bench.voltage_rms) - 2.0
    left = missed(before)
    here, slope = before + left, -np.ones_like(left)
    for _ in range(_SECANTS):
        now = missed(here)
        apart = here - before
        slope = np.where(np.abs(apart) > 1e-9, (now - left) / np.where(apart == 0, 1.0, apart), slope)
        before, left = here, now
        here = here - now / np.minimum(slope, -0.2)
        if (np.abs(here - before) <= _CLOSE).all():
            return np.asarray(np.exp(here))
    what = f"reduced voltage for {primary_current:g} A"
    raise NotConverged(what, residual=float(np.abs(left).max()), tolerance=_CLOSE, tried=f"{_SECANTS} secants")
