"""What an estimate holds.

Attributes are SI numbers without units in their names; the unit stands in each field's metadata, and becomes the suffix
of its JSON key and what tables print.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

SUFFIX = {
    "-": "",
    "V": "_V",
    "A": "_A",
    "W": "_W",
    "VA": "_VA",
    "T": "_T",
    "H": "_H",
    "ohm": "_ohm",
    "m": "_m",
    "m2": "_m2",
    "kg": "_kg",
    "K": "_K",
    "J": "_J",
    "s": "_s",
    "A/m2": "_A_per_m2",
    "A2s": "_A2s",
    "Hz": "_Hz",
    "N": "_N",
    "N/m": "_N_per_m",
    "": "",
}
"""Unit to JSON suffix; "-" is a pure number, "" is text or a nested section."""


SECTIONS = (
    "build",
    "saturation",
    "idle",
    "leakage",
    "open_circuit",
    "short_circuit",
    "load",
    "switch_on",
    "half_wave_supply",
    "load_line",
    "work_piece",
    "heating",
    "supply",
    "meters",
)
"""Sections of an estimate, as they come in the JSON."""


def of(unit: str, meaning: str) -> Any:
    """Declare a result: its SI unit and what it means, in words for a person at the bench."""
    return field(metadata={"unit": unit, "meaning": meaning})


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """Between which values a result may well lie, and why."""

    low: float
    high: float
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Saturation:
    """Flux in the core, idle."""

    volts_per_turn: float = of("V", "volts per turn, r.m.s.")
    peak_flux_density: float = of("T", "peak flux density, the primary's leg, iron, idle")
    peak_flux_density_by_place: Mapping[str, float] = of("T", "peak flux density by place, iron, idle")
    knee_voltage: float | None = of("V", "mains voltage at the knee point (IEC 61869-2)")
    margin: float | None = of("-", "how far the knee lies above the mains voltage, as a share of it")
    target_flux_density: float = of("T", "peak flux density to keep to")
    fewest_primary_turns: int | None = of("-", "fewest primary turns that keep to it")
    extra_turns: int | None = of("-", "extra turns in series with the primary, aiding, that keep to it")


@dataclass(frozen=True, kw_only=True, slots=True)
class VoltageSweep:
    """Idle current against primary voltage: the curve one measures with a variable transformer."""

    voltage_rms: tuple[float, ...] = of("V", "primary voltage")
    current_rms: tuple[float, ...] = of("A", "idle current, r.m.s.")
    real_power: tuple[float, ...] = of("W", "input power")


@dataclass(frozen=True, kw_only=True, slots=True)
class Idle:
    """Plugged in, nothing connected to the secondary."""

    current_rms: float = of("A", "idle current, r.m.s.")
    current_peak: float = of("A", "idle current, peak")
    crest_factor: float = of("-", "peak over r.m.s.")
    current_at_106_percent: float | None = of("A", "idle current, r.m.s., at 106 % of the mains voltage")
    current_at_110_percent: float | None = of("A", "idle current, r.m.s., at 110 % of the mains voltage")
    harmonics: Mapping[str, float] = of("A", "harmonics of the idle current, r.m.s., by order")
    core_loss: float = of("W", "core loss")
    hysteresis_loss: float = of("W", "of it by hysteresis and excess")
    eddy_loss: float = of("W", "of it by classical eddy currents")
    copper_loss: float = of("W", "primary copper loss")
    apparent_power: float = of("VA", "apparent power")
    power_factor: float = of("-", "power factor")
    share_of_rated: float | None = of("-", "idle current as a share of the rated current")
    voltage_sweep: VoltageSweep | None = of("", "what a variable transformer shows")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class Leakage:
    """Leakage of the two windings against each other, and of the leads."""

    permeance: float = of("H", "leakage inductance per turn squared, windings only")
    window_permeance: float = of("H", "of it within the stack's depth (2-D field)")
    end_turn_permeance: float = of("H", "of it in the end turns (3-D field)")
    recipe_permeance: float | None = of("H", "the whole by the 2-D recipe, as a cross-check")
    shorted_permeance: float | None = of("H", "with shunts: the same at the short circuit's peak, saturated")
    lead_loop_inductance: float = of("H", "inductance of the lead loop")
    inductance_primary: float = of("H", "leakage with leads, seen from the primary")
    inductance_secondary: float = of("H", "leakage with leads, seen from the secondary")
    window_reactance_secondary: float = of("ohm", "reactance at the secondary, window part")
    end_turn_reactance_secondary: float = of("ohm", "reactance at the secondary, end turns")
    lead_reactance: float = of("ohm", "reactance of the leads")
    reactance_secondary: float = of("ohm", "reactance at the secondary, all together")
    coupling: float = of("-", "share of the primary's flux that the secondary links, idle")


@dataclass(frozen=True, kw_only=True, slots=True)
class OpenCircuit:
    """The secondary with nothing connected."""

    secondary_voltage_rms: float = of("V", "secondary voltage without load, r.m.s.")


@dataclass(frozen=True, kw_only=True, slots=True)
class ShortTest:
    """Lead ends joined, reduced voltage on the primary."""

    primary_current_rms: float = of("A", "primary current")
    primary_voltage_rms: float = of("V", "primary volts for it")
    secondary_current_rms: float = of("A", "secondary current")
    power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")


@dataclass(frozen=True, kw_only=True, slots=True)
class ShortCircuit:
    """Lead ends joined, full mains voltage."""

    secondary_current_rms: float = of("A", "secondary current, r.m.s.")
    primary_current_rms: float = of("A", "primary current, r.m.s.")
    secondary_first_peak: float | None = of("A", "secondary first peak, closed at the worst moment")
    primary_first_peak: float | None = of("A", "primary first peak, closed at the worst moment")
    input_apparent_power: float = of("VA", "input apparent power")
    input_power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")
    primary_current_density: float = of("A/m2", "current density in the primary")
    secondary_current_density: float = of("A/m2", "current density in the secondary")
    axial_force: float | None = of("N", "force along the leg between the windings, at the secondary's first peak")
    radial_force: float | None = of("N", "force across the leg on the whole secondary, at its first peak")
    lead_force: float | None = of("N/m", "repulsion between the leads, per metre, at the secondary's first peak")
    peak_flux_density: Mapping[str, float] | None = of("T", "peak flux density by place, iron, shorted")
    phasor_difference: float | None = of("-", "largest difference of phasor currents from the time domain")
    reduced_voltage_test: ShortTest | None = of("", "reduced-voltage short test")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadState:
    """A resistance across the lead ends, perhaps behind a rectifier."""

    resistance: float = of("ohm", "load resistance")
    rectifier: str | None = of("", "rectifier between lead ends and load")
    current_rms: float = of("A", "load current, r.m.s.")
    voltage_rms: float = of("V", "load voltage, r.m.s.")
    power: float = of("W", "power in the load")
    primary_current_rms: float = of("A", "primary current, r.m.s.")
    input_apparent_power: float = of("VA", "input apparent power")
    input_power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")
    efficiency: float = of("-", "efficiency")
    primary_direct_current: float = of("A", "direct part of the primary current")
    core_direct_ampere_turns: float = of("A", "direct ampere-turns on the core")


@dataclass(frozen=True, kw_only=True, slots=True)
class SwitchOn:
    """Switched on with nothing connected, at the worst moment: the voltage's zero crossing."""

    remanent_flux_density: float = of("T", "remanence assumed in the primary's leg")
    primary_first_peak: float = of("A", "primary first peak")
    primary_first_peak_without_remanence: float = of("A", "primary first peak without remanence")
    rms_10_ms: float = of("A", "r.m.s. over the first 10 ms, as a fast clamp reads")
    rms_100_ms: float = of("A", "r.m.s. over the first 100 ms, as an inrush function reads")
    joule_integral: float = of("A2s", "current squared times time over the first half period")
    peak_by_cycle: tuple[float, ...] = of("A", "primary peak by cycle")


