"""What may be wrong on a bench besides what is in doubt of any: one cause each, all sizes invented."""

from dataclasses import dataclass, field, replace
from math import exp, log, pi, sqrt
from typing import Any

import numpy as np

from tests.truth.built import built
from tests.truth.electric import OMEGA, Loop
from tests.truth.sheet import MU0

CAUSES = (
    "wrong turns",
    "large gap",
    "poor steel",
    "shorted turn",
    "opposing turns",
    "bad joint",
    "wide lead loop",
    "weak mains",
    "wrong clamp",
    "half wave",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class Odd:
    """What a cause does beside the machine's own truth.

    Parameters
    ----------
    cause
        Its label; empty where there is none.
    told
        What a shop believes of the truth in place of it.
    clamp
        Current at which a clamp's iron gives way, over the current it reads; 0 for a good one. Such meters average,
        though true r.m.s. is told.
    mains_untold
        Whether nobody measured the mains.
    """

    cause: str
    told: dict[str, Any] = field(default_factory=dict)
    clamp: float = 0.0
    mains_untold: bool = False


def changed(rng: np.random.Generator, cause: str, true: dict[str, Any], spec: dict[str, Any]) -> Odd:
    """Change a truth by its cause."""
    before = dict(true)
    if cause == "large gap":
        if spec["core"]["joint"] == "butt" and rng.random() < 0.7:
            true["joint_gap_m"] *= float(rng.uniform(3, 8))
        else:  # sheets are missing
            true["stacking"] *= float(rng.uniform(0.85, 0.92))
    if cause == "poor steel":
        true["field"] *= float(rng.uniform(1.6, 2.5))
        true["steel"] *= float(rng.uniform(0.93, 0.97))
        true["loss_factor"] *= float(rng.uniform(1.4, 2.0))
    if cause == "bad joint":
        true["joints_ohm"] = [*true["joints_ohm"], exp(rng.uniform(log(1e-3), log(5e-3)))]
    if cause == "wide lead loop":
        true["lead_spacing_m"] *= float(rng.uniform(4, 10))
        true["lead_length_m"] *= float(rng.uniform(1.2, 1.8))
    if cause == "weak mains":
        true["source_ohm"] = float(rng.uniform(1.5, 4.0))
    told = {key: before[key] for key in ("lead_spacing_m", "lead_length_m") if before[key] != true[key]}
    clamp = float(rng.uniform(0.8, 1.5)) if cause == "wrong clamp" else 0.0
    return Odd(cause=cause, told=told, clamp=clamp, mains_untold=cause == "weak mains")


def wound_wrong(rng: np.random.Generator, cause: str, loop: Loop, true: dict[str, Any], turn_ohm: float) -> Loop:
    """Return a circuit changed by its cause; turn_ohm is the resistance of one turn of the primary [ohm].

    A closed turn is one of the primary's wire with a contact; its own leakage is left out, a hundredth of its
    resistance. Turns that oppose the others keep their resistance, and what both parts drive between them is the
    leakage of two halves of one block, one above the other.
    """
    N1 = loop.turns[0]
    if cause == "shorted turn":
        true["closed_ohm"] = turn_ohm * exp(rng.uniform(0.0, log(20.0)))
        return replace(loop, closed=1 / true["closed_ohm"])
    if cause == "opposing turns":
        n = max(round(N1 * float(rng.uniform(0.02, 0.08))), 1)
        true["opposing_turns"] = n
        return replace(loop, turns=(N1 - 2 * n, loop.turns[1]), stray=(2 * n) ** 2 * true["beside_H"])
    if cause == "half wave":
        peak = sqrt(2) * loop.volts / OMEGA / N1
        crest = loop.iron.read(loop.iron.ampere_turns, peak) / N1
        size = float(rng.choice([-1, 1]) * rng.uniform(0.3, 1.0)) * crest
        true["direct_V"] = size * (loop.source[0] + loop.primary)
        return replace(loop, direct=true["direct_V"])
    return loop


def beside(spec: dict[str, Any], scale: float) -> float:
    """Return the leakage of two halves of the primary's block, one above the other, per turn squared [H]: Rogowski."""
    core, blocks = built(spec)
    own = [b for b in blocks if b.winding == "primary"]
    turn, block = core.frame.mean_turn(own), own[0]
    return float(MU0 * turn * (block.height / 3) / (block.build + block.height / (3 * pi))) * scale
