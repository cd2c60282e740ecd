"""What joints and a gap in the leg take of the ampere-turns."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from fem.characteristics.iron import joint_bridge
from fem.constants import MU0
from fem.materials.bh import BHCurve
from geometries.core_types import AnyCore


def joint_ampere_turns(core: AnyCore, curve: BHCurve, by_place: Mapping[str, float]) -> float:
    """Return the ampere-turns across the joints and gaps of one loop [A]: through the primary's leg and back.

    Parameters
    ----------
    core
        The core; of several legs in parallel for the way back the mean counts.
    curve
        Of its sheet.
    by_place
        Flux density of the iron by cut [T].

    Notes
    -----
    H times the gap's length, with the leg's flux density straight across: the fringe, some gap lengths wide, is left
    out. H is B/mu0, or what neighbouring sheets need that bridge an interleaved joint.
    """
    frame, bridge = core.frame, joint_bridge(curve, core.stacking_factor, core.joint)

    def across(leg: str) -> float:
        b = core.stacking_factor * by_place[leg]
        return b / MU0 if bridge is None else float(bridge.field_strength(b))

    here = frame.wound_leg.name
    back = [across(leg.name) for leg in frame.legs if leg.name != here]
    joints = 2 if frame.joints_below else 1
    gap = 0.0 if frame.leg_gap is None else frame.leg_gap.height * core.stacking_factor * by_place[here] / MU0
    return joints * frame.joint_gap * (across(here) + float(np.mean(back))) + gap