@dataclass(frozen=True, kw_only=True, slots=True)
class HalfWaveSupply:
    """Idle, but one half of the switching device has failed and the primary current flows one way only."""

    current_rms: float = of("A", "primary current, r.m.s.")
    current_mean: float = of("A", "direct part of the primary current")
    current_peak: float = of("A", "primary current, peak")
    peak_flux_density: float = of("T", "peak flux density, the primary's leg, iron")


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
    energy_stored_share: float = of("-", "share of it still in the work at the end of the run")
    energy_imbalance: float = of("-", "what the energy balance does not account for")


@dataclass(frozen=True, kw_only=True, slots=True)
class PartBurst:
    """How long one part stands one burst from cold."""

    working: float | None = of("s", "until its limit of repeated work")
    once: float | None = of("s", "until the limit of a single fault")
    adiabatic_once: float = of("s", "the same with no heat escaping (IEC 60949)")
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
    cool_down: float | None = of("s", "from the steady cycle down to 40 degC, unplugged")


@dataclass(frozen=True, kw_only=True, slots=True)
class PulseTrain:
    """Pulses counted in mains cycles; the machine idles between them."""

    duration: float = of("s", "of one train")
    current_rms: float = of("A", "secondary current during a pulse, cold machine, r.m.s.")
    peak_temperatures: Mapping[str, float] = of("K", "highest mean temperature by part, one train from cold")
    steady_temperatures: Mapping[str, float] | None = of("K", "the same with trains repeated for good")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")


