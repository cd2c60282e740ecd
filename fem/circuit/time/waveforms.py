"""The waveforms from closing on, whatever hangs on the circuit."""

from dataclasses import dataclass
from math import pi

import numpy as np

from fem.arrays import Floats, Number, finite
from fem.circuit.block import lined
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import OPEN, Connection
from fem.circuit.time.stepping import (
    STEPS,
    Run,
    at_rest,
    check_run,
    integrate,
    nominal_conductance,
)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Transient:
    """The waveforms from closing on, of one design or of each of a block; n = cycles times steps per period.

    Parameters
    ----------
    frequency, closing_angle
        [Hz]; (...,) phase of the mains e.m.f. at closing, from its rising zero [rad].
    remanence
        (...,) flux per turn at closing [Wb].
    steps
        Per period [-].
    time
        (n + 1,) from closing [s].
    voltage, terminal_voltage
        (..., n + 1) mains e.m.f. [V], at the primary terminals [V].
    primary_current, secondary_current
        (..., n + 1) [A].
    flux_per_turn
        (..., n + 1) of the core at the primary [Wb].
    """

    connection: Connection
    frequency: float
    closing_angle: Number
    remanence: Number
    steps: int
    time: Floats
    voltage: Floats
    terminal_voltage: Floats
    primary_current: Floats
    secondary_current: Floats
    flux_per_turn: Floats


def terminal_voltage(circuit: Circuit, run: Run) -> Floats:
    """Return the voltage at the primary terminals, R_1 i_1 + N_1 dphi/dt, (n + 1, ...) [V]."""
    rate = np.gradient(run.flux, run.times, axis=0, edge_order=2)
    return circuit.primary_resistance * run.primary + circuit.primary_turns * rate


def transient(
    circuit: Circuit,
    connection: Connection = OPEN,
    *,
    closing_angle: Number = 0.0,
    remanence: Number = 0.0,
    cycles: int = 1,
    steps: int = STEPS,
) -> Transient:
    """Follow currents and flux from the moment of switching on.

    Parameters
    ----------
    circuit
        Of one design or of a block (n,).
    closing_angle
        (...,) phase of the mains e.m.f. at closing, from its rising zero [rad].
    remanence
        (...,) flux per turn at closing, either sign [Wb].
    cycles, steps
        Mains periods to follow; time steps in each, at least 64 [-].

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    As `integrate`, with the core-loss conductance of the flux that the mains voltage asks for. The magnetising curve
    has no hysteresis: the remanent flux decays with its own small current rather than staying.
    """
    check_run(remanence, cycles, steps)
    finite(closing_angle=closing_angle)
    members, block, (angle, left) = lined(circuit, closing_angle, remanence)
    run = integrate(
        members,
        connection,
        at_rest(members, left, angle.shape),
        angles=angle % (2 * pi),
        conductance=nominal_conductance(members),
        cycles=cycles,
        steps=steps,
    )

    def each(wave: Floats) -> Floats:
        return np.ascontiguousarray(wave[..., 0].T).reshape(*block, len(run.times))

    return Transient(
        connection=connection,
        frequency=circuit.frequency,
        closing_angle=closing_angle,
        remanence=remanence,
        steps=steps,
        time=run.times,
        voltage=each(run.voltage),
        terminal_voltage=each(terminal_voltage(members, run)),
        primary_current=each(run.primary),
        secondary_current=each(run.secondary),
        flux_per_turn=each(run.flux),
    )
