"""Cures before the primary: the way from the board, and what guards it."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from fem.cures.cure import Bench, Change, Cure, not_open
from fem.design.mains import Mains
from fem.estimation.inputs.supply import devices_of, supply_of
from fem.mains.devices import Device
from fem.mains.forecasts import Behaviour, forecast, forecast_burst

RATINGS = (6.0, 10.0, 13.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0)
"""Of breakers and fuses of a house [A]: IEC 60898-1 and IEC 60269, from memory."""
_SLOWER = ("B", "C", "D")


def nearer(bench: Bench) -> Change:
    """Plugged in nearer the board: half the impedance."""
    mains = bench.design.mains
    found = supply_of(mains)
    if not (found.resistance or found.inductance):
        not_open("the supply has no impedance")
    gone = ("dip_voltage", "dip_current", "run_length", "run_area")
    keys: dict[str, object] = {f"mains.{key}": None for key in gone if getattr(mains, key) is not None}
    halves = {"resistance": found.resistance / 2, "inductance": found.inductance / 2}
    keys |= {f"mains.source_{key}": value for key, value in halves.items()}
    return Change(keys=keys, do="a socket nearer the board, no cord between: half the way's impedance")


def slower_breaker(bench: Bench) -> Change:
    """The next breaker or fuse that holds the burst."""
    design, mains = bench.design, bench.design.mains
    if mains.breaker is None:
        not_open("no mains.breaker is told")
    if bench.before.breaker == Behaviour.HOLDS.value:
        not_open(f"{mains.breaker} holds")
    for name in _next(mains):
        try:
            other = design.vary("mains.breaker", name).mains
        except ValueError:
            continue  # no such rating of its kind
        if _holds(bench, other):
            do = f"a circuit with {name}, by an electrician: its wiring and socket must carry that"
            return Change(keys={"mains.breaker": name}, do=do, danger="fire")
    not_open(f"none of its kind up to {RATINGS[-1]:g} A holds")


def _next(mains: Mains) -> Iterator[str]:
    kind, rating = mains.breaker_type or "UL 489", mains.breaker_rating or 0.0
    kinds = _SLOWER[_SLOWER.index(kind) :] if kind in _SLOWER else (kind,)
    for size in RATINGS:
        if size >= rating:
            yield from (f"{name} {size:g} A" if " " in name else f"{name}{size:g}" for name in kinds)


def _holds(bench: Bench, mains: Mains) -> bool:
    """Return whether all that guards it holds in the burst, else as long as one lasts with the load."""
    case, before = bench.case, bench.before

    def behaviour(device: Device) -> Behaviour:
        if case.fed is not None:
            return forecast_burst(device, case.fed.phases).behaviour
        return forecast(device, before.primary_current or 0.0, before.burst or inf).behaviour

    return all(behaviour(device) is Behaviour.HOLDS for device in devices_of(mains).values())


CURES = (Cure(name="nearer the board", find=nearer), Cure(name="slower breaker", find=slower_breaker))
