"""What an estimate says of the bench: work piece, heat, supply, meters, load line. See `results`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fem.quantity import of


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkPieceState:
    """The work in a burst: the current follows its hot resistance."""

    cold_current_rms: float = of("A", "current at the start, r.m.s.")
    hot_current_rms: float = of("A", "current at the end of the burst, r.m.s.")
    cold_resistance: float = of("ohm", "resistance between the lead ends at the start")
    hot_resistance: float = of("ohm", "resistance between the lead ends at the end of the burst")
    hot_voltage_rms: float = of("V", "voltage between the lead ends at the end of the burst, r.m.s.")
    hottest_temperature: float = of("K", "hottest place of the work at the end of the burst")
    hottest_position: float = of("m", "its distance from the left jaw")
    jaw_temperature: float = of("K", "hotter jaw at the end of the burst")
    time_to_target: float | None = of("s", "time to the wanted temperature")
    time_to_visible_red: float | None = of("s", "time to just visible red, 525 degC")
    time_to_dull_red: float | None = of("s", "time to dull red, 699 degC")
    time_to_melting: float | None = of("s", "time until melting begins")
    settles_at: float | None = of("K", "temperature it settles at if the current is left on")
    energy: float = of("J", "electric energy of the burst")
    energy_stored_share: float | None = of("-", "share of it still in the work at the end of the run")
    energy_imbalance: float = of("J", "what the energy balance does not account for")


@dataclass(frozen=True, kw_only=True, slots=True)
class PartBurst:
    """How long one part stands one burst from cold."""

    working: float | None = of("s", "until its limit of repeated work")
    once: float | None = of("s", "until the limit of a single fault")
    adiabatic_once: float | None = of("s", "the same with no heat escaping")
    current_density: float = of("A/m2", "current density")


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstState:
    """One burst from cold, resistances and currents those of the cold machine."""

    load_resistance: float = of("ohm", "resistance across the lead ends")
    longest: float | None = of("s", "longest burst within the limits of repeated work")
    limiting_part: str | None = of("", "the part that sets it")
    parts: Mapping[str, PartBurst] = of("", "by part")


@dataclass(frozen=True, kw_only=True, slots=True)
class ContinuousIdle:
    """Plugged in for good with nothing connected."""

    temperatures: Mapping[str, float] | None = of("K", "settled mean temperature by part")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")
    first_too_hot: float | None = of("s", "until the first does")


@dataclass(frozen=True, kw_only=True, slots=True)
class DutyState:
    """Bursts repeated for good, currents following the warm resistances."""

    share: float = of("-", "on-time over period")
    current_rms: float = of("A", "secondary current of the warm machine, r.m.s.")
    peak_temperatures: Mapping[str, float] | None = of("K", "highest mean temperature by part in the steady cycle")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")
    bursts_to_steady: int | None = of("-", "bursts until within 1 K of the steady cycle")
    allowed_share: float = of("-", "largest on-time over period at this period")
    limiting_part: str | None = of("", "the part that sets it")
    cool_down: float | None = of("s", "from the steady cycle down to `cool_down_to`, unplugged")
    cool_down_to: float = of("K", "40 degC, or 5 K above a room too warm for that")


@dataclass(frozen=True, kw_only=True, slots=True)
class PulseTrain:
    """Pulses counted in mains cycles; the machine idles between them."""

    duration: float = of("s", "of one train")
    current_rms: float = of("A", "secondary current during a pulse, cold machine, r.m.s.")
    peak_temperatures: Mapping[str, float] | None = of("K", "highest mean temperature by part, one train from cold")
    steady_temperatures: Mapping[str, float] | None = of("K", "the same with trains repeated for good")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")


@dataclass(frozen=True, kw_only=True, slots=True)
class Heating:
    """Heat in windings, core, leads and joints."""

    ambient: float = of("K", "temperature of the room")
    shorted: BurstState | None = of("", "one burst, lead ends joined")  # noqa: RUF009
    loaded: BurstState | None = of("", "one burst, with the load")  # noqa: RUF009
    idle: ContinuousIdle | None = of("", "plugged in, nothing connected")  # noqa: RUF009
    duty: DutyState | None = of("", "repeated bursts")  # noqa: RUF009
    pulses: PulseTrain | None = of("", "a train of pulses")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class DeviceForecast:
    """What one overcurrent device does at one current that stays."""

    behaviour: str = of("", "holds, may open or opens")
    multiple: float = of("-", "current over rating")
    earliest: float | None = of("s", "opens not before")
    latest: float | None = of("s", "opens not after")


@dataclass(frozen=True, kw_only=True, slots=True)
class Supply:
    """The mains circuit up to the primary."""

    resistance: float = of("ohm", "resistance of line plus neutral")
    reactance: float = of("ohm", "reactance of line plus neutral")
    assumed: bool = of("", "whether the reference impedance of IEC TR 60725 is assumed")
    prospective_short_current: float | None = of("A", "current of a dead short at the primary's terminals")
    idle_dip: float = of("-", "share of the voltage lost, idle")
    shorted_dip: float = of("-", "share of the voltage lost, lead ends joined")
    loaded_dip: float | None = of("-", "share of the voltage lost, with the load")
    devices: Mapping[str, Mapping[str, DeviceForecast]] = of("", "by device and state")


@dataclass(frozen=True, kw_only=True, slots=True)
class SteadyMeter:
    """What meters show of one periodic quantity, in its own unit."""

    true_rms: float = of("", "true-r.m.s. meter")
    averaging: float = of("", "averaging meter scaled for a sine")
    peak: float = of("", "peak hold")


@dataclass(frozen=True, kw_only=True, slots=True)
class InrushMeter:
    """What meters show of the primary current after switching on at the worst moment."""

    peak: float = of("A", "peak hold of 1 ms or less")
    sine_equivalent: float = of("A", "the same, scaled as r.m.s. of a sine")
    highest_rms: Mapping[str, float | None] = of("A", "r.m.s. over windows, by their length")


@dataclass(frozen=True, kw_only=True, slots=True)
class Meters:
    """Predicted readings, to compare like with like."""

    open_voltage: SteadyMeter = of("", "volts across the open lead ends")  # noqa: RUF009
    idle_current: SteadyMeter = of("", "amperes in the mains lead, idle")  # noqa: RUF009
    idle_power: float = of("W", "wattmeter, idle")
    shorted_primary: float = of("A", "amperes in the mains lead, lead ends joined")
    shorted_secondary: float = of("A", "clamp round the secondary lead, lead ends joined")
    shorted_power: float = of("W", "wattmeter, lead ends joined")
    switch_on: InrushMeter | None = of("", "primary current on switching on, nothing connected")  # noqa: RUF009
    shorted_switch_on: InrushMeter | None = of("", "primary current on switching on, lead ends joined")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class Drop:
    """One part's share of the mains voltage, as it appears at the secondary."""

    voltage: float = of("V", "size")
    share: float = of("-", "share of the voltage without load, in phase")


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadLineState:
    """The lead ends from open circuit to short circuit."""

    current_rms: tuple[float, ...] = of("A", "current")
    voltage_rms: tuple[float, ...] = of("V", "voltage at the lead ends")
    input_current_rms: tuple[float, ...] = of("A", "primary current")
    efficiency: tuple[float, ...] = of("-", "efficiency")
    most_power: float = of("W", "greatest power into a resistance")
    resistance_of_most_power: float = of("ohm", "that resistance")
    current_of_most_power: float = of("A", "its current")
    drops: Mapping[str, Drop] | None = of("", "where the volts go, at the load or shorted")
