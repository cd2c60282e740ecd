"""What the meters on the bench will show of one machine, idle, shorted and on switching on."""

from dataclasses import dataclass

from numpy.typing import ArrayLike

from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import SteadyReading, TransientReading, steady_reading, transient_reading
from fem.circuit.steady.idle import Idle, secondary_voltage
from fem.circuit.steady.load import Loaded
from fem.quantity import Unknown, of

NO_RECORD = Unknown("no record was given")


@dataclass(frozen=True, kw_only=True, slots=True)
class Meters:
    """Predicted readings on one machine, to compare like with like.

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
        Primary current after switching on idle and shorted at the worst moment.
    """

    open_voltage: SteadyReading = of("", "volts across the open lead ends")
    idle_current: SteadyReading = of("", "amperes in the mains lead, idle")
    idle_power: float = of("W", "wattmeter, no-load")
    shorted_primary: float = of("A", "amperes in the mains lead, lead ends joined")
    shorted_secondary: float = of("A", "clamp round the secondary lead, lead ends joined")
    shorted_power: float = of("W", "wattmeter, lead ends joined")
    switch_on: TransientReading | Unknown = of("", "primary current on switching on, nothing connected")
    shorted_switch_on: TransientReading | Unknown = of("", "primary current on switching on, lead ends joined")

    FORMULAS = """
    idle_power = `idle.core_loss_W` + `idle.copper_loss_W`
    shorted_primary = `short_circuit.primary_current_rms_A`
    shorted_secondary = `short_circuit.secondary_current_rms_A`
    shorted_power = `short_circuit.input_power_W`
    """


def meter_readings(
    circuit: Circuit,
    idle: Idle,
    shorted: Loaded,
    *,
    switch_on: tuple[ArrayLike, ArrayLike] | Unknown = NO_RECORD,
    shorted_switch_on: tuple[ArrayLike, ArrayLike] | Unknown = NO_RECORD,
) -> Meters:
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
    return Meters(
        open_voltage=steady_reading(secondary_voltage(circuit, idle.flux_per_turn)),
        idle_current=steady_reading(idle.current),
        idle_power=idle.real_power,
        shorted_primary=shorted.primary_current_rms,
        shorted_secondary=shorted.secondary_current_rms,
        shorted_power=shorted.input_power,
        switch_on=_seen(switch_on),
        shorted_switch_on=_seen(shorted_switch_on),
    )


def _seen(record: tuple[ArrayLike, ArrayLike] | Unknown) -> TransientReading | Unknown:
    return record if isinstance(record, Unknown) else transient_reading(*record)
