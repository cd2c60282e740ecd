"""What to cut: lengths of conductor, layer by layer; lugs; insulation, and what it must stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import pi, sqrt

from fem.estimation.case import Case
from fem.estimation.inputs.cutting import LEADS, Piece, length_bands, pieces_of
from fem.estimation.inputs.joints import End, joints_of
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Band, Unknown, of
from geometries.described.tables import table_rows
from geometries.windings.coils import Coil, coils_of
from geometries.windings.lengths import layer_turns

HOLES = ((16e-6, "M6", 6.4e-3), (50e-6, "M8", 8.4e-3), (95e-6, "M10", 10.5e-3), (150e-6, "M12", 13e-3))
"""Conductor up to which a lug of a bolt is common [m2], the bolt, and its clearance hole [m] (ISO 273, fine, from
memory); thicker ones take M16. Common practice, no source: lugs of each size are sold with several holes."""
THICKEST = ("M16", 17e-3)
INSULATED = "it is insulated cable"


@dataclass(frozen=True, kw_only=True, slots=True)
class PieceState:
    """Like lengths of one conductor."""

    pieces: int = of("-", "pieces to cut")
    conductor: str = of("", "of")
    length: float = of("m", "each, to cut")
    turns: int = of("-", "turns; 0 of leads")
    round_leg: float = of("m", "of it round the leg")
    leads: float = of("m", "of it as leads, to the work")
    tails: float = of("m", "of it both tails, from the winding to its lugs or terminals (common practice, no source)")
    slack: float = of("m", "of it slack (common practice, no source)")
    total_length: float = of("m", "all pieces together")
    mass: float = of("kg", "conductor mass, all pieces together")
    sleeves: float | Unknown = of("m", "sleeving over the tails, all pieces together")
    salvaged: bool = of("", "whether it is there already, and cut only if it is wound anew")
    layer_conductors: tuple[int, ...] = of("-", "conductors in each layer of a coil, from the leg outwards")
    layer_turns: tuple[float, ...] = of("m", "length of a turn in each of these layers")


@dataclass(frozen=True, kw_only=True, slots=True)
class LugState:
    """Lugs at one end of a conductor."""

    count: int = of("-", "lugs")
    conductor_area: float = of("m2", "for a conductor of")
    bolt: str = of("", "bolt (common practice, no source)")
    hole: float = of("m", "its hole")


@dataclass(frozen=True, kw_only=True, slots=True)
class InsulationState:
    """What holds two conductors apart."""

    thickness: float = of("m", "distance that is there for it")
    working_voltage: float = of("V", "what it holds apart at work, r.m.s.")
    test_voltage: float | Unknown = of("V", "test of a transformer for sale, r.m.s., one minute")
    kind: str = of("", "which kind of insulation, and where the test stands")


@dataclass(frozen=True, kw_only=True, slots=True)
class CutList:
    """What to cut and to have at hand."""

    pieces: Mapping[str, PieceState] = of("", "conductors")
    lugs: Mapping[str, LugState] = of("", "crimped lugs")
    insulation: Mapping[str, InsulationState] = of("", "insulation")
    conductor_mass: float = of("kg", "conductor to buy, without a primary that is there")


def cut_list(case: Case) -> CutList:
    """Return what to cut."""
    pieces = pieces_of(case.design, case.blocks)
    return CutList(
        pieces={piece.name: _piece(piece) for piece in pieces},
        lugs=dict(_lugs(case, pieces)),
        insulation=dict(_insulation(case)),
        conductor_mass=sum(piece.mass for piece in pieces if not piece.salvaged),
    )


def _piece(piece: Piece) -> PieceState:
    cable = piece.conductor.cable is not None
    return PieceState(
        pieces=piece.count,
        conductor=piece.conductor.label,
        length=piece.length,
        turns=piece.turns,
        round_leg=piece.round_leg,
        leads=piece.beyond,
        tails=piece.tails,
        slack=piece.slack,
        total_length=piece.count * piece.length,
        mass=piece.mass,
        sleeves=Unknown(INSULATED) if cable or not piece.tails else piece.count * piece.tails,
        salvaged=piece.salvaged,
        layer_conductors=tuple(layer.conductors for layer in piece.layers),
        layer_turns=tuple(layer.turn_length for layer in piece.layers),
    )


def _lugs(case: Case, pieces: tuple[Piece, ...]) -> Iterator[tuple[str, LugState]]:
    """Yield the lugs of cables: where the job tells no bolts, those of the joints that the build needs."""
    design = case.design
    if design.leads is not None and design.leads.joints is None:
        leads = design.leads.model_copy(update={"joint_resistance": None})
        design = design.model_copy(update={"leads": leads})
    bolted = {group.end for group in joints_of(design).groups if group.kind == "bolted"}
    by_name = {piece.name: piece for piece in pieces}
    for end in End:
        if end not in bolted:
            continue
        names = ("secondary", LEADS) if end is End.WINDING else (LEADS if LEADS in by_name else "secondary",)
        for name in names:
            piece = by_name.get(name)
            if piece is None or piece.conductor.cable is None:
                continue  # strip is drilled, wire bent to an eye
            area = piece.conductor.area
            bolt, hole = next(((bolt, hole) for most, bolt, hole in HOLES if area <= most * (1 + 1e-9)), THICKEST)
            # go and return of leads are two pieces, a winding's wires have two ends each
            count = piece.count if name == LEADS else 2 * piece.count
            yield f"{name} at the {end.value}", LugState(count=count, conductor_area=area, bolt=bolt, hole=hole)


@cache
def _tests() -> list[tuple[float, float, float, str]]:
    rows = table_rows("fem.materials", "test_voltages.csv")
    return [(float(r["working_V"]), float(r["basic_V"]), float(r["reinforced_V"]), r["source"]) for r in rows]


def _state(thickness: float, volts: float, kind: str) -> InsulationState:
    """Return an insulation; of those that are "basic" or "reinforced" with the test of its working voltage."""
    test: float | Unknown = Unknown("no test is named for it")
    if kind in ("basic", "reinforced"):
        row = next((row for row in _tests() if volts <= row[0]), None)
        test = Unknown("above the table of test voltages") if row is None else row[1] if kind == "basic" else row[2]
        kind = kind if row is None else f"{kind}; {row[3]}"
    return InsulationState(thickness=thickness, working_voltage=volts, test_voltage=test, kind=kind)


def _insulation(case: Case) -> Iterator[tuple[str, InsulationState]]:
    """Yield what lies between core and windings, and within each winding, with the volts across it.

    Neighbouring layers are furthest apart where the second ends: all the volts of both.
    """
    design = case.design
    per_turn = sqrt(2) * pi * design.mains.frequency * case.at_idle.peak_flux_per_turn
    coils = coils_of(design.windings, case.blocks)
    for name in ("primary", "secondary"):
        mine = [coil for coil in coils if coil.block.winding == name]
        alone = per_turn / (design.core.count if name == "primary" else 1)
        volts = design.mains.voltage if name == "primary" else alone * sum(coil.turns for coil in mine)
        yield f"{name} to core", _state(min(_to_core(case, coil) for coil in mine), volts, "basic")
        for coil in mine:
            called = f"{name}, extra turns" if coil.block.coil == "extra" else name
            layers = [layer.conductors for layer in layer_turns(design.core, coil)]
            if len(layers) < 2 or (coil is not mine[0] and coil.block.coil != "extra"):
                continue
            most = max(a + b for a, b in pairwise(layers)) / coil.wires_in_hand * alone
            apart = coil.block.build / len(layers) - coil.conductor.bare_width
            text = "enamel or the cable's own; interleave paper where the enamel is old (common practice, no source)"
            yield f"{called}, layer to layer", _state(max(apart, 0.0), min(most, volts), text)
    yield "primary to secondary", _state(case.fitted.apart, design.mains.voltage, "reinforced")


def _to_core(case: Case, coil: Coil) -> float:
    """Return the least distance of a coil from iron [m]: leg, its end faces, yokes, the next leg."""
    block = coil.block
    beside = case.fitted.blocks[case.blocks.index(block)].side_room
    above = case.design.core.window_height - block.top
    return min(block.leg_clearance, block.end_clearance, block.bottom, above, beside)


def _bands(case: Case, found: CutList) -> Mapping[str, Band | Unknown]:
    return {f"pieces.{name}.length": band for name, band in length_bands(case.design, case.blocks).items()}


CUT_LIST = Station(key="cut_list", result=CutList, compute=cut_list, part=Part.CUT_LIST, bands=_bands)