@dataclass(frozen=True, kw_only=True, slots=True)
class Heating:
    """Heat in windings, core, leads and joints."""

    ambient: float = of("K", "temperature of the room")
    shorted: BurstState = of("", "one burst, lead ends joined")  # noqa: RUF009
    loaded: BurstState | None = of("", "one burst, with the load")  # noqa: RUF009
    idle: ContinuousIdle = of("", "plugged in, nothing connected")  # noqa: RUF009
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
    switch_on: InrushMeter = of("", "primary current on switching on, nothing connected")  # noqa: RUF009
    shorted_switch_on: InrushMeter = of("", "primary current on switching on, lead ends joined")  # noqa: RUF009


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
    drops: Mapping[str, Drop] = of("", "where the volts go, at the load or shorted")


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingState:
    """One winding as it sits in the window."""

    turns: int = of("-", "turns")
    mean_turn: float = of("m", "mean turn")
    height: float = of("m", "height along the leg")
    build: float = of("m", "build across the window")
    spare_build: float = of("m", "width to spare in the window")
    resistance: float = of("ohm", "resistance at the stated temperature, direct current")
    ac_ratio: float = of("-", "alternating over direct current resistance")
    conductor_area: float = of("m2", "conductor cross-section, all wires in hand")
    mass: float = of("kg", "conductor mass")


@dataclass(frozen=True, kw_only=True, slots=True)
class Build:
    """What is built."""

    core_mass: float = of("kg", "iron mass")
    fill_factor: float = of("-", "bare conductor in the window, as a share of it")
    spare_height: float = of("m", "window height to spare, clearances and spacing kept")
    temperature: float = of("K", "temperature the resistances are given at")
    primary: WindingState = of("", "primary")  # noqa: RUF009
    secondary: WindingState = of("", "secondary")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class Caution:
    """One caution: what it is about, and the sentence."""

    about: str
    text: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Provenance:
    """Where the numbers come from."""

    version: str
    packages: Mapping[str, str]
    job_digest: str
    section_digest: str
    mesh_level: int
    mesh_unknowns: int
    end_region_unknowns: int
    flux_discretisation_error: float
    leakage_discretisation_error: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Estimate:
    """All results of one design.

    Parameters
    ----------
    title
        From the design.
    build, saturation, idle, leakage, open_circuit, short_circuit, load, switch_on, half_wave_supply,
    load_line, work_piece, heating, supply, meters
        The sections; None where not asked for, with the reason in `reasons`.
    bands
        Dotted JSON key to band, where one is known.
    reasons
        Dotted JSON key to the reason why a result is None.
    cautions
        What to mind, general ones last.
    provenance
        Versions, digests, mesh sizes, discretisation errors.
    pictures
        Fields and curves for figures (`fem.study.pictures.Pictures`); not part of the JSON.
    """

    title: str
    build: Build
    saturation: Saturation
    idle: Idle
    leakage: Leakage
    open_circuit: OpenCircuit
    short_circuit: ShortCircuit
    load: LoadState | None
    switch_on: SwitchOn | None
    half_wave_supply: HalfWaveSupply | None
    load_line: LoadLineState | None
    work_piece: WorkPieceState | None
    heating: Heating | None
    supply: Supply
    meters: Meters | None
    bands: Mapping[str, Band]
    reasons: Mapping[str, str]
    cautions: tuple[Caution, ...]
    provenance: Provenance
    pictures: Any = field(repr=False)

    def to_dict(self) -> dict[str, Any]:
        """Return plain nested dictionaries with units in the keys, ready for JSON."""
        out: dict[str, Any] = {"title": self.title}
        for name in SECTIONS:
            out[name] = plain(getattr(self, name))
        out["bands"] = {key: {"low": b.low, "high": b.high, "why": b.why} for key, b in self.bands.items()}
        out["reasons"] = dict(self.reasons)
        out["cautions"] = [{"about": c.about, "text": c.text} for c in self.cautions]
        out["provenance"] = plain(self.provenance)
        return out


def plain(value: Any) -> Any:
    """Return results as plain nested dictionaries and lists, with units in the keys."""
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name + SUFFIX[f.metadata.get("unit", "")]: plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, tuple):
        return [plain(v) for v in value]
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    return value
