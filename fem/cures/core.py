"""Cures of the core: shunts, joints, gap, a second core."""

from __future__ import annotations

from fem.cures.cure import Bench, Change, Cure, not_open
from fem.digits import brief
from geometries.cores.stacked import TYPICAL_GAP, Joint
from geometries.shapes.blocks import blocks_of

_CLOSED = {
    Joint.BUTT: "take the I's off, clean the faces, press them on and clamp",
    Joint.INTERLEAVED: "take the sheets out, clean and lay them anew, pressed home",
    Joint.WELDED: "grind the weld off, clean the faces, clamp, weld anew without the windings",
}


def shunts(bench: Bench) -> Change:
    """The shunts driven out, or put back."""
    if bench.design.shunt is None:
        not_open("no [shunt] is described")
    if bench.design.shunt.fitted:
        return Change(keys={"shunt.fitted": False}, do="drive the shunts out, without nicking wire", danger="cuts wire")
    return Change(keys={"shunt.fitted": True}, do="put the shunts back: they hold the current down")


def joints_closed(bench: Bench) -> Change:
    """The joints of the core as close as those of their kind get."""
    core = bench.design.core
    least = TYPICAL_GAP[core.joint][0]
    if core.joint_gap <= least * (1 + 1e-6):
        not_open(f"{brief(1e3 * core.joint_gap)} mm is as close as {core.joint.value} joints get")
    do = f"{_CLOSED[core.joint]}: {brief(1e3 * least)} mm a crossing at best"
    danger = "sparks" if core.joint is Joint.WELDED else ""
    return Change(keys={"core.joint_gap": least}, do=do, danger=danger)


def gap_closed(bench: Bench) -> Change:
    """The gap in the leg taken out."""
    if bench.design.core.leg_gap is None:
        not_open("the leg has no gap")
    keys: dict[str, object] = {"core.leg_gap": None, "core.leg_gap_position": None}
    return Change(keys=keys, do="take the spacer out of the leg; a sawn gap is shimmed with sheet")


def _second(bench: Bench, primaries: str) -> Change:
    if bench.is_ring:
        not_open("a ring is threaded round one core")
    if bench.design.core.second is not None:
        not_open("there is a second core")
    primary = blocks_of(bench.case.blocks, "primary")
    apart = 2 * max(block.end_clearance + block.build for block in primary)
    keys: dict[str, object] = {"core.second": {"spacing": apart, "primaries": primaries}}
    secondary = bench.design.windings.secondary
    if secondary.mean_turn is not None or secondary.resistance is not None:
        keys |= {"windings.secondary.mean_turn": None, "windings.secondary.resistance": None}
    do = (
        f"a like transformer behind it, primaries in {primaries}, {secondary.turns} turns round both legs; "
        "check on reduced voltage that both push the same way"
    )
    return Change(keys=keys, do=do, danger="mains")


CURES = (
    Cure(name="shunts out or in", find=shunts),
    Cure(name="core joints closed", find=joints_closed),
    Cure(name="leg gap closed", find=gap_closed),
    Cure(name="2nd core in series", find=lambda bench: _second(bench, "series")),
    Cure(name="2nd core in parallel", find=lambda bench: _second(bench, "parallel")),
)
