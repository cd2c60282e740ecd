"""Random designs: a whole number stands for a job file, the same for everybody."""

from __future__ import annotations

import json
from copy import deepcopy
from functools import cache, lru_cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from fem.design.job import JOB_FILE
from fem.design.transformer import Design
from geometries.cores.kinds import AnyCore, Core
from geometries.windings.arrangement import place
from geometries.windings.fit import fit
from tests.campaign.drawing import Draw
from tests.campaign.random_bench import random_bench, random_mains
from tests.campaign.random_core import random_core
from tests.campaign.random_windings import Misfit, random_windings, wind_anew

ATTEMPTS = 20
EDGE = 0.25
"""Share of cores at the edges of the ranges."""
MACHINES = 5
"""Designs in a row on one core with one arrangement: its field, the costly part, is solved once for them."""

_CORE: TypeAdapter[AnyCore] = TypeAdapter(Core)


@cache
def random_job(seed: int) -> dict[str, Any]:
    """Return the tables of a job file that is accepted: what is not is drawn again.

    Raises
    ------
    Misfit
        If nothing is accepted in `ATTEMPTS` draws.
    """
    number, machine = divmod(seed, MACHINES)
    start, edge = _wound(number)
    for attempt in range(ATTEMPTS):
        job = _machine(Draw(number, machine, attempt), start, anew=machine > 0, edge=edge)
        if read(job) is not None:
            return {"title": f"random {seed}", **job}
    raise Misfit(seed)


def read(job: dict[str, Any]) -> Design | None:
    """Return the design of a job file's tables, or None where they are refused or do not fit."""
    try:
        design = Design.model_validate(job, context=JOB_FILE)
    except ValidationError:
        return None
    blocks = place(design.core, design.windings)
    in_the_way = design.fitted_shunt.faults(design.core, blocks) if design.fitted_shunt is not None else []
    return None if fit(design.core, design.windings, blocks).faults or in_the_way else design


@lru_cache(maxsize=16)
def _wound(number: int) -> tuple[dict[str, Any], bool]:
    """Return mains, core, windings and any shunt, and whether they are at the edges."""
    edge = Draw(number).chance(EDGE)
    for attempt in range(ATTEMPTS):
        draw = Draw(number, attempt)
        mains, core = random_mains(draw, edge=edge), random_core(draw, edge=edge)
        try:
            windings, shunt = random_windings(draw, _CORE.validate_python(core, context=JOB_FILE), mains, edge=edge)
        except (ValidationError, Misfit):
            continue
        job = {"mains": mains, "core": core, "windings": windings, **({} if shunt is None else {"shunt": shunt})}
        if read(job) is not None:
            return job, edge
    raise Misfit(number)


def _machine(draw: Draw, start: dict[str, Any], *, anew: bool, edge: bool) -> dict[str, Any]:
    """Put leads, loads and what else belongs to them to a wound core; `anew` draws another machine for its field."""
    job = deepcopy(start)
    if anew:
        volts, hertz = job["mains"]["voltage"], job["mains"]["frequency"]
        job["mains"] = {**random_mains(draw, edge=edge), "voltage": volts, "frequency": hertz}
        wind_anew(draw, job["windings"])
        dip = job["mains"].get("dip_voltage")
        if dip is not None:
            job["mains"]["dip_voltage"] = f"{float(volts.split()[0]) * draw.even(0.93, 0.995):.5g} V"
    if draw.chance(0.6):
        job["temperature"] = draw.celsius(-39, 249) if edge else draw.celsius(10, 110)
    bare = read(job)
    if bare is None:
        return job
    secondary = bare.windings.secondary
    idle = bare.mains.voltage * secondary.turns / bare.windings.primary.net_turns
    area = secondary.wires_in_hand * secondary.conductor.area * 1e6
    return job | random_bench(draw, idle, area, edge=edge)


def to_toml(job: dict[str, Any]) -> str:
    """Write tables as a job file."""
    return "\n".join(_lines(job, ())).lstrip("\n") + "\n"


def _lines(table: dict[str, Any], path: tuple[str, ...]) -> list[str]:
    plain = {key: value for key, value in table.items() if not isinstance(value, dict)}
    lines = ["", f"[{'.'.join(path)}]"] if path else []
    # a JSON text, number, truth value or list of these is a TOML one
    lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in plain.items()]
    for key, value in table.items():
        if isinstance(value, dict):
            lines += _lines(value, (*path, key))
    return lines
