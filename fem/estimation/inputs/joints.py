"""The joints between winding and work as resistances."""

from __future__ import annotations

from fem.circuit.leads.joints import JointBand, JointQuality, joints_resistance
from fem.design.leads import Leads


def joints_of(leads: Leads) -> JointBand:
    """Return the least, typical and greatest resistance of all joints in series: what is known plus what is counted."""
    counted = joints_resistance(
        {
            JointQuality.BOLTED_CLEAN: leads.joints.bolted,
            JointQuality.CLAMPED: leads.joints.clamped,
            JointQuality.DIRTY: leads.joints.dirty,
        }
    )
    known = leads.joint_resistance
    return JointBand(low=known + counted.low, typical=known + counted.typical, high=known + counted.high)
