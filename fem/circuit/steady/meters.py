"""What the meters on the bench will show of one machine, idle, shorted and on switching on."""

from dataclasses import dataclass

from numpy.typing import ArrayLike

from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import SteadyReading, TransientReading, steady_reading, transient_reading
from fem.circuit.steady.idle import Idle, secondary_voltage
from fem.circuit.steady.load import Loaded


@dataclass(frozen=True, kw_only=True, slots=True)
class MeterReadings:
    """The predicted readings on one machine.

    Parameters
    ----------
    open_voltage
        Across the open lead ends [V].
    idle_current
        Clamp or ammeter in the mains lead, nothing connected [A].
    idle_power
        Wattmeter at the primary terminals [W].
    shorted_primary, shorted_secondary
        True-r.m.s. clamp with the lead ends joined [A].
    shorted_power
        Wattmeter at the primary terminals [W].
    switch_on, shorted_switch_on
        Primary current after switching on idle and shorted; None where no record was given.
    """

    open_voltage: SteadyReading
    idle_current: SteadyReading
    idle_power: float
    shorted_primary: float
    shorted_secondary: float
    shorted_power: float
    switch_on: TransientReading | None
    shorted_switch_on: TransientReading | None


def meter_readings(
    circuit: Circuit,
    idle: Idle,
    shorted: Loaded,
    *,
    switch_on: tuple[ArrayLike, ArrayLike] | None = None,
    shorted_switch_on: tuple[ArrayLike, ArrayLike] | None = None,
) -> MeterReadings:
    """Predict the readings on one machine, idle and shorted.

    Parameters
    ----------
    shorted
        At no load resistance.
    switch_on, shorted_switch_on
        (n,) times from closing [s] and primary currents [A], idle and shorted; give 100 ms or more for every window.

    Raises
    ------
    ValueError
        If `shorted` has a load, or as `transient_reading`.
    """
    if shorted.load_resistance != 0:
        msg = f"shorted: a load of 0 ohm expected, got {shorted.load_resistance!r}"
        raise ValueError(msg)
    return MeterReadings(
        open_voltage=steady_reading(secondary_voltage(circuit, idle.flux_per_turn)),
        idle_current=steady_reading(idle.current),
        idle_power=idle.real_power,
        shorted_primary=shorted.primary_current_rms,
        shorted_secondary=shorted.secondary_current_rms,
        shorted_power=shorted.input_power,
        switch_on=None if switch_on is None else transient_reading(*switch_on),
        shorted_switch_on=None if shorted_switch_on is None else transient_reading(*shorted_switch_on),
    )
