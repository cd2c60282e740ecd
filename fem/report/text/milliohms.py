"""Lines of the report about where the milliohms are."""

from __future__ import annotations

from fem.estimation.result import Estimate
from fem.estimation.stations.states.milliohms import MilliohmsOfPart, MilliohmsOfState
from fem.quantity import Unknown
from fem.report.text.lines import Line, missing
from fem.report.text.numbers import percent, shown

STATES = {
    "shorted": "lead ends joined",
    "loaded": "with the load",
    "burst": "the work piece at the end of the burst",
}


def milliohms(estimate: Estimate) -> list[Line]:
    """Return a line for each part in each state, and one for all of them."""
    told = estimate.milliohms
    found: list[Line] = []
    for name, words in STATES.items():
        state = Unknown(told.reason) if isinstance(told, Unknown) else getattr(told, name)
        if isinstance(state, Unknown):
            found += [missing(state, words)] if state.gap else []
            continue
        found.append(Line(label=f"{words}:", value=f"{shown(state.current_rms, 'A')}", note="R, X; volts, watts"))
        found += [
            Line(label=f"  {part}", value=_mohm(row.resistance), note=_row(row)) for part, row in state.parts.items()
        ]
        found.append(Line(label="  all together", value=_mohm(state.resistance), note=_whole(state)))
    return found


def _mohm(ohms: float) -> str:
    return f"{1e3 * ohms + 0.0:.3f} mohm"


def _row(row: MilliohmsOfPart) -> str:
    share = percent(row.share)
    return f"X {_mohm(row.reactance)}; {shown(row.voltage, 'V')}, {shown(row.power, 'W')}, {share} of the watts"


def _whole(state: MilliohmsOfState) -> str:
    x = "" if isinstance(state.reactance, Unknown) else f"X {_mohm(state.reactance)}; "
    volts = f"{shown(state.voltage, 'V')}, {shown(state.in_phase_voltage, 'V')} of them in phase with the current"
    return f"{x}{_mohm(state.impedance)} of impedance; {volts}; {shown(state.power, 'W')}"
