"""What a job need not tell: what is taken in its place, from what it does tell, and which sections it leaves out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import pi, sqrt
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from fem.assumptions import assumed
from fem.materials.metals import metal, metal_names
from geometries.cores.kinds import AnyCore, read_core
from geometries.cores.shell import ShellCore
from geometries.described.faults import Description
from geometries.described.quantities import (
    LENGTH,
    RESISTANCE,
    TEMPERATURE,
    QuantityError,
    format_quantity,
    told_quantity,
)
from geometries.described.tolerances import ToleranceError
from geometries.described.units import REFERENCE_TEMPERATURE
from geometries.windings.conductors import CABLE_OUTSIDE_RATIO, Conductor
from geometries.windings.turns import Winding

if TYPE_CHECKING:
    from fem.design.transformer import Design

_BUILD = 0.6
"""Build of a primary, as a share of the window's width, for the mean turn of a wire that is told by its resistance."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Taken:
    """What stands in for a key that the job does not tell."""

    key: str
    value: str
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOut:
    """A section or key that the job does not have, and what therefore is not told."""

    key: str
    untold: str


Path = tuple[str, ...]


def fillings(data: Mapping[str, Any], context: Any = None) -> dict[Path, Any]:
    """Return what follows for missing keys from other parts of a job, by path; each part fills in its own.

    Parameters
    ----------
    data
        The job's tables, not yet validated.
    context
        For the validation of its parts.
    """
    found: dict[Path, Any] = {}
    windings, leads = data.get("windings"), data.get("leads")
    if not isinstance(windings, Mapping):
        return found
    primary, secondary = windings.get("primary"), windings.get("secondary")
    if isinstance(primary, Mapping) and primary.get("conductor") is None and primary.get("resistance") is not None:
        diameter = _wire(primary, windings, data.get("core"), context)
        found["windings", "primary", "conductor"] = {"round": f"{diameter * 1e3:.4g} mm"}
    if isinstance(leads, Mapping) and leads.get("area") is None and isinstance(secondary, Mapping):
        area = _cable(secondary, context)
        if area:
            found["leads", "area"] = area
    return found


def filled(data: Mapping[str, Any], context: Any = None) -> dict[str, Any]:
    """Return a job's tables with `fillings`; tables that stay as they are, are shared, not copied."""
    whole = dict(data)
    for path, value in fillings(data, context).items():
        table: Any = whole
        for name in path[:-1]:
            table[name] = dict(table[name])
            table = table[name]
        table[path[-1]] = value
    return whole


def _read(value: Any, dimension: Any, otherwise: float) -> float:
    try:
        return float(told_quantity(value, dimension))
    except (QuantityError, ToleranceError):
        return otherwise  # the key's own fault is told in its place


def _wire(primary: Mapping[str, Any], windings: Mapping[str, Any], core: Any, context: Any) -> float:
    """Return the bare diameter [m] of a wire that has the measured resistance; of a core that is wrong any."""
    try:
        stack: AnyCore = read_core(core, context=context)
    except ValidationError:
        return 1e-3
    turns, hand = primary.get("turns"), primary.get("wires_in_hand", 1)
    material = primary.get("material", "copper")
    if not (isinstance(turns, int) and isinstance(hand, int) and turns > 0 and hand > 0 and material in metal_names()):
        return 1e-3
    ohms = _read(primary["resistance"], RESISTANCE, 1.0)
    warmth = _read(primary.get("resistance_temperature", REFERENCE_TEMPERATURE), TEMPERATURE, REFERENCE_TEMPERATURE)
    clearance = _read(windings.get("leg_clearance", 0.0), LENGTH, 0.0)
    mean_turn = 2 * (stack.leg_width + stack.stack_depth) + 2 * pi * (clearance + _BUILD / 2 * stack.window_width)
    area = float(metal(material).resistivity(warmth)) * turns * mean_turn / max(ohms, 1e-6) / hand
    return min(max(sqrt(4 * area / pi), 0.06e-3), 0.05)


def _cable(secondary: Mapping[str, Any], context: Any) -> str | None:
    """Return the cable that goes on from the secondary: its own, as many as there are in hand together."""
    try:
        conductor = Conductor.model_validate(secondary.get("conductor"), context=context)
    except ValidationError:
        return "1 mm2"
    hand = secondary.get("wires_in_hand", 1)
    count = hand if isinstance(hand, int) and hand > 0 else 1
    if count == 1 and isinstance(conductor.cable, str):
        return conductor.cable
    return f"{count * conductor.area * 1e6:.6g} mm2"


