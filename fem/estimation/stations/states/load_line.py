"""The lead ends from open circuit to short circuit."""

from __future__ import annotations

from dataclasses import dataclass

from fem.circuit.steady.load_line import load_line as trace
from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Show, of


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadLineState:
    """The lead ends from open circuit to short circuit."""

    current_rms: tuple[float, ...] = of("A", "current")
    voltage_rms: tuple[float, ...] = of("V", "voltage at the lead ends")
    input_current_rms: tuple[float, ...] = of("A", "primary current")
    efficiency: tuple[float, ...] = of("-", "efficiency", show=Show.SHARE)
    most_power: float = of("W", "greatest power into a resistance")
    resistance_of_most_power: float = of("ohm", "that resistance")
    current_of_most_power: float = of("A", "its current")

    FORMULAS = """
    <fem.circuit.steady.load_line.load_line>
    most_power = `.resistance_of_most_power_ohm` * `.current_of_most_power_A`**2
    resistance_of_most_power: that at which `load.power_W`'s formula is largest; near |R + jX| of all the rest,
        `milliohms.shorted.impedance_ohm` [maximum power transfer]
    current_of_most_power: the circuit's with `.resistance_of_most_power_ohm` across the lead ends
    """


def load_line(case: Case) -> LoadLineState:
    """Return the lead ends from open circuit to short circuit."""
    found = trace(case.circuit, at=case.circuit_with)
    return LoadLineState(
        current_rms=tuple(map(float, found.current)),
        voltage_rms=tuple(map(float, found.voltage)),
        input_current_rms=tuple(map(float, found.primary_current)),
        efficiency=tuple(map(float, found.efficiency)),
        most_power=found.strongest.load_power,
        resistance_of_most_power=found.strongest.load_resistance,
        current_of_most_power=found.strongest.secondary_current_rms,
    )


LOAD_LINE = Station(key="load_line", result=LoadLineState, compute=load_line, part=Part.LOAD_LINE)
