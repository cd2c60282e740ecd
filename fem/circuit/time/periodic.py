"""The periodic state in the time domain: half-wave loads, direct bias of the core, any wave."""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import Connection
from fem.circuit.time.shooting import near, search, sizes_of
from fem.circuit.time.stepping import STEPS, Run, check_run, leakage_flux

ORDERS = tuple(range(11))
"""Orders listed in a result; 0 is the direct component, and even ones tell a biased core."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Periodic:
    """The state that repeats from period to period; n steps.

    Parameters
    ----------
    primary_rms, primary_mean, primary_peak
        Of the primary current: with harmonics, direct component, largest size [A].
    secondary_rms, secondary_mean
        Likewise [A].
    magnetising_mean
        Direct ampere-turns on the core [A].
    flux_mean, flux_highest, flux_lowest
        Flux per turn at the primary over the period [Wb].
    leakage_flux_peak
        Largest size per turn [Wb].
    secondary_voltage_rms
        E.m.f. of the core's flux in the secondary [V].
    real_power, core_loss
        At the primary terminals; its part lost in the core [W].
    apparent_power
        At the primary terminals [VA].
    load_power
        Into load and rectifier [W].
    harmonics_rms
        (11,) primary current of those orders, the direct component by its size [A].
    time, voltage, terminal_voltage
        (n,) from the rising zero of the mains e.m.f. [s], that e.m.f. [V], at the primary terminals [V].
    primary_current, secondary_current
        (n,) [A].
    flux_per_turn
        (n,) of the core at the primary [Wb].
    """

    connection: Connection
    primary_rms: float
    primary_mean: float
    primary_peak: float
    secondary_rms: float
    secondary_mean: float
    magnetising_mean: float
    flux_mean: float
    flux_highest: float
    flux_lowest: float
    leakage_flux_peak: float
    secondary_voltage_rms: float
    real_power: float
    core_loss: float
    apparent_power: float
    load_power: float
    harmonic_orders: tuple[int, ...]
    harmonics_rms: Floats
    time: Floats
    voltage: Floats
    terminal_voltage: Floats
    primary_current: Floats
    secondary_current: Floats
    flux_per_turn: Floats


def _carried(circuit: Circuit, start: Periodic) -> tuple[Floats, Floats, float]:
    """Return another circuit's periodic state where the search begins, (5,), its sizes (5,) and its conductance."""
    last = 3 * start.time.size // 4
    flux, primary, secondary = start.flux_per_turn, start.primary_current, start.secondary_current
    x = np.array([flux[last], flux[last - 1], primary[last], secondary[last], secondary[last - 1]])
    size = sizes_of(circuit, flux, primary, secondary)
    return x, size, circuit.core_loss.conductance(0.5 * (start.flux_highest - start.flux_lowest), circuit.frequency)


def periodic(
    circuit: Circuit, connection: Connection, *, steps: int = STEPS, start: Periodic | None = None
) -> Periodic:
    """Solve the periodic state, direct components and even harmonics included.

    Parameters
    ----------
    circuit
        Of one design.
    steps
        Time steps per period [-].
    start
        The state of a circuit and connection nearly alike, in as many steps, to begin with; left out, the first period
        from rest. It changes the result within the tolerance only: 1e-6 of the state, 1e-3 of the core loss.

    Raises
    ------
    NotConverged
        If a time step or the search for the periodic state fails.
    ValueError
        If `steps` is below 64, no multiple of 4, or not those of `start`.

    Notes
    -----
    By shooting: `fem.circuit.time.shooting`. The core-loss conductance is that at half the flux's own swing, by
    repetition; what bias adds to the loss of a given swing is left out.
    """
    check_run(0.0, 1, steps)
    if steps % 4:
        msg = f"steps must be a multiple of 4, got {steps}"
        raise ValueError(msg)
    if start is None:
        run, before = search(circuit, connection, steps)
    else:
        if start.time.size != steps:
            msg = f"start has {start.time.size} steps instead of {steps}"
            raise ValueError(msg)
        run, before = near(circuit, connection, *_carried(circuit, start), steps)
    return _result(circuit, connection, run, before)


def _result(circuit: Circuit, connection: Connection, run: Run, conductance: float) -> Periodic:
    steps = run.times.size - 1
    # From the search's start on to the rising zero of the mains, a quarter period later.
    waves = (run.voltage, run.primary, run.secondary, run.flux)
    voltage, primary, secondary, flux = (np.roll(wave[:-1, 0], -(steps // 4)) for wave in waves)
    # Rates across the seam between periods too.
    doubled = np.concatenate([flux, flux, flux])
    rate = np.gradient(doubled, run.times[1])[steps : 2 * steps]
    terminal = circuit.primary_resistance * primary + circuit.primary_turns * rate
    spectrum = np.abs(np.fft.rfft(primary))[list(ORDERS)] / steps
    spectrum[1:] *= sqrt(2)
    core = conductance * float(np.mean(rate**2))
    load = 0.0
    if connection.load_resistance != inf:
        load = connection.load_resistance * float(np.mean(secondary**2))
        if connection.rectifier is not None:
            load += connection.rectifier.forward_drop * float(np.mean(np.abs(secondary)))
    copper = circuit.primary_resistance * float(np.mean(primary**2))
    primary_rms = float(np.sqrt(np.mean(primary**2)))
    loop = (circuit.secondary_resistance + circuit.lead_resistance) * float(np.mean(secondary**2))
    return Periodic(
        connection=connection,
        primary_rms=primary_rms,
        primary_mean=float(primary.mean()),
        primary_peak=float(np.abs(primary).max()),
        secondary_rms=float(np.sqrt(np.mean(secondary**2))),
        secondary_mean=float(secondary.mean()),
        magnetising_mean=float(circuit.magnetising.ampere_turns_at(flux).mean()),
        flux_mean=float(flux.mean()),
        flux_highest=float(flux.max()),
        flux_lowest=float(flux.min()),
        leakage_flux_peak=float(np.abs(leakage_flux(circuit, secondary)).max()),
        secondary_voltage_rms=circuit.secondary_turns * float(np.sqrt(np.mean(rate**2))),
        real_power=copper + core + loop + load,
        core_loss=core,
        apparent_power=primary_rms * float(np.sqrt(np.mean(terminal**2))),
        load_power=load,
        harmonic_orders=ORDERS,
        harmonics_rms=spectrum,
        time=run.times[:-1],
        voltage=voltage,
        terminal_voltage=terminal,
        primary_current=primary,
        secondary_current=secondary,
        flux_per_turn=flux,
    )