_OUTSIDES = {
    "round": "with its enamel, grade 2",
    "strip": "with its enamel",
    "cable": f"{CABLE_OUTSIDE_RATIO:g} times the bare conductor, as cable commonly has",
}


def taken(design: Design) -> tuple[Taken, ...]:
    """Return what was taken in place of what the design does not tell, in the order of a job file."""
    return tuple(_taken(design))


def _taken(design: Design) -> Iterator[Taken]:
    mains, core, windings, leads = design.mains, design.core, design.windings, design.leads
    if mains.source_assumed:
        ohms, reactance = assumed("resistance of the supply").typical, assumed("reactance of the supply").typical
        yield Taken(
            key="mains.source_resistance",
            value=f"{ohms:g} ohm + j {reactance:g} ohm",
            why="reference impedance of IEC TR 60725; most sockets have less",
        )
    half = "half the centre leg, as standard E-I sheets have it"
    if not isinstance(core, ShellCore):
        yield from _of(core, "core", {"yoke_height": "as wide as a leg"}, "m")
    elif core.lamination is None:
        yield from _of(core, "core", {"outer_leg_width": half, "yoke_height": half}, "m")
    yield from _of(core, "core", {"stacking_factor": "sheets pressed by hand"}, "")
    if "joint" not in core.model_fields_set:
        why = "a bead of weld across the sheets is the commonest; gap, loss and remanence in doubt for all three"
        yield Taken(key="core.joint", value=core.joint.value, why=why)
    yield from _of(core, "core", {"joint_gap": f"typical of {core.joint.value} sheets, per crossing"}, "m")
    if core.steel is not None and "steel" not in core.model_fields_set:
        yield Taken(key="core.steel", value=core.steel, why="a middling grade of non-oriented sheet, 0.5 mm thick")
    for name, why in (
        ("spacing", "a cheek or some layers of insulation between the windings"),
        ("leg_clearance", "wall of a bobbin"),
        ("yoke_clearance", "cheek of a bobbin"),
    ):
        yield from _of(windings, "windings", {name: why}, "m")
    if "conductor" not in windings.primary.model_fields_set:
        yield Taken(
            key="windings.primary.conductor",
            value=windings.primary.conductor.label,
            why="the wire that has the measured resistance",
        )
    for name in ("primary", "secondary"):
        winding: Winding = getattr(windings, name)
        conductor = winding.conductor
        told = name in windings.model_fields_set and "conductor" in winding.model_fields_set
        if told and conductor.insulated is None:
            sizes = dict.fromkeys((conductor.insulated_height, conductor.insulated_width))
            outside = " x ".join(format_quantity(size, "m") for size in sizes)
            kind = next(kind for kind in _OUTSIDES if getattr(conductor, kind) is not None)
            yield Taken(key=f"windings.{name}.conductor.insulated", value=outside, why=_OUTSIDES[kind])
    if leads is not None:
        if "area" not in leads.model_fields_set:
            yield Taken(
                key="leads.area", value=f"{leads.conductor.label}", why="the secondary's cable goes on as leads"
            )
        yield from _of(leads, "leads", {"spacing": "go and return lie loose beside each other"}, "m")
    if leads is None or not leads.joints_told:
        yield Taken(key="leads.joints", value="those that the build needs", why="lugs and clamps of typical resistance")
    if "temperature" not in design.model_fields_set:
        yield Taken(key="temperature", value=format_quantity(design.temperature, "degC"), why="cold windings and leads")


def _of(part: Description, place: str, whys: Mapping[str, str], unit: str) -> Iterator[Taken]:
    for name, why in whys.items():
        if name not in part.model_fields_set:
            value = getattr(part, name)
            one = value[0] if isinstance(value, tuple) else value
            yield Taken(key=f"{place}.{name}", value=format_quantity(one, unit), why=why)


_SECTIONS = (
    (
        "leads",
        "currents are those at the secondary's own ends: cable and joints on the way to the work take much of them",
    ),
    ("load", "what flows into a plain resistance"),
    ("work_piece", "whether and when the work gets hot"),
    ("duty", "how often bursts may follow each other"),
)


def left_out(design: Design) -> tuple[LeftOut, ...]:
    """Return the sections that the design does not have, and the breaker, each with what therefore is not told."""
    found = [LeftOut(key=key, untold=untold) for key, untold in _SECTIONS if getattr(design, key) is None]
    if design.load is not None or design.work_piece is not None:
        found = [section for section in found if section.key != "load"]
    if design.mains.breaker is None:
        found.insert(0, LeftOut(key="mains.breaker", untold="whether the branch circuit's breaker holds"))
    return tuple(found)
