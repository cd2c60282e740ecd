"""Cores with windings drawn at random: shell and two-leg, with and without a gap in the leg and shunts."""

import numpy as np

from geometries.assembly.section_of import section_of
from geometries.cores.kinds import AnyCore
from geometries.cores.shell import ShellCore
from geometries.cores.shunt import Shunt
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Section

MM = 1e-3
GAPS = {"butt": (20e-6, 200e-6), "interleaved": (3e-6, 30e-6), "welded": (10e-6, 100e-6)}


def random_core(seed: int) -> tuple[AnyCore, tuple[Block, ...], Shunt | None]:
    """Return a core, its two windings and any shunt: even seeds are shell cores, odd ones two-leg.

    Of six seeds in a row two have coils side by side with a shunt, two without, two are concentric or on a leg each.
    """
    rng = np.random.default_rng(seed)
    two_leg = bool(seed % 2)
    leg = rng.uniform(20, 80) * MM
    w, h = leg * rng.uniform(0.45, 0.8) * (1.5 if two_leg else 1.0), leg * rng.uniform(1.4, 2.2)
    joint = str(rng.choice(sorted(GAPS)))
    common = {
        "leg_width": leg,
        "window_width": w,
        "window_height": h,
        "stack_depth": leg * rng.uniform(0.8, 1.6),
        "joint": joint,
        "joint_gap": rng.uniform(*GAPS[joint]),
        "leg_gap": rng.uniform(0.1, 1.5) * MM if rng.random() < 0.4 else None,
        "steel": "M530-50A",
    }
    yoke, outer = leg * rng.uniform(0.9, 1.1), leg / 2 * rng.uniform(0.9, 1.1)
    core: AnyCore
    if two_leg:
        core = TwoLegCore.model_validate({**common, "yoke_height": yoke})
    else:
        core = ShellCore.model_validate({**common, "yoke_height": yoke / 2, "outer_leg_width": outer})
    clear, edge, space = rng.uniform(1, 3) * MM, rng.uniform(1, 4) * MM, rng.uniform(1, 5) * MM
    kind = seed // 2 % 3
    shunt = None
    if kind == 2:  # one round the other, or each on a leg of its own
        each = two_leg and rng.random() < 0.5
        room = (w - 2 * clear - space) / 2 if each else w - clear - space
        builds = room * rng.uniform(0.35, 0.48, 2) * (2 if each else 1)
        axis, inner = (leg + w, clear) if each else (0.0, clear + builds[0] + space)
        places = [(0.0, clear, builds[0], edge, h - 2 * edge), (axis, inner, builds[1], 2 * edge, h - 4 * edge)]
    else:
        if kind == 1:
            shunt = Shunt(height=rng.uniform(0.08, 0.15) * h, total_gap=rng.uniform(0.5, 3) * MM)
            space += shunt.height + 2 * MM
        room = h - 2 * edge - space
        first, builds = rng.uniform(0.4, 0.6) * room, (w - clear) * rng.uniform(0.6, 0.95, 2)
        places = [
            (0.0, clear, builds[0], edge, first),
            (0.0, clear, builds[1], edge + first + space, room - first),
        ]
    blocks = tuple(
        Block(
            winding=name,
            leg_axis=axis,
            leg_clearance=inner,
            end_clearance=clear,
            build=float(build),
            bottom=bottom,
            height=height,
        )
        for name, (axis, inner, build, bottom, height) in zip(("primary", "secondary"), places, strict=True)
    )
    return core, blocks, shunt


def solved_section(core: AnyCore, blocks: tuple[Block, ...], shunt: Shunt | None) -> Section:
    """Return the section a field is solved in: halved where both sides are alike."""
    section = section_of(core, blocks, shunt=shunt)
    return section.half() if section.mirror_symmetric else section
