"""What specifications say is built: cores and blocks from lengths in mm, tables of jobs, a magnetic circuit by hand."""

import json
from dataclasses import replace
from math import exp, log, pi, sqrt
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from geometries.cores.kinds import AnyCore, read_core
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import Windings, place
from tests.support.open_laws import Law
from tests.truth.sheet import MU0, Floats, field_of

MM = 1e-3
DATA = Path(__file__).parent / "data"
KEPT = (2 / 3) ** (8 / 3) / (1 - (2 / 3) ** (8 / 3))


def mm(value: float) -> str:
    """Return a length for a job."""
    return f"{value:.6g} mm"


def core_tables(core: dict[str, Any]) -> dict[str, Any]:
    """Return the core's table of a job from lengths in mm."""
    table: dict[str, Any] = {key: mm(value) if isinstance(value, float) else value for key, value in core.items()}
    if "second" in core:
        table["second"] = {**core["second"], "spacing": mm(core["second"]["spacing"])}
    return table


def winding_tables(windings: dict[str, Any], primary: dict[str, Any], secondary: dict[str, Any]) -> dict[str, Any]:
    """Return the windings' table of a job from lengths in mm; conductors and turns are given."""
    table: dict[str, Any] = {key: mm(value) if isinstance(value, float) else value for key, value in windings.items()}
    for name, more in (("primary", primary), ("secondary", secondary)):
        lengths = {key: mm(windings[name][key]) for key in ("height", "build") if key in windings[name]}
        table[name] = {**lengths, **more}
    return table


def built(spec: dict[str, Any]) -> tuple[AnyCore, tuple[Block, ...]]:
    """Return the true core and blocks of a base."""
    second = spec["windings"]["secondary"]
    if "bare" in second:
        area = 0.58 * pi / 4 * second["bare"] ** 2  # the package's own circle round so much copper
        wire = {"cable": f"{area:.9g} mm2", "insulated": mm(second["insulated"])}
        told: dict[str, Any] = {"turns": second["turns"], "conductor": wire}
        told |= {key: second[key] for key in ("lay", "against") if key in second}
        told |= {"places": [[mm(v) for v in place] for place in second["places"]]} if "places" in second else {}
    else:
        told = {"turns": second["turns"], "conductor": {"round": mm(second["wire"])}}
    windings = Windings.model_validate(
        winding_tables(spec["windings"], {"turns": 200, "conductor": {"round": "1 mm"}}, told)
    )
    core = read_core({**core_tables(spec["core"]), "stacking_factor": spec["stacking"], "steel": spec["grade"]})
    return core, place(core, windings)


