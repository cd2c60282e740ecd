"""Relations of equal digits: one design told in another way, asked for in another order or from another place."""

from __future__ import annotations

import re
from contextlib import suppress
from decimal import Decimal
from typing import Any

from fem.estimation.fields.kept import Kept
from fem.estimation.inputs.supply import supply_of
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.sweeps.axes import job_at
from fem.sweeps.points import sweep
from fem.sweeps.rows.flat import flat
from tests.campaign.always import results
from tests.campaign.relations import NotHere, Subject, sized, unlike, without
from tests.support.alike import alike

SAME = {
    "mm": [("cm", "0.1"), ("m", "0.001"), ("um", "1000")],
    "cm": [("mm", "10"), ("m", "0.01")],
    "m": [("mm", "1000"), ("cm", "100")],
    "ohm": [("mohm", "1000"), ("uohm", "1000000")],
    "mohm": [("ohm", "0.001"), ("uohm", "1000")],
    "s": [("ms", "1000")],
    "V": [("mV", "1000"), ("kV", "0.001")],
    "A": [("mA", "1000"), ("kA", "0.001")],
    "H": [("mH", "1000"), ("uH", "1000000")],
    "T": [("mT", "1000")],
    "mm2": [("cm2", "0.01"), ("mm**2", "1"), ("mm²", "1")],
}
_QUANTITY = re.compile(r"([0-9.]+(?:e-?[0-9]+)?) (\S+)")
AS_WORDS = ("breaker", "conductor", "area", "section", "insulated")
"""Keys whose texts are names, or are repeated in messages as they stand."""


def other_units(subject: Subject) -> list[str]:
    """Every quantity in another unit is the same design."""
    job = _rewritten(subject, subject.job)
    # text of conductors and of the title are quoted in cautions, never in results
    return unlike(subject.found, subject.of(job, subject.wanted))


def _rewritten(subject: Subject, table: dict[str, Any]) -> dict[str, Any]:
    return {
        key: _rewritten(subject, value)
        if isinstance(value, dict) and key not in AS_WORDS
        else [_in_another(subject, item) for item in value]
        if isinstance(value, list)
        else value
        if key in AS_WORDS
        else _in_another(subject, value)
        for key, value in table.items()
    }


def _in_another(subject: Subject, value: Any) -> Any:
    found = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
    if found is None or found[2] not in SAME:
        return value
    unit, factor = subject.draw.of(SAME[found[2]])
    return f"{Decimal(found[1]) * Decimal(factor):f} {unit}"


def lamination_by_its_sizes(subject: Subject) -> list[str]:
    """A lamination by its name is the core of its sizes."""
    core = subject.design.core
    if "lamination" not in subject.job["core"]:
        raise NotHere
    sizes = {"leg_width": core.leg_width, "yoke_height": core.yoke_height, "outer_leg_width": core.outer_leg_width[0]}
    sizes |= {"window_width": core.window_width, "window_height": core.window_height}
    job = without(subject.job, "core.lamination")
    job["core"] = {**job["core"], **{key: f"{size!r} m" for key, size in sizes.items()}}
    return unlike(subject.found, subject.of(job, subject.wanted))


def defaults_written_out(subject: Subject) -> list[str]:
    """What is taken where nothing is given, may be given: only bands may know the difference."""
    design = subject.design
    changes: dict[str, Any] = {
        "temperature": f"{design.temperature!r} K",
        "core.joint_gap": f"{design.core.joint_gap!r} m",
        "core.stacking_factor": design.core.stacking_factor,
        "windings.end_clearance": f"{design.windings.inner_end_clearance!r} m",
        "windings.primary.material": design.windings.primary.material,
        "windings.secondary.insulation_class": design.windings.secondary.insulation_class.value,
        "limits.flux_density": f"{design.limits.flux_density!r} T",
    }
    if design.mains.source_assumed and design.mains.run_length is None:
        source = supply_of(design.mains)
        changes["mains.source_resistance"] = f"{source.resistance!r} ohm"
        changes["mains.source_inductance"] = f"{source.inductance!r} H"
    other = subject.changed(changes, subject.wanted)
    told, untold = (
        {**each, "assumed": None, "supply": {**each["supply"], "assumed": None}} for each in (other, subject.found)
    )
    return unlike(untold, told)


def sizes_written_out(subject: Subject) -> list[str]:
    """Height and build that follow from the conductors may be given as measured."""
    job = sized(subject)
    # sums of heights are rounded; the field's key is not, to the nanometre
    return unlike(subject.again(), subject.of(job), 1e-9)


def row_of_a_sweep(subject: Subject) -> list[str]:
    """A sweep's row has the digits of the lone estimate, whatever rows come with it, but for the last three."""
    turns = subject.design.windings.secondary.turns
    points = [{"mains.voltage": "1.01 V"}, {"windings.secondary.turns": turns}]
    jobs = [(point, job_at(subject.job, point)) for point in points]
    rows = [row for rows in sweep(jobs, wanted=subject.wanted, job_file=True) for row in rows]
    mine = next(row for row in rows if row.position == 1)
    whole = flat(subject.found)
    other = [k for k in whole if not alike({k: mine.results.get(k)}, {k: whole[k]})]
    found = [f"{k}: {mine.results.get(k)!r} against {whole[k]!r}" for k in other[:3]]
    # a row has the ends of bands beside its numbers, an estimate apart
    names = {k for k in mine.results if not k.endswith((".low", ".high"))}
    return found or ([] if names == set(whole) else ["the row has other results"])


def after_others(subject: Subject) -> list[str]:
    """What was computed before leaves no trace."""
    before = subject.again()
    with suppress(NotHere):
        subject.changed({"mains.voltage": f"{0.9 * subject.design.mains.voltage!r} V", "temperature": "35 degC"})
    return unlike(before, subject.again())


FEEDS = {Part.CONDUCTOR_SLICE}
"""What others rest on: how wires in hand share their current changes resistances. The same on both sides."""


def whatever_else_is_asked_for(subject: Subject) -> list[str]:
    """A part is the same whether it is asked for alone or with all the others."""
    parts = sorted(subject.wanted - FEEDS, key=lambda part: part.name)
    if not parts:
        raise NotHere
    alone = subject.draw.of(parts)
    found = results_without_nulls(subject.again({alone, *(subject.wanted & FEEDS)}))
    return unlike(found, subject.found, keys=list(results(found)))


def results_without_nulls(found: dict[str, Any]) -> dict[str, Any]:
    """Return an estimate without what was not asked for."""
    if isinstance(found, dict):
        return {key: results_without_nulls(value) for key, value in found.items() if value is not None}
    return found


def solved_anew(subject: Subject) -> list[str]:
    """A field solved anew, in a process that solved others, has the digits of the one kept."""
    anew = estimate(subject.design, wanted=frozenset(), characteristics=Kept()).to_dict()
    return unlike(anew, subject.again())


def read_from_disk(subject: Subject) -> list[str]:
    """A field from the cache's folder has the digits of the one solved."""
    again = estimate(subject.design, wanted=frozenset(), characteristics=Kept(folder=subject.kept.folder)).to_dict()
    return unlike(again, subject.again())
