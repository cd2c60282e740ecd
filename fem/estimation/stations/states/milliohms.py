"""Where the milliohms are: what each part between mains and work takes of volts and watts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fem.circuit.steady.load import loaded
from fem.circuit.steady.milliohms import SeriesPart, SeriesParts, series_parts
from fem.circuit.time.wave_parts import wave_parts
from fem.estimation.case import Case, last_loaded
from fem.estimation.inputs.circuit import lead_impedance
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.bench.contact import power_in_burst
from fem.estimation.stations.section import Station
from fem.heat.coupled import circuit_at
from fem.quantity import Show, Unknown, of

WORK = {
    "work": "work",
    "carbons": "carbons",
    "tips": "carbons' faces",
    "joint": "lap",
    "second_path": "second path",
    "jaws": "contacts",
}
"""What lies between the lead ends in a burst, by its name in `PowerInBurst`."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MilliohmsOfPart:
    """What one part takes, as it appears at the secondary."""

    resistance: float = of("ohm", "resistance R")
    reactance: float = of("ohm", "reactance X")
    voltage: float = of("V", "volts across it, r.m.s.")
    in_phase_voltage: float = of("V", "of them in phase with the secondary current")
    power: float = of("W", "watts in it")
    share: float = of("-", "share of all watts", show=Show.SHARE)

    FORMULAS = """
    reactance: volts a quarter period ahead of the secondary current, over it; of the core below 0, as its own current
        lags and falls across the ohms of supply and primary
    voltage = `...current_rms_A` * sqrt(`.resistance_ohm`**2 + `.reactance_ohm`**2)
    in_phase_voltage = `.resistance_ohm` * `...current_rms_A`
    share = `.power_W` / `...power_W`
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class MilliohmsOfState:
    """All parts in one state; R, X, volts in phase and watts are the sums of the parts' own."""

    current_rms: float = of("A", "secondary current, r.m.s.")
    voltage: float = of("V", "volts of the mains as they appear at the secondary, r.m.s.")
    in_phase_voltage: float = of("V", "of them in phase with the secondary current")
    resistance: float = of("ohm", "resistance R, all together")
    reactance: float | Unknown = of("ohm", "reactance X, all together")
    impedance: float = of("ohm", "impedance, the volts over the current")
    power: float = of("W", "watts from the mains")
    parts: Mapping[str, MilliohmsOfPart] = of("", "by part")

    FORMULAS = """
    impedance = `.voltage_V` / `.current_rms_A`
    in_phase_voltage = `.resistance_ohm` * `.current_rms_A`
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class Milliohms:
    """Where the milliohms are."""

    shorted: MilliohmsOfState | Unknown = of("", "lead ends joined")
    loaded: MilliohmsOfState | Unknown = of("", "with the load")
    burst: MilliohmsOfState | Unknown = of("", "the work piece at the end of the burst")


def milliohms(case: Case) -> Milliohms:
    """Return what each part takes with the lead ends joined, with the load, at the end of the burst."""
    joints = lead_impedance(case.design).joint_resistance

    def load() -> MilliohmsOfState | Unknown:
        given = case.design.load
        if given is None:
            return Unknown("no [load] is described")
        if given.rectifier.value != "none":
            return _told(wave_parts(case.loaded_circuit, case.rectified, joint_resistance=joints), waves=True)
        return _told(series_parts(case.loaded_circuit, case.loaded, joint_resistance=joints))

    return Milliohms(
        shorted=attempt(lambda: _told(series_parts(case.circuit, case.shorted, joint_resistance=joints))),
        loaded=attempt(load),
        burst=attempt(lambda: _burst(case, joints)),
    )


def _burst(case: Case, joints: float) -> MilliohmsOfState | Unknown:
    """Return what each part takes at the last moment of the burst, machine and work as warm as they are then."""
    run, fed = case.burst, case.fed
    if run is None or fed is None:
        return Unknown("no [work_piece] is described")
    cold, ohms = case.circuit, float(run.resistance[last_loaded(run)])
    warm = circuit_at(cold, case.network, fed.temperatures[-1], case.design.temperature)
    if case.ring is not None:  # its resistance is the work's
        warm = replace(warm, secondary_resistance=0.0)
    # joints are taken to warm as the leads do
    joints *= warm.lead_resistance / cold.lead_resistance if cold.lead_resistance else 1.0
    found = series_parts(warm, loaded(warm, ohms), joint_resistance=joints)
    parts, power = dict(found.parts), power_in_burst(run)
    whole = parts.pop("load")
    for name, words in WORK.items():
        if share := getattr(power, name) / power.total:
            parts[words] = SeriesPart(impedance=share * whole.impedance, power=share * whole.power)
    return _told(replace(found, parts=parts))


def _told(found: SeriesParts, *, waves: bool = False) -> MilliohmsOfState:
    """Return them without the parts that there are not."""
    current, power, total = found.current, found.power, found.impedance
    return MilliohmsOfState(
        current_rms=current,
        voltage=found.emf,
        in_phase_voltage=total.real * current,
        resistance=total.real,
        reactance=Unknown("behind a rectifier reactances do not add up") if waves else total.imag,
        impedance=found.emf / current,
        power=power,
        parts={
            name: MilliohmsOfPart(
                resistance=part.impedance.real,
                reactance=part.impedance.imag,
                voltage=abs(part.impedance) * current,
                in_phase_voltage=part.impedance.real * current,
                power=part.power,
                share=part.power / power,
            )
            for name, part in found.parts.items()
            if part.impedance or part.power
        },
    )


MILLIOHMS = Station(key="milliohms", result=Milliohms, compute=milliohms, part=Part.LOAD_LINE)
