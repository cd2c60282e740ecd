"""Cures on the way to the work: leads, joints, jaws."""

from __future__ import annotations

from fem.assumptions import assumed
from fem.cures.cure import Bench, Change, Cure, not_open
from fem.design.leads import Leads
from fem.design.work_piece import ContactState, Jaws
from fem.digits import brief
from fem.estimation.inputs.contact import scatter_of
from fem.estimation.inputs.joints import joints_of
from geometries.windings.conductors import Conductor
from geometries.windings.wire import flexible_resistances

SHORTEST = assumed("shortest leads").typical
FORCE = assumed("force of a jaw")
TWICE = 1.9
"""How much thicker leads are, at least, for the next size to count as twice [-]."""
LARGEST = 240.0
"""Of cables that are still bent by hand [mm2]; common practice, no source."""


def shorter(bench: Bench) -> Change:
    """Leads as short as is practical."""
    leads = _leads(bench)
    if leads.length <= SHORTEST:
        not_open(f"they are no longer than {brief(SHORTEST)} m, go plus return, already")
    do = f"cut the leads to {brief(SHORTEST)} m, go plus return, and bring the work to the machine"
    return Change(keys={"leads.length": SHORTEST}, do=do)


def thicker(bench: Bench) -> Change:
    """Leads of twice the section."""
    leads = _leads(bench)
    area = leads.conductor.area * 1e6
    size = next((size for size in sorted(flexible_resistances()) if TWICE * area <= size <= LARGEST), None)
    if size is None:
        not_open(f"twice {brief(area)} mm2 is more than the {brief(LARGEST)} mm2 that are bent by hand")
    text = f"{size:g} mm2"
    apart = max(leads.spacing, Conductor(cable=text).insulated_width)
    keys: dict[str, object] = {"leads.area": text}
    if apart > leads.spacing:
        keys["leads.spacing"] = apart
    return Change(keys=keys, do=f"leads of {text}, or a second pair beside the first, with lugs for it")


def closer(bench: Bench) -> Change:
    """Go and return tied together."""
    leads = _leads(bench)
    outside = leads.conductor.insulated_width
    if leads.spacing <= outside * (1 + 1e-6):
        not_open("go and return touch already")
    do = f"tie go and return together all along: {brief(1e3 * outside)} mm from middle to middle"
    return Change(keys={"leads.spacing": outside}, do=do)


def bolted(bench: Bench) -> Change:
    """All joints between winding and work bolted on bright faces, as good as they get."""
    leads = _described(bench)
    now = joints_of(bench.case.design)
    design = bench.design.varied({"leads.joints": None, "leads.joint_resistance": None})
    count = sum(group.count for group in now.groups) or sum(group.count for group in joints_of(design).groups)
    ohms = count * assumed("bolted joint").low
    if now.resistance.typical <= ohms * (1 + 1e-6):
        not_open(f"{brief(1e3 * now.resistance.typical)} mohm of joints are as good as they get")
    keys: dict[str, object] = {"leads.joint_resistance": ohms}
    if leads.joints is not None:
        keys["leads.joints"] = None
    do = f"crimped lugs on bright flat faces, bolts tightened well: {count} x {brief(1e6 * ohms / count)} uohm"
    return Change(keys=keys, do=do)


def cleaned(bench: Bench) -> Change:
    """Jaws and work wiped bright where they meet."""
    jaws, metals = _jaws(bench)
    clean = jaws.model_copy(update={"contact": ContactState.CLEAN, "contact_resistance": None})
    ohms, now = scatter_of(clean, metals).typical, scatter_of(jaws, metals).typical
    if now <= ohms:
        not_open(f"{brief(1e3 * now)} mohm at either jaw is no more than clean faces have, {brief(1e3 * ohms)}")
    keys: dict[str, object] = {"work_piece.jaws.contact": "clean", "work_piece.jaws.contact_resistance": None}
    return Change(keys=keys, do="emery on jaws and work where they meet, before each burst")


def pressed(bench: Bench) -> Change:
    """Jaws pressed twice as hard."""
    jaws, _ = _jaws(bench)
    force = 2 * (FORCE.typical if jaws.force is None else jaws.force)
    if force > 2 * FORCE.high:
        not_open(f"{brief(force / 2)} N are more than a hand clamp has already")
    keys: dict[str, object] = {"work_piece.jaws.force": force}
    if jaws.contact_resistance is not None:
        keys["work_piece.jaws.contact_resistance"] = jaws.contact_resistance / 2**0.5
    do = f"press the jaws on the work with {brief(force)} N: a contact goes with the root of the force"
    return Change(keys=keys, do=do, danger="crushes")


def _described(bench: Bench) -> Leads:
    if bench.is_ring:
        not_open("a ring round the leg has no leads")
    if bench.design.leads is None:
        not_open("no [leads] are described")
    return bench.design.leads


def _leads(bench: Bench) -> Leads:
    leads = _described(bench)
    if not leads.has_cable:
        not_open("the leads have no length")
    return leads


def _jaws(bench: Bench) -> tuple[Jaws, tuple[str, str]]:
    work = bench.design.work_piece
    if work is None:
        not_open("no [work_piece] is described")
    if work.ring is not None or work.carbons is not None:
        not_open("the work has no jaws that press on it")
    return work.jaws, (work.jaws.material, work.metal)


CURES = (
    Cure(name="shorter leads", find=shorter),
    Cure(name="thicker leads", find=thicker),
    Cure(name="leads tied together", find=closer),
    Cure(name="better joints", find=bolted),
    Cure(name="jaws cleaned", find=cleaned),
    Cure(name="jaws pressed harder", find=pressed),
)
