"""The joints between winding and work as resistances."""

from __future__ import annotations

from fem.assumptions import assumed
from fem.circuit.leads.joints import JointBand, joints_resistance
from fem.design.leads import Leads


def joints_of(leads: Leads) -> JointBand:
    """Return the least, typical and greatest resistance of all joints in series: what is known plus what is counted."""
    counts = (("bolted", leads.joints.bolted), ("clamped", leads.joints.clamped), ("dirty", leads.joints.dirty))
    counted = joints_resistance((_one(kind), count) for kind, count in counts)
    known = leads.joint_resistance
    return JointBand(low=known + counted.low, typical=known + counted.typical, high=known + counted.high)


def _one(kind: str) -> JointBand:
    row = assumed(f"{kind} joint")
    return JointBand(low=row.low, typical=row.typical, high=row.high)