def joined(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """Return the blocks as even ones."""
    return tuple(replace(block, places=()) for block in blocks)


class Carrier:
    """A magnetic circuit by hand that the states are laid over: its shape is right, its size within some per cent.

    Interleaved joints are filled by the sheets that run through them, of the law `bridges`: they saturate at half the
    flux density of the stack, and take next to nothing below.
    """

    def __init__(self, core: AnyCore, blocks: tuple[Block, ...], stack: Law, bridges: Law) -> None:
        frame = core.frame
        leg = frame.wound_leg
        self.area = leg.width * frame.iron_depth
        two = len(frame.legs) == 2
        iron = 2 * frame.window_height + 2 * (frame.window_width + leg.width) + 2 * frame.yoke_height * 0.5
        interleaved = core.joint.value == "interleaved"
        gap = 0.0 if frame.leg_gap is None else frame.leg_gap.height
        gap += 0.0 if interleaved else 2 * frame.joint_gap
        own = [b for b in blocks if b.winding == "primary"]
        turn = frame.surrounded(own[0])
        coil = (turn[0] + own[0].build) * (turn[1] + own[0].build) * frame.stacks - self.area
        b = np.r_[np.geomspace(1e-4, 0.02, 20), np.arange(0.03, 3.9, 0.01)]
        H = field_of(stack)(b)
        self.b, self.H, self.law = b, H, stack
        self.iron, self.gap = iron * (1.0 if two else 0.95), gap
        self.bridged, self.bridges = 4 * frame.joint_gap if interleaved else 0.0, bridges
        self.F = H * self.iron + self.joints()
        height = max(x.top for x in own) - min(x.bottom for x in own)
        self.air = MU0 * max(coil, 0.0) * 0.5 / (height + leg.width)
        self.flux = b * self.area + self.air * H * iron

    def joints(self, field: float = 1.0) -> Floats:
        """Return the ampere-turns [A] of joints and gaps at `b`, where the sheet takes `field` times as many."""
        H = self.bridges.coefficients[0]
        at = self.bridges.step * np.arange(H.size) + MU0 * (field - 1) * H
        return self.gap * self.b / MU0 + self.bridged * field * np.interp(self.b, at, H)

    def __call__(self, F: Floats | float) -> Floats:
        """Return the flux per turn [Wb] of ampere-turns [A], of either sign; straight beyond its end."""
        size = np.abs(F)
        slope = (self.flux[-1] - self.flux[-40]) / (self.F[-1] - self.F[-40])
        inside = PchipInterpolator(np.r_[0.0, self.F], np.r_[0.0, self.flux])(np.minimum(size, self.F[-1]))
        return np.asarray(np.sign(F) * (inside + slope * np.maximum(size - self.F[-1], 0.0)))


def coil_in_air(core: AnyCore, blocks: tuple[Block, ...]) -> tuple[float, float]:
    """Return the primary's flux per turn and ampere-turn without iron [H], and the area its mean turn surrounds [m2].

    By mutual inductances of rectangular loops, 4 by 6 a block; what two cores' coils link of each other is left out.
    """
    own = [b for b in blocks if b.winding == "primary"]
    loops = []
    for b in own:
        wide, deep = core.frame.surrounded(b)
        for out in (np.arange(4) + 0.5) / 4 * b.build:
            for up in (np.arange(6) + 0.5) / 6 * b.height:
                sides = wide + 2 * (b.leg_clearance + out), deep + 2 * (b.end_clearance + out)
                loops.append((*sides, b.bottom + up, 0.2235 * (b.build / 4 + b.height / 6)))
    a, c, y, g = np.array(loops).T
    apart = y[:, None] - y

    def pairs(along: Floats, across: Floats) -> Floats:
        def part(x: Floats, d: Floats) -> Floats:
            return np.asarray(x * np.arcsinh(x / d) - np.hypot(x, d))

        total, less = (along[:, None] + along) / 2, np.abs(along[:, None] - along) / 2
        near = np.hypot((across[:, None] - across) / 2, apart)
        near = np.where(near < 1e-9, np.minimum(g[:, None], g), near)
        far = np.hypot((across[:, None] + across) / 2, apart)
        return part(total, near) - part(less, near) - part(total, far) + part(less, far)

    mean = float((pairs(a, c) + pairs(c, a)).mean())
    return MU0 / pi * mean * core.frame.stacks, float((a * c).mean())


def own_field(core: AnyCore, blocks: tuple[Block, ...], name: str, conductors: int, diameter: float) -> float:
    """Return what round conductors in square cells have more than an even block [H] per turn squared."""
    mine = [b for b in blocks if b.winding == name]
    area = sum(b.area for b in mine)
    ratio = log(0.44705 * sqrt(area / conductors) / (diameter / 2 * exp(-0.25)))
    return float(MU0 / (2 * pi) * core.frame.mean_turn(mine) / conductors * ratio) * (
        1 if mine[0].round_both else core.frame.stacks
    )


def specs() -> dict[str, dict[str, Any]]:
    """Return the bases' specifications by name."""
    return {s["name"]: s for s in json.loads((DATA / "specs.json").read_text(encoding="utf-8"))["bases"]}
