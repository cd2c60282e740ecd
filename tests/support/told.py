"""Estimates of a few designs that have different sections, quickly made: wide bands stand in for computed ones."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.one_design import estimate
from fem.estimation.parts import EVERYTHING, Part
from fem.estimation.result import Estimate
from fem.examples import example
from fem.quantity import Band
from tests.support.kept import KEPT

QUICK = EVERYTHING - {Part.BANDS, Part.PICTURES, Part.SHORTED_PLACES, Part.PHASOR_CHECK, Part.HALF_WAVE_SUPPLY}


def without(*tables: str) -> Design:
    given = read_job(str(example())).model_dump(exclude_unset=True)
    return Design.model_validate({name: table for name, table in given.items() if name not in tables})


DESIGNS = {
    "work piece": lambda: without("load"),
    "lead ends joined only": lambda: without("load", "work_piece", "duty", "pulses", "leads"),
    "plain load, no breaker": lambda: without("work_piece", "duty").vary("mains.breaker", None),
    "saturated": lambda: without("work_piece", "duty").vary("windings.primary.turns", 180),
}


@cache
def quickly(name: str) -> Estimate:
    """Return the estimate of one of `DESIGNS`, each number with a wide band."""
    one = estimate(DESIGNS[name](), wanted=QUICK, characteristics=KEPT)
    return replace(one, bands=dict(wide(one.to_dict())))


def wide(results: object, key: str = "") -> Iterator[tuple[str, Band]]:
    terms = (("heat through faces", 0.41), ("work's tables", 0.37))
    if isinstance(results, dict):
        for name, inner in results.items():
            yield from wide(inner, f"{key}.{name}" if key else name)
    elif isinstance(results, float):
        yield key, Band(low=0.82 * results, high=1.37 * results, terms=terms)
