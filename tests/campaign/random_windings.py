"""Random windings that go into the window of a core: turns from the mains, conductors made as large as fits."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

from pydantic import ValidationError

from fem.design.job import JOB_FILE
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.windings.arrangement import Windings, place
from geometries.windings.fit import fit
from geometries.windings.wire import flexible_resistances
from tests.campaign.drawing import Draw, quantity

Table = dict[str, Any]
SIZES = sorted(flexible_resistances())
"""Of flexible cable [mm2]."""


class Misfit(ValueError):
    """No conductor is small enough for this core and these turns."""


def random_windings(draw: Draw, core: AnyCore, mains: Table, *, edge: bool) -> tuple[Table, Table | None]:
    """Return the tables [windings] and [shunt] (None without one).

    Raises
    ------
    Misfit
        If nothing drawn for this core goes in.
    """
    windings, shunt = _arranged(draw, core, edge=edge)
    parts = windings.get("sections", 1)
    halves = windings.get("ends", "secondary") if windings["arrangement"] == "interleaved" else ""
    turns = _turns(draw, core, mains, edge=edge)
    for name, count in zip(("primary", "secondary"), turns, strict=True):
        multiple = parts * (2 if name == halves else 1)
        windings[name] = _winding(draw, max(multiple, round(count / multiple) * multiple), edge=edge)
    kinds = {
        "primary": draw.weighted({"round": 0.78, "strip": 0.15, "cable": 0.07}),
        "secondary": draw.weighted({"round": 0.15, "strip": 0.3, "cable": 0.55}),
    }
    aspect = {name: draw.ratio(1.2, 8) for name in kinds}
    if windings["arrangement"] != "concentric" or "second" not in core.model_fields_set:
        _extra(draw, windings)
    _wind(draw, core, windings, shunt, kinds, aspect)
    if draw.chance(0.5):
        _give_sizes(core, windings, shunt)
    _measured(draw, core, windings)
    return windings, shunt


def _arranged(draw: Draw, core: AnyCore, *, edge: bool) -> tuple[Table, Table | None]:
    choices = {"side-by-side": 0.5, "concentric": 0.25, "interleaved": 0.25}
    windings: Table = {"arrangement": draw.weighted(choices)}
    small = min(core.window_width, core.window_height)
    for key, share in (("spacing", 0.06), ("leg_clearance", 0.05), ("yoke_clearance", 0.05)):
        none = edge and draw.chance(0.2)
        windings[key] = draw.length(0.0 if none else draw.even(0.3, 1.0) * min(share * small, 4e-3))
    if draw.chance(0.2):
        windings["end_clearance"] = draw.length(draw.even(0.5e-3, 6e-3))
    if windings["arrangement"] == "side-by-side" and core.type == "two-leg" and draw.chance(0.55):
        windings["legs"] = "each"
    if windings["arrangement"] == "concentric" and draw.chance(0.4) and core.second is None:
        windings["inner"] = "secondary"
    if windings["arrangement"] == "interleaved":
        windings |= {"sections": draw.weighted({1: 5.0, 2: 3.0, 3: 1.0}), "ends": draw.of(["primary", "secondary"])}
    along = windings["arrangement"] == "side-by-side" or windings.get("sections") == 1
    if windings.get("legs") == "each" or not along or not draw.chance(0.25):
        return windings, None
    height = core.window_height * draw.even(0.05, 0.14)
    gap = core.window_width * draw.ratio(0.01, 0.3)
    windings["spacing"] = draw.length(height + draw.even(0.5e-3, 3e-3))
    shunt: Table = {"height": draw.length(height), "total_gap": draw.length(gap)}
    if draw.chance(0.2):
        shunt["fitted"] = False
    return windings, shunt


def _turns(draw: Draw, core: AnyCore, mains: Table, *, edge: bool) -> tuple[float, float]:
    """Draw turns from the flux density they ask for, and the secondary's from its volts."""
    volts, hertz = (float(mains[key].split()[0]) for key in ("voltage", "frequency"))
    density = draw.ratio(0.2, 2.0) if edge else draw.even(0.9, 1.75)
    in_series = core.count / core.parallel_primaries
    per_turn = density * 2 * pi * hertz / sqrt(2) * core.narrowest_iron_area * in_series
    primary = min(max(volts / per_turn, 1.0), 20_000)
    wanted = draw.ratio(0.3, volts) if edge else draw.ratio(0.8, min(60.0, volts))
    return primary, min(max(wanted * primary / volts, 1.0), 20_000)


