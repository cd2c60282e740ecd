"""What a little more of each length does to an estimate, against estimates of cores solved anew, meshes and grids."""

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fem.arrays import Floats
from fem.design.transformer import Design
from fem.estimation.by_length import by_length
from fem.estimation.fields import kept as kept_fields
from fem.estimation.fields import source
from fem.estimation.fields.kept import Kept
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.sweeps.run import Plan, run_search
from fem.sweeps.search import TOLERANCE, Along, Target, read_along
from fem.sweeps.workers import task
from tests.support.every_kind import design_of

DEEP = ("core.stack_depth",)
WIDE = (
    "core.leg_width",
    "core.yoke_height",
    "core.joint_gap",
    "core.window_height",
    "windings.spacing",
    "windings.end_clearance",
)


def results(design: Design, kept: Kept) -> tuple[Floats, Floats]:
    """Return flux density, idle and short-circuit current, and what share of each the fields' own errors may make.

    Of the currents by what a voltage a thousandth higher, the same flux at as much less, makes of them.
    """

    def at(voltage: float) -> tuple[Floats, Floats]:
        found = estimate(design.vary("mains.voltage", voltage), wanted={Part.CONDUCTOR_SLICE}, characteristics=kept)
        idle, short = found.idle.current_rms, found.short_circuit.secondary_current_rms
        errors = [found.provenance.flux_discretisation_error, found.provenance.leakage_discretisation_error]
        return np.array([found.saturation.peak_flux_density, idle, short]), np.array(errors)

    (here, (flux, leak)), (above, _) = at(230.0), at(230.23)
    steeper = np.log(above / here) / 1e-3
    return here, np.array([flux, flux * steeper[1], flux + leak])


def held_against_cores_solved_anew(design: Design, keys: tuple[str, ...]) -> None:
    """To first order: what is left is half the second difference at most, and the errors of the fields themselves."""
    kept = Kept()
    effects = {effect.key: effect for effect in by_length(design, source=kept)}
    here, room = results(design, kept)
    for key in keys:
        effect = effects[key]
        more, less = (
            results(design.vary(key, effect.length + step), kept)[0] / here - 1 for step in (effect.more, -effect.more)
        )
        told = np.array(effect.changes, dtype=float)
        assert np.all(np.abs(told - more) < np.abs(more + less) / 2 + room), key


def test_a_deeper_stack() -> None:
    held_against_cores_solved_anew(design_of("shell"), DEEP)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["leg gap", "two-leg"])
def test_every_length(kind: str) -> None:
    held_against_cores_solved_anew(design_of(kind), DEEP + WIDE)


@pytest.mark.slow
def test_behind_shunts_the_joined_lead_ends_are_not_told() -> None:
    """How their saturation moves is not known; flux and idle current are told, the most effective length first."""
    effects = by_length(design_of("shunts").vary("windings.primary.turns", 150).vary("mains.voltage", 150.0))
    assert {effect.short_circuit_current_change for effect in effects} == {None}
    greatest = [max(abs(change or 0.0) for change in effect.changes) for effect in effects]
    assert greatest == sorted(greatest, reverse=True)
    assert greatest[0] > 0.01


@pytest.mark.slow
def test_a_search_along_a_length_solves_fewer_fields(monkeypatch: pytest.MonkeyPatch) -> None:
    """With derivatives three cores tell the rest; what is found is what is found without, to the search's tolerance.

    The flux density goes nearly as one over the depth, x: what the cubic through two points 15 mm apart leaves is
    h^4 / 384 of 24 B / x^4, 4e-5 of B here and below what is asked for.
    """
    fields: list[int] = []
    genuine = source.solve_characteristics

    def counted(*given: Any) -> Any:
        fields.append(len(given))
        return genuine(*given)

    for module in (kept_fields, source):
        monkeypatch.setattr(module, "solve_characteristics", counted)
    plan = Plan(job=Path(str(files("fem.examples") / "bandsaw_brazing.toml")), axes=())
    target, along = Target(key="saturation.peak_flux_density_T", value=1.42), read_along("core.stack_depth=50:80mm")
    found, solved = [], []
    for told in (True, False):
        monkeypatch.setattr(Along, "is_length", told)
        monkeypatch.setattr(task, "_kept", cache(Kept))
        fields.clear()
        (row,) = run_search(plan, target, along, lambda *_: None).rows
        assert row.results[target.key] == pytest.approx(target.value, rel=TOLERANCE)
        found.append(float(row.point[along.key].split()[0]))
        solved.append(len(fields))
    assert found[0] == pytest.approx(found[1], rel=3 * TOLERANCE)
    assert solved[0] == 4
    assert solved[1] >= 6
