"""Random cores as tables of a job file: of salvaged sizes mostly, else at the edges of what is allowed."""

from __future__ import annotations

from typing import Any

from fem.materials.steel import steel_names
from geometries.cores.laminations import standard_laminations
from tests.campaign.drawing import Draw

GAPS = {"butt": (20e-6, 200e-6), "interleaved": (3e-6, 50e-6), "welded": (10e-6, 200e-6)}
LEAST, MOST = 3e-3, 0.5
"""Of every size of a core [m]."""


def random_core(draw: Draw, *, edge: bool) -> dict[str, Any]:
    """Return the table [core]; at the edge sizes go from 5 to 250 mm and windows are slim or flat."""
    kind = draw.weighted({"shell": 0.65, "two-leg": 0.35})
    core: dict[str, Any] = {"type": kind}
    leg = draw.ratio(5e-3, 0.25) if edge else draw.ratio(18e-3, 75e-3)
    if kind == "shell" and not edge and draw.chance(0.3):
        sheet = draw.of([size for size in standard_laminations() if size.leg_width >= 16e-3])
        core["lamination"] = f"{sheet.name[:2]} {sheet.name[2:]}"
        leg = sheet.leg_width
    else:
        core |= _stamped(draw, kind, leg, edge=edge)
    core["stack_depth"] = draw.length(_within(leg * (draw.ratio(0.3, 4) if edge else draw.even(0.7, 1.9))))
    core["stacking_factor"] = round(draw.even(0.8, 1.0) if edge else draw.even(0.92, 0.97), 3)
    core["joint"] = draw.of(sorted(GAPS))
    if draw.chance(0.45):
        low, high = (1e-6, leg / 25) if edge else GAPS[core["joint"]]
        core["joint_gap"] = f"{draw.ratio(low, min(high, 5e-3)) * 1e3:.3g} mm"
    if draw.chance(0.25):
        core["leg_gap"] = f"{(draw.ratio(10e-6, leg / 8) if edge else draw.ratio(0.1e-3, leg / 30)) * 1e3:.4g} mm"
    if draw.chance(0.12):
        spacing = leg * draw.ratio(0.8, 4 if edge else 2)
        core["second"] = {"spacing": draw.length(_within(spacing)), "primaries": draw.of(["series", "parallel"])}
    core["steel"] = draw.of(steel_names())
    return core


def _stamped(draw: Draw, kind: str, leg: float, *, edge: bool) -> dict[str, Any]:
    two_leg = kind == "two-leg"
    wide, high = ((0.2, 2.5), (0.5, 5.0)) if edge else ((0.42, 0.8), (1.3, 2.4))
    table: dict[str, Any] = {
        "leg_width": draw.length(leg),
        "window_width": draw.length(_within(leg * draw.ratio(*wide) * (1.5 if two_leg else 1.0))),
        "window_height": draw.length(_within(leg * draw.ratio(*high))),
    }
    spread = (0.6, 1.8) if edge else (0.95, 1.2)
    outer = [_within(leg / 2 * draw.even(*spread)) for _ in range(2)]
    if two_leg:
        table["yoke_height"] = draw.length(_within(leg * draw.even(*spread)))
        return table
    table["yoke_height"] = draw.length(_within(leg / 2 * draw.even(*spread)))
    alike = draw.chance(0.75)
    table["outer_leg_width"] = draw.length(outer[0]) if alike else [draw.length(width) for width in outer]
    return table


def _within(size: float) -> float:
    return min(max(size, LEAST), MOST)