def _winding(draw: Draw, turns: int, *, edge: bool) -> Table:
    table: Table = {"turns": turns}
    if draw.chance(0.25):
        table["wires_in_hand"] = draw.whole(2, 8 if edge else 4)
    if draw.chance(0.15):
        table["material"] = "aluminium"
    if draw.chance(0.2):
        table["lay"] = draw.of(["along", "across"])
    if draw.chance(0.15):
        table["against"] = draw.of(["leg", "loose"])
    if draw.chance(0.3):
        table["insulation_class"] = draw.of(["A", "E", "B", "F", "H"])
    return table


def _extra(draw: Draw, windings: Table) -> None:
    turns = windings["primary"]["turns"]
    if turns >= 8 and draw.chance(0.15):
        extra: Table = {"turns": draw.whole(1, max(turns // 5, 1))}
        if draw.chance(0.35):
            extra["sense"] = "opposing"
        windings["primary"]["extra"] = extra


def _wind(draw: Draw, core: AnyCore, windings: Table, shunt: Table | None, kinds: Table, aspect: Table) -> None:
    """Shrink both conductors from what is too large until they go in, then let each be larger as far as it goes."""
    share = draw.even(0.3, 0.7)
    window = core.window_width * core.window_height
    if core.type == "two-leg" and windings.get("legs") == "each":
        window *= 0.8
    room = {"primary": share * window, "secondary": (1 - share) * window}
    size = {}
    for name, area in room.items():
        count = windings[name]["turns"] * windings[name].get("wires_in_hand", 1)
        size[name] = sqrt(1.1 * area / count)
    slack = draw.ratio(0.6, 1.0)
    for _ in range(60):
        _conductors(windings, kinds, size, aspect)
        if _goes_in(core, windings, shunt):
            break
        size = {name: 0.92 * length for name, length in size.items()}
    else:
        raise Misfit
    for name in draw.some(["primary", "secondary"], 2):
        for _ in range(12):
            larger = {**size, name: 1.06 * size[name]}
            _conductors(windings, kinds, larger, aspect)
            if not _goes_in(core, windings, shunt):
                break
            size = larger
    smaller = {name: (slack if draw.chance(0.3) else 1.0) * length for name, length in size.items()}
    _conductors(windings, kinds, smaller, aspect)
    if not _goes_in(core, windings, shunt):  # other layers may take more height
        _conductors(windings, kinds, size, aspect)


def _conductors(windings: Table, kinds: Table, size: dict[str, float], aspect: Table) -> None:
    for name, kind in kinds.items():
        windings[name]["conductor"] = conductor(kind, size[name], aspect[name])
    if "extra" in windings["primary"]:
        windings["primary"]["extra"]["conductor"] = windings["primary"]["conductor"]


def wind_anew(draw: Draw, windings: Table) -> None:
    """Change turns and wire of windings whose height and build are given: the field stays as it is."""
    for name in ("primary", "secondary"):
        winding = windings[name]
        for key in ("insulation_class", "mean_turn"):
            winding.pop(key, None)
        if draw.chance(0.3):
            winding["insulation_class"] = draw.of(["A", "E", "B", "F", "H"])
        winding["material"] = draw.weighted({"copper": 0.85, "aluminium": 0.15})
        if "build" not in winding or "extra" in winding:
            continue
        halves = windings["arrangement"] == "interleaved" and windings["ends"] == name
        parts = windings.get("sections", 1) * (2 if halves else 1)
        winding["turns"] = max(round(winding["turns"] * draw.even(0.6, 1.0) / parts), 1) * parts
        kind = next(iter(winding["conductor"]))
        sizes = [float(text.split()[0]) for text in winding["conductor"][kind].split(" x ")]
        slack = draw.even(0.5, 1.0)
        if kind == "cable":
            winding["conductor"] = {"cable": quantity(slack * sizes[0], "mm2")}
        else:
            winding["conductor"] = {kind: " x ".join(quantity(max(slack * size, 0.05), "mm") for size in sizes)}


def conductor(kind: str, size: float, aspect: float) -> Table:
    """Return a conductor whose insulated outside covers about `size` squared [m2]."""
    size = min(max(size, 0.07e-3), 0.09)
    if kind == "round":
        return {"round": quantity(max(0.95 * size - 0.02e-3, 0.05e-3) * 1e3, "mm")}
    if kind == "strip":
        thick = max(size / sqrt(aspect) - 0.15e-3, 0.06e-3)
        wide = min(max(size * sqrt(aspect) - 0.15e-3, thick), 0.099)
        return {"strip": f"{wide * 1e3:.4g} mm x {thick * 1e3:.4g} mm"}
    area = 0.58 * pi / 4 * (size / 1.4) ** 2 * 1e6
    listed = [known for known in SIZES if known <= area]
    if not listed:
        return {"cable": quantity(area, "mm2")}
    bare = sqrt(listed[-1] / 0.58 * 4 / pi)
    return {"cable": f"{listed[-1]:g} mm2", "insulated": quantity(1.25 * bare + 1.0, "mm", 4)}


def _goes_in(core: AnyCore, windings: Table, shunt: Table | None) -> bool:
    try:
        wound = Windings.model_validate(windings, context=JOB_FILE)
        bar = None if shunt is None else Shunt.model_validate(shunt, context=JOB_FILE)
    except ValidationError:
        return False
    blocks = place(core, wound)
    if fit(core, wound, blocks).faults:
        return False
    return bar is None or not bar.faults(core, blocks)


def _give_sizes(core: AnyCore, windings: Table, shunt: Table | None) -> None:
    """Write the height and build that followed from the conductors as if they had been measured."""
    blocks = place(core, Windings.model_validate(windings, context=JOB_FILE))
    for name in ("primary", "secondary"):
        mine = [block for block in blocks if block.winding == name and block.coil != "extra"]
        before = dict(windings[name])
        windings[name]["height"] = f"{sum(block.height for block in mine) * 1e3:.4f} mm"
        windings[name]["build"] = f"{max(block.build for block in mine) * 1e3 + 1e-4:.4f} mm"
        if not _goes_in(core, windings, shunt):
            windings[name] = before


def _measured(draw: Draw, core: AnyCore, windings: Table) -> None:
    """Sometimes say a mean turn and a resistance, near what they would come to."""
    wound = Windings.model_validate(windings, context=JOB_FILE)
    for name, winding in (("primary", wound.primary), ("secondary", wound.secondary)):
        mean_turn = 2 * (core.leg_width + core.frame.iron_depth) + 2 * core.window_width
        if draw.chance(0.08):
            windings[name]["mean_turn"] = draw.length(min(max(mean_turn * draw.even(0.8, 1.3), 0.0101), 4.9))
        if draw.chance(0.1):
            ohms = 2e-8 * mean_turn * winding.turns / (winding.wires_in_hand * winding.conductor.area)
            windings[name]["resistance"] = draw.resistance(max(ohms * draw.ratio(0.7, 1.5), 1.1e-6))
            windings[name]["resistance_temperature"] = draw.celsius(10, 40)
