"""Lines of the report about what to cut and to have at hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from fem.estimation.result import Estimate
from fem.estimation.stations.built.cut_list import PieceState
from fem.quantity import Band, Unknown
from fem.report.text.lines import Line
from fem.report.text.numbers import shown
from fem.report.text.sure import why, with_band

PRACTICE = "common practice, no source"


def cut_list(estimate: Estimate) -> list[Line]:
    """Return the lines about lengths of conductor, lugs and insulation."""
    found = estimate.cut_list
    if isinstance(found, Unknown):
        return []
    lines = [line for name, piece in found.pieces.items() for line in _piece(estimate, name, piece)]
    mass = shown(found.conductor_mass, "kg")
    lines.append(Line(label="conductor to buy, together", value=mass, note="without a primary that is there"))
    for name, lug in found.lugs.items():
        note = f"for {shown(lug.conductor_area, 'm2')}, {lug.bolt} bolts, hole {shown(lug.hole, 'm')}: {PRACTICE}"
        lines.append(Line(label=f"crimped lugs, {name}", value=f"{lug.count}", note=note))
    for name, state in found.insulation.items():
        test = "" if isinstance(state.test_voltage, Unknown) else f"; test {shown(state.test_voltage, 'V')}"
        note = f"{shown(state.working_voltage, 'V')} r.m.s. at work{test}: {state.kind}"
        lines.append(Line(label=f"insulation, {name}", value=shown(state.thickness, "m"), note=note))
    return lines


def _piece(estimate: Estimate, name: str, piece: PieceState) -> Iterator[Line]:
    band = estimate.bands.get(f"cut_list.pieces.{name}.length_m")
    told = [f"{piece.conductor}, {shown(piece.mass, 'kg')}"]
    if isinstance(band, Band):
        told.append(": ".join(filter(None, (between(piece.length, band), why(band)))))
    label = f"{name}, if it is wound anew: cut" if piece.salvaged else f"{name}: cut"
    yield Line(label=label, value=f"{piece.pieces} x {metres(piece.length)}", note="; ".join(told))
    if not piece.turns:
        return
    turns = f"{piece.turns} turn{'s' if piece.turns > 1 else ''}"
    yield Line(
        label="  of it round the leg",
        value=metres(piece.round_leg),
        note=f"{turns}; {layers_text(piece.layer_conductors, piece.layer_turns)}",
    )
    if piece.leads:
        yield Line(label="  of it on to the work, as leads", value=metres(piece.leads), note="go and return")
    if piece.tails:
        sleeves = "" if isinstance(piece.sleeves, Unknown) else f"; sleeving {metres(piece.sleeves)}"
        yield Line(label="  of it both tails", value=metres(piece.tails), note=f"{PRACTICE}{sleeves}")
    yield Line(label="  of it slack", value=metres(piece.slack), note=PRACTICE)


def layers_text(conductors: Sequence[int], turns: Sequence[float]) -> str:
    """Say which layers there are, from the leg outwards: equal counts together with their first and last turn."""
    told, at = [], 1
    for count, same in groupby(zip(conductors, turns, strict=True), key=lambda layer: layer[0]):
        run = list(same)
        to = " and " if len(run) == 2 else " to "
        ends = to.join(shown(length, "m") for _, length in dict.fromkeys((run[0], run[-1])))
        which = f"layers {at}{to}{at + len(run) - 1}: {count} each" if len(run) > 1 else f"layer {at}: {count}"
        told.append(f"{which}, a turn {ends}")
        at += len(run)
    return "; ".join(told)


def metres(length: float) -> str:
    """Write a length as it is cut: in millimetres below 2 m, else in metres to a centimetre."""
    return f"{1e3 * length:.0f} mm" if length < 2 else f"{length:.2f} m"


def between(value: float, band: Band) -> str:
    """Return the band of a length as it is cut."""
    if value < 2:
        return with_band(value, band, "m")[1]
    return f"{metres(band.low)} to {metres(band.high)}"
