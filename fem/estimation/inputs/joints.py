"""The joints between winding and work as resistances: those that are told, else those that the build needs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from fem.assumptions import assumed
from fem.circuit.leads.joints import JointBand, joints_resistance
from fem.design.leads import Leads
from fem.design.transformer import Design

SAME_SIZE = 0.01
"""Relative difference of sections [-] up to which winding and leads count as one cable; a choice of ours."""


class End(Enum):
    """Which end of the leads a joint is at."""

    WINDING = "winding"
    WORK = "work"


@dataclass(frozen=True, kw_only=True, slots=True)
class JointGroup:
    """Joints of one kind at one end of the leads, in series.

    Parameters
    ----------
    kind
        "bolted", "clamped" or "dirty"; empty where only their resistance is told.
    count
        How many [-]; 0 where only their resistance is told.
    end
        Of the leads. Where that is not told, the first two bolted ones are the winding's.
    between
        What they join, in words; empty where that is not told.
    resistance
        Of all of them together.
    """

    kind: str
    count: int
    end: End
    between: str
    resistance: JointBand

    @property
    def name(self) -> str:
        """What the group is called in results."""
        return f"{self.kind} joints at the {self.end.value}" if self.kind else "joints"


@dataclass(frozen=True, kw_only=True, slots=True)
class JointsTaken:
    """What lies between winding and work.

    Parameters
    ----------
    groups
        In the order the current meets them.
    told
        Whether the user told them; else the build needs them.
    """

    groups: tuple[JointGroup, ...]
    told: bool

    @property
    def resistance(self) -> JointBand:
        """Of all of them in series."""
        return joints_resistance((group.resistance, 1) for group in self.groups)


def joints_of(design: Design) -> JointsTaken:
    """Return the joints that are told, or those that the described build needs.

    Notes
    -----
    Needed are a bolted lug on either end of the winding, unless the leads go on as its own single cable, and what the
    lead ends are fixed to: bolted lugs on the two jaws of a work piece, whose contacts with the work belong to it;
    clamps on a load; else one bolt that joins them to each other. Without leads the winding's ends are the lead ends,
    and where nothing is connected to them they have no joint; nor has a ring round the leg.
    """
    leads = design.leads
    if design.work_piece is not None and design.work_piece.ring is not None:
        return JointsTaken(groups=(), told=True)
    if leads is not None and leads.joints_told:
        return JointsTaken(groups=_told(leads), told=True)
    groups = []
    has_cable = leads is not None and leads.has_cable
    if has_cable and not one_cable(design):
        groups.append(_group("bolted", 2, End.WINDING, "the winding's ends to the leads"))
    ends = "the lead ends" if has_cable else "the winding's ends"
    if design.work_piece is not None:
        groups.append(_group("bolted", 2, End.WORK, f"{ends} to the jaws"))
    elif design.load is not None:
        groups.append(_group("clamped", 2, End.WORK, f"{ends} to the load"))
    elif leads is not None:
        groups.append(_group("bolted", 1, End.WORK, f"{ends} to each other"))
    return JointsTaken(groups=tuple(groups), told=False)


def one_cable(design: Design) -> bool:
    """Return whether the leads are of the single cable that the secondary is wound of, and so go on without a joint."""
    leads, winding = design.leads, design.windings.secondary
    if leads is None or winding.wires_in_hand > 1 or winding.conductor.cable is None:
        return False
    ratio = leads.conductor.area / winding.conductor.area
    return winding.material == leads.material and abs(ratio - 1) <= SAME_SIZE


def _told(leads: Leads) -> tuple[JointGroup, ...]:
    found, known = [], leads.joint_resistance
    counts = {} if leads.joints is None else dict(leads.joints)
    bolted = counts.pop("bolted", 0)
    at_winding = min(bolted, 2) if leads.has_cable else 0
    found = [
        _group("bolted", at_winding, End.WINDING),
        _group("bolted", bolted - at_winding, End.WORK),
        *(_group(kind, count, End.WORK) for kind, count in counts.items()),
    ]
    if np.any(known):
        assert known is not None
        band = JointBand(low=known, typical=known, high=known)
        found.append(JointGroup(kind="", count=0, end=End.WORK, between="", resistance=band))
    return tuple(group for group in found if group.count or not group.kind)


def _group(kind: str, count: int, end: End, between: str = "") -> JointGroup:
    row = assumed(f"{kind} joint")
    one = JointBand(low=row.low, typical=row.typical, high=row.high)
    return JointGroup(kind=kind, count=count, end=end, between=between, resistance=joints_resistance([(one, count)]))
