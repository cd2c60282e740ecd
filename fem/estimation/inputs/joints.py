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


def joints_doubt(leads: Leads | None) -> tuple[float, float, list[str]]:
    """Return how far joints may lie below and above their typical resistance [ohm], and that in words, if they may."""
    if leads is None:
        return 0.0, 0.0, []
    joints = joints_of(leads)
    told = [f"joints {joints.low * 1e3:.2g} to {joints.high * 1e3:.2g} mohm"] if joints.high > joints.low else []
    return joints.low - joints.typical, joints.high - joints.typical, told


def _one(kind: str) -> JointBand:
    row = assumed(f"{kind} joint")
    return JointBand(low=row.low, typical=row.typical, high=row.high)
