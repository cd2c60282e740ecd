"""What an estimate holds.

Attributes are SI numbers without units in their names; see `result_fields` for the units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fem.estimation.stations.results_bench import Heating, LoadLineState, Meters, Supply, WorkPieceState
from fem.quantity import Band, of, plain

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
    joint_share: float = of("-", "of the peak ampere-turns, what joints and gaps take")
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
    chosen: str = of("", "why this current")
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
    axial_force: float | None = of("N", "largest force along the leg on a coil, at the secondary's first peak")
    radial_force: float | None = of("N", "largest force across the leg on a coil, out of its turns or sideways, then")
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

    cores: int = of("-", "cores under the secondary")
    primaries: str | None = of("", "how the cores' primaries are wired")
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
    gaps
        Keys of `reasons` that were asked for and described, but could not be computed; "bands." before a band's key.
    cautions
        What to mind, general ones last.
    provenance
        Versions, digests, mesh sizes, discretisation errors.
    pictures
        Fields and curves for figures (`fem.estimation.pictures.Pictures`); not part of the JSON.
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
    gaps: tuple[str, ...]
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
        out["gaps"] = list(self.gaps)
        out["cautions"] = [{"about": c.about, "text": c.text} for c in self.cautions]
        out["provenance"] = plain(self.provenance)
        return out
