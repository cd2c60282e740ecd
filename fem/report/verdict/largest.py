"""The largest of the milliohms, and what would change the numbers most."""

from __future__ import annotations

from dataclasses import dataclass

from fem.digits import digits, whole_shares
from fem.estimation.result import Estimate
from fem.estimation.stations.states.milliohms import MilliohmsOfState
from fem.quantity import Band, Unknown
from fem.report.text.sure import leading
from fem.report.verdict.answer import INTO

MOST_ROWS, MOST_TERMS = 4, 2
LEAST = 5e-7
"""Less than this is shown as 0 in a table of microohms [ohm]."""
OWN = {"source", "primary", "leakage", "secondary", "leads", "joints"}
"""What of the milliohms is the machine's and its supply's."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MilliohmRow:
    """A row of the milliohm table: R and X [ohm], volts, watts, per cent of all watts."""

    part: str
    resistance: float
    reactance: float | None
    voltage: float
    power: float
    percent: int


def milliohm_state(estimate: Estimate) -> tuple[str, MilliohmsOfState | None]:
    """Return what the milliohm table is of: the burst's end, else the load, else joined lead ends."""
    told = estimate.milliohms
    for name in INTO if told else ():
        if state := getattr(told, name):
            return name, state
    return "", None


def rows(state: MilliohmsOfState, most: int = MOST_ROWS) -> tuple[MilliohmRow, ...]:
    """Return the largest parts, the rest together, and all together; per cent that sum to 100."""
    parts = sorted(state.parts.items(), key=lambda each: -each[1].voltage)
    large, rest = parts[:most], [part for _, part in parts[most:]]
    flat = isinstance(state.reactance, Unknown)
    found = [(name, p.resistance, p.reactance, p.voltage, p.power, p.share) for name, p in large]
    if rest:
        r, x = sum(p.resistance for p in rest), sum(p.reactance for p in rest)
        watts, share = sum(p.power for p in rest), sum(p.share for p in rest)
        # the no-load current lags: in the ohms of supply and primary its volts fall behind, which is an X below 0
        name = "rest with core" if x < -LEAST and "core" in (name for name, _ in parts[most:]) else "the rest"
        found.append((name, r, x, abs(complex(r, x)) * state.current_rms, watts, share))
    shares = [*whole_shares(row[-1] for row in found), 100]
    whole = state.in_phase_voltage / state.current_rms if flat else state.resistance
    found.append(("together", whole, state.reactance or 0.0, state.voltage, state.power, 1.0))
    return tuple(
        MilliohmRow(
            part=name,
            resistance=r,
            reactance=None if flat else x,
            voltage=volts,
            power=watts,
            percent=share,
        )
        for (name, r, x, volts, watts, _), share in zip(found, shares, strict=True)
    )


def changes(estimate: Estimate, name: str, state: MilliohmsOfState | None) -> tuple[str, str]:
    """Name the largest terms of the deciding current's band, and the largest of the machine's own impedances [mohm]."""
    keys = {"burst": "work_piece.hot_current_rms_A", "loaded": "load.current_rms_A"}
    band = estimate.bands.get(keys.get(name, "short_circuit.secondary_current_rms_A"))
    doubts = path = ""
    if isinstance(band, Band) and (terms := leading(band)[:MOST_TERMS]):
        doubts = ", ".join(f"{words} {100 * share:.0f} %" for words, share in terms)
    if state is not None:
        own = {part: abs(complex(row.resistance, row.reactance)) for part, row in state.parts.items() if part in OWN}
        most = sorted(own, key=lambda part: -own[part])[:MOST_TERMS]
        path = ", ".join(f"{part} {digits(1e3 * own[part])}" for part in most)
    return doubts, path
