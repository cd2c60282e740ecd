"""A random design: estimated, and held against what always holds and two relations."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

from fem.design.job import JOB_FILE
from fem.design.transformer import Design
from fem.errors import NotConverged, OutOfRange
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from tests.campaign import relations_digits as digits
from tests.campaign import relations_physics as physics
from tests.campaign import relations_remedies as remedies
from tests.campaign import relations_similarity as similarity
from tests.campaign.always import always
from tests.campaign.balances import balances
from tests.campaign.designs import random_job
from tests.campaign.drawing import Draw
from tests.campaign.relations import NotHere, Relation, Subject
from tests.campaign.worker import Verdict

WHOLE = 5
"""Every so many designs have all parts: the first machine on one core, the second on the next, and so on."""
PARTS = sorted(set(Part) - {Part.PICTURES}, key=lambda part: part.name)
DRAWN = 2
"""How many parts the other designs have, drawn at random."""
RELATIONS = 2

EASY: tuple[Relation, ...] = (
    digits.other_units,
    digits.lamination_by_its_sizes,
    digits.defaults_written_out,
    digits.sizes_written_out,
    digits.row_of_a_sweep,
    digits.after_others,
    digits.whatever_else_is_asked_for,
    digits.read_from_disk,
    physics.more_volts,
    physics.fewer_turns,
    physics.half_the_secondary,
    physics.longer_leads,
    physics.worse_joints,
    physics.less_load_resistance,
    physics.no_load_resistance,
    physics.hotter_copper,
    physics.wound_resistance,
    physics.larger_breaker,
    physics.longer_bursts,
    physics.flux_by_the_voltage,
    remedies.remedy,
    remedies.full_wave_without_drop,
    remedies.larger_drop,
    remedies.first_peaks,
)
SOLVING: tuple[Relation, ...] = (physics.more_stack, similarity.similar, similarity.mirrored_legs, digits.solved_anew)
"""Relations that need another field, seconds each."""
SOLVING_SHARE = 0.08


@cache
def _kept() -> Kept:
    folder = os.environ.get("REWOUND_CACHE", "off")
    return Kept(folder=None if folder == "off" else Path(folder))


def judge(seed: int) -> Verdict:
    """Return what holds for the design of a seed; what is not caught here is a fault of its own."""
    job = random_job(seed)
    design = Design.model_validate(job, context=JOB_FILE)
    draw = Draw(seed, 77)
    whole = seed % WHOLE == seed // WHOLE % WHOLE
    wanted = frozenset(PARTS if whole else draw.some(PARTS, DRAWN))
    try:
        found = estimate(design, wanted=wanted, characteristics=_kept()).to_dict()
    except (OutOfRange, NotConverged) as error:
        return Verdict(status="refused", note=f"{type(error).__name__}: {error}")
    faults = always(found) + balances(design, found)
    subject = Subject(job=job, design=design, found=found, wanted=wanted, kept=_kept(), draw=draw)
    tried = []
    choices = draw.some(EASY, len(EASY))
    if draw.chance(SOLVING_SHARE):
        choices = draw.some(SOLVING, len(SOLVING)) + choices
    for relation in choices:
        try:
            faults += [f"{relation.__name__}: {line}" for line in relation(subject)]
        except NotHere:
            continue
        tried.append(relation.__name__)
        if len(tried) == RELATIONS:
            break
    return Verdict(status="stated gap" if found["gaps"] else "accepted", faults=faults, note=", ".join(tried))
