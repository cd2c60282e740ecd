"""Power, voltage and order within one estimate: laws that tie its sections to each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from math import pi, sqrt
from typing import Any

from fem.design.transformer import Design
from fem.estimation.inputs.work import across

PERIODIC = 2e-3
"""Of time-domain states and of sums over sampled waves: they repeat to this from period to period."""
ROUNDING = 1e-9
ORDER = ("holds", "may open", "opens")


def balances(design: Design, found: dict[str, Any]) -> list[str]:
    """Return what does not balance, one line each.

    Parameters
    ----------
    design, found
        The design and its `Estimate.to_dict`.
    """
    lines: list[str] = []
    for law in (_idle, _leakage, _shorted, _loaded, _load_line, _work_piece, _supply, _switch_on, _meters):
        lines += law(design, found)
    return lines


def _unlike(name: str, one: float, other: float, tolerance: float, scale: float = 0.0) -> Iterator[str]:
    if abs(one - other) > tolerance * max(abs(one), abs(other), scale):
        yield f"{name}: {one:.8g} against {other:.8g}"


def _more(name: str, small: float, large: float, tolerance: float = ROUNDING) -> Iterator[str]:
    if small > large + tolerance * abs(large):
        yield f"{name}: {small:.8g} above {large:.8g}"


def _rising(name: str, values: Sequence[float], tolerance: float = ROUNDING) -> Iterator[str]:
    for before, after in pairwise(values):
        yield from _more(f"{name} falls", before, after, tolerance)


def _idle(design: Design, found: dict[str, Any]) -> Iterator[str]:
    idle = found["idle"]
    real = idle["power_factor"] * idle["apparent_power_VA"]
    lost = idle["core_loss_W"] + idle["copper_loss_W"]
    small = 1e-2 * idle["apparent_power_VA"]
    yield from _unlike("idle power against core and copper loss", real, lost, PERIODIC, small)
    parts = idle["hysteresis_loss_W"] + idle["eddy_loss_W"]
    yield from _unlike("core loss against its parts", idle["core_loss_W"], parts, ROUNDING)
    rms = idle["current_rms_A"]
    yield from _unlike("crest factor", idle["crest_factor"], idle["current_peak_A"] / rms, ROUNDING)
    yield from _more("harmonics above r.m.s.", sqrt(sum(a**2 for a in idle["harmonics_A"].values())), rms, PERIODIC)
    raised = [idle[key] for key in ("current_rms_A", "current_at_106_percent_A", "current_at_110_percent_A")]
    yield from _rising("idle current with the mains", [value for value in raised if value is not None], PERIODIC)
    if idle["voltage_sweep"] is not None:
        yield from _rising("idle current along the voltage", idle["voltage_sweep"]["current_rms_A"], PERIODIC)
        yield from _rising("idle power along the voltage", idle["voltage_sweep"]["real_power_W"], PERIODIC)
    yield from _more("flux in the leg by the field", found["saturation"]["peak_flux_density_T"], 4.0)
    open_voltage = found["open_circuit"]["secondary_voltage_rms_V"]
    turns = design.windings.secondary.turns
    most = found["saturation"]["volts_per_turn_V"] * turns
    # volts per turn are those of a sine with the flux's peak, the r.m.s. of any wave of that peak may be less or more
    yield from _unlike("open voltage against coupling", open_voltage, most * found["leakage"]["coupling"], 0.35)


def _leakage(design: Design, found: dict[str, Any]) -> Iterator[str]:
    leak = found["leakage"]
    parts = leak["window_permeance_H"] + leak["end_turn_permeance_H"]
    yield from _unlike("leakage against its parts", leak["permeance_H"], parts, ROUNDING)
    ratio = (found["build"]["primary"]["turns"] / design.core.parallel_primaries / design.windings.secondary.turns) ** 2
    primary = leak["inductance_secondary_H"] * ratio
    yield from _unlike("leakage seen from the primary", leak["inductance_primary_H"], primary, ROUNDING)
    omega = 2 * pi * design.mains.frequency
    reactance = omega * leak["inductance_secondary_H"]
    yield from _unlike("leakage reactance", leak["reactance_secondary_ohm"], reactance, ROUNDING)
    if design.fitted_shunt is None:
        keys = ("window_reactance_secondary_ohm", "end_turn_reactance_secondary_ohm", "lead_reactance_ohm")
        whole = sum(leak[key] for key in keys)
        yield from _unlike("reactance against its parts", leak["reactance_secondary_ohm"], whole, 1e-6)


def _copper(found: dict[str, Any], primary: float, secondary: float) -> float:
    """Return the loss in both windings at these currents [W]."""
    sides = ((found["build"]["primary"], primary), (found["build"]["secondary"], secondary))
    return sum(side["resistance_ohm"] * side["ac_ratio"] * current**2 for side, current in sides)


def _shorted(design: Design, found: dict[str, Any]) -> Iterator[str]:
    short = found["short_circuit"]
    copper = _copper(found, short["primary_current_rms_A"], short["secondary_current_rms_A"])
    yield from _more("loss in the windings above the power, shorted", copper, short["input_power_W"], 1e-6)
    factor = short["input_power_W"] / short["input_apparent_power_VA"]
    yield from _unlike("power factor, shorted", short["power_factor"], factor, ROUNDING)
    yield from _more("power above apparent power, shorted", short["input_power_W"], short["input_apparent_power_VA"])
    at_terminals = design.mains.voltage * short["primary_current_rms_A"]
    yield from _more("apparent power above the mains', shorted", short["input_apparent_power_VA"], at_terminals, 1e-6)
    test = short["reduced_voltage_test"]
    if test is not None:
        copper = _copper(found, test["primary_current_rms_A"], test["secondary_current_rms_A"])
        yield from _more("loss in the windings above the power, short test", copper, test["power_W"], 1e-6)
        yield from _more("power factor of the short test", test["power_factor"], 1.0)


def _loaded(design: Design, found: dict[str, Any]) -> Iterator[str]:
    load = found["load"]
    if load is None:
        return
    power = load["resistance_ohm"] * load["current_rms_A"] ** 2
    yield from _unlike("power in the load", load["power_W"], power, ROUNDING)
    product = load["resistance_ohm"] * load["current_rms_A"]
    yield from _unlike("voltage of the load", load["voltage_rms_V"], product, ROUNDING)
    yield from _more("power above apparent power, loaded", load["input_power_W"], load["input_apparent_power_VA"], 1e-6)
    copper = _copper(found, load["primary_current_rms_A"], load["current_rms_A"])
    tolerance = PERIODIC if load["rectifier"] else 1e-6
    if load["rectifier"] != "half-wave":  # the primary's direct part does not see its a.c. ratio
        yield from _more("loss and load above the power", copper + load["power_W"], load["input_power_W"], tolerance)
    short = found["short_circuit"]["secondary_current_rms_A"]
    if load["rectifier"] is None:
        yield from _more("current of the load above the short circuit's", load["current_rms_A"], short, 1e-6)


def _load_line(design: Design, found: dict[str, Any]) -> Iterator[str]:
    line = found["load_line"]
    if line is None:
        return
    yield from _rising("current along the load line", line["current_rms_A"])
    yield from _rising("voltage along the load line", line["voltage_rms_V"][::-1])
    short = found["short_circuit"]["secondary_current_rms_A"]
    yield from _unlike("end of the load line", line["current_rms_A"][-1], short, 1e-6)
    open_voltage = found["open_circuit"]["secondary_voltage_rms_V"]
    # The line is of phasors: it lacks the harmonics that the core leaves in the voltage, most where
    # the supply's impedance takes nearly all of the mains. A third of harmonics makes 5 % of an r.m.s. value.
    yield from _more("start of the load line above the open voltage", line["voltage_rms_V"][0], open_voltage, 0.02)
    yield from _unlike("start of the load line", line["voltage_rms_V"][0], open_voltage, 0.05)
    products = [i * v for i, v in zip(line["current_rms_A"], line["voltage_rms_V"], strict=True)]
    yield from _more("power along the load line above the most", max(products), line["most_power_W"], 1e-6)
    product = line["resistance_of_most_power_ohm"] * line["current_of_most_power_A"] ** 2
    yield from _unlike("most power", line["most_power_W"], product, 1e-6)


def _work_piece(design: Design, found: dict[str, Any]) -> Iterator[str]:
    work = found["work_piece"]
    if work is None:
        return
    product = work["hot_resistance_ohm"] * work["hot_current_rms_A"]
    description = design.work_piece
    assert description is not None
    if (beside := work["second_path"]) is None:
        yield from _unlike("voltage of the work piece", work["hot_voltage_rms_V"], product, 1e-6)
    else:  # with the loop's reactance on top
        yield from _more("volts in phase above all volts", product, work["hot_voltage_rms_V"], 1e-6)
        yield from _more("current of the second path", beside["hot_current_rms_A"], work["hot_current_rms_A"], 1e-6)
    # steps are sized by the temperature's error, a part of a kelvin: much of what hardly warms
    rise = work["hottest_temperature_K"] - min(description.ambient, description.jaws.temperature)
    section = across(description.section)
    # 4e6 J/(m3 K), as metals have it: where jaws or air warm the work, that heat passes the electric energy
    passed = 4e6 * section.area * description.path * max(rise, 1.0)
    most = (1e-3 + 0.5 / max(rise, 1.0)) * max(work["energy_J"], passed, 0.1)
    if abs(work["energy_imbalance_J"]) > most:
        yield f"work_piece.energy_imbalance_J {work['energy_imbalance_J']:.3g} of {work['energy_J']:.3g}"
    times = [work[f"time_to_{name}_s"] for name in ("visible_red", "dull_red")]
    if None not in times:
        yield from _rising("time to dull red", times)
    if times[0] is None and times[1] is not None:
        yield "dull red without visible red"
    on = description.switch_off or description.duration
    for name in ("target", "visible_red", "dull_red", "melting"):
        time = work[f"time_to_{name}_s"]
        if time is not None and name != "target":
            yield from _more(f"time to {name}", time, on, 1e-6)


def _supply(design: Design, found: dict[str, Any]) -> Iterator[str]:
    for device, states in found["supply"]["devices"].items():
        # a peak, and a burst that ends and whose current changes, stand beside those that stay
        passing = ("switching on", "burst of the work piece")
        steady = [state for name, state in states.items() if name not in passing]
        steady.sort(key=lambda state: state["multiple"])
        ranks = [ORDER.index(state["behaviour"]) for state in steady]
        yield from _rising(f"{device}: verdict with the current", ranks)
        for key in ("earliest_s", "latest_s"):
            times = [float("inf") if state[key] is None else state[key] for state in steady]
            yield from _rising(f"{device}: {key} with the current", times[::-1])
        for state in steady:
            if state["earliest_s"] is not None and state["latest_s"] is not None:
                yield from _more(f"{device}: earliest", state["earliest_s"], state["latest_s"])


def _switch_on(design: Design, found: dict[str, Any]) -> Iterator[str]:
    switch = found["switch_on"]
    if switch is None:
        return
    without = switch["primary_first_peak_without_remanence_A"]
    yield from _more("first peak without remanence", without, switch["primary_first_peak_A"], PERIODIC)
    yield from _unlike("first cycle's peak", switch["peak_by_cycle_A"][0], switch["primary_first_peak_A"], PERIODIC)
    yield from _rising("peaks from cycle to cycle", switch["peak_by_cycle_A"][::-1], PERIODIC)
    yield from _more(
        "r.m.s. over 10 ms above the peak", switch["rms_10_ms_A"], switch["primary_first_peak_A"], PERIODIC
    )


def _meters(design: Design, found: dict[str, Any]) -> Iterator[str]:
    meters = found["meters"]
    if meters is None:
        return
    pairs = {
        "idle current": (meters["idle_current"]["true_rms"], found["idle"]["current_rms_A"]),
        "idle peak": (meters["idle_current"]["peak"], found["idle"]["current_peak_A"]),
        "open voltage": (meters["open_voltage"]["true_rms"], found["open_circuit"]["secondary_voltage_rms_V"]),
        "shorted": (meters["shorted_secondary_A"], found["short_circuit"]["secondary_current_rms_A"]),
        "shorted power": (meters["shorted_power_W"], found["short_circuit"]["input_power_W"]),
    }
    for name, (one, other) in pairs.items():
        yield from _unlike(f"meters: {name}", one, other, PERIODIC)
