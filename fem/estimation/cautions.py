"""What is said with an estimate: each station's cautions, those that several sections decide, and what always holds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fem.constants import ZERO_CELSIUS
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.stations.in_order import STATIONS
from fem.quantity import Band, Unknown, unknowns
from fem.trust.bursts import INSULATION_END, LONGEST_BURST, adiabatic_burst
from fem.trust.caution import COMPUTED, Caution, Danger, few, in_order
from fem.trust.general import always
from fem.trust.hot import eyes
from fem.trust.live import variable_transformer


def cautions(case: Case, found: Mapping[str, Any], bands: Mapping[str, Band | Unknown]) -> tuple[Caution, ...]:
    """Return all that is to be said, in order of danger; what is found by the stations' keys, bands by dotted keys."""
    return in_order(_all(case, found, bands))


def _all(case: Case, found: Mapping[str, Any], bands: Mapping[str, Band | Unknown]) -> Iterator[Caution]:
    for station in STATIONS:
        result = found[station.key]
        if not isinstance(result, Unknown):
            yield from station.cautions(case, result)
    yield from _longest_bursts(case, found)
    yield eyes(case.design, found["open_circuit"].secondary_voltage_rms, found["short_circuit"].secondary_current_rms)
    test = found["short_circuit"].reduced_voltage_test
    if not isinstance(test, Unknown):
        yield variable_transformer(test.primary_voltage_rms)
    everything = [*(unknowns(key, result) for key, result in found.items()), unknowns("bands", bands)]
    gaps = [key for some in everything for key, unknown in some if unknown.gap]
    if gaps:
        text = f"What could not be computed ({len(gaps)}) is not thereby harmless. Not known: {few(gaps, MOST_NAMED)}."
        yield Caution(about="gaps", text=text, danger=Danger.DISTURBS)
    yield from always()


MOST_NAMED = 3
"""How many gaps a caution names; the results tell all."""


def _longest_bursts(case: Case, found: Mapping[str, Any]) -> Iterator[Caution]:
    """Tell how long bursts from cold may be: by the heat model, or where that tells nothing with no heat escaping."""
    heat, areas, shorted, load = found["heating"], case.windings.areas, found["short_circuit"], found["load"]
    primary, secondary = shorted.primary_current_rms, shorted.secondary_current_rms
    limits = {
        "heating.shorted.longest_s": ("lead ends joined", _limit(case, heat, "shorted", areas, primary, secondary))
    }
    if not isinstance(load, Unknown):
        loaded = _limit(case, heat, "loaded", areas, load.primary_current_rms, load.current_rms)
        limits["heating.loaded.longest_s"] = ("with the load", loaded)
    if not isinstance(heat, Unknown) and not isinstance(heat.burst, Unknown):
        limits["heating.burst.longest_s"] = ("into the work", _known(heat.burst))
    soon = {key: (state, *limit) for key, (state, limit) in limits.items() if limit and limit[0] < LONGEST_BURST}
    if not soon:
        return
    listed = ", ".join(f"{state} {brief(time, 2)} s ({part})" for state, time, part in soon.values())
    _, least = min((time, f"{brief(time, 2)} s, {state}") for state, time, _ in soon.values())
    numbers = {key: time for key, (_, time, _) in soon.items()}
    if any(part.endswith(ADIABATIC) for _, _, part in soon.values()):
        ends = f"insulation ends at {INSULATION_END - ZERO_CELSIUS:.0f} degC"
        source = "IEC 60949; BS 7671, table 54.2"
    else:
        ends, source = "a part passes its limit of repeated work", COMPUTED
    text = f"From cold no burst longer than {least}. Until a limit: {listed}. Then {ends}."
    yield Caution(about="longest burst", text=text, danger=Danger.BURNS, source=source, numbers=numbers)


ADIABATIC = ", no heat escaping"


def _limit(
    case: Case, heat: Any, state: str, areas: tuple[float, float], primary: float, secondary: float
) -> tuple[float, str] | None:
    burst = heat if isinstance(heat, Unknown) else getattr(heat, state)
    if isinstance(burst, Unknown):
        found = adiabatic_burst(case.design, areas, primary, secondary)
        return found and (found[0], f"{found[1]}{ADIABATIC}")
    return _known(burst)


def _known(burst: Any) -> tuple[float, str] | None:
    return None if isinstance(burst.longest, Unknown) else (burst.longest, burst.limiting_part)
