"""Starts from the canonical section's field: they spare steps, and no number depends on them."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron, saturating_iron
from fem.design.sheet import sheet_of
from fem.field.static import starts
from fem.field.static.model import FieldModel, SolvedField, build_model, solve_model
from fem.field.static.quantities import both, cut_fluxes_per_m
from geometries.assembly.mesh import mesh_section
from geometries.assembly.morph import edges, morphed_section, moved
from geometries.assembly.section_of import section_of
from geometries.shapes.section import Section
from geometries.windings.arrangement import place
from tests.support.every_kind import design_of
from tests.unit.test_morph import filled, random_section

STATES = (500.0, 3e3, 20e3)


@pytest.fixture(autouse=True)
def _nothing_kept() -> Iterator[None]:
    starts.KEPT.clear()
    yield
    starts.KEPT.clear()


def models() -> list[FieldModel]:
    """Return sections that share one canonical section, the most common of those drawn."""
    drawn = [morphed_section(random_section(seed)) for seed in range(24)]
    by_base = [[mesh for mesh in drawn if mesh.base is base] for base in {id(m.base): m.base for m in drawn}.values()]
    return [build_model(mesh, filled) for mesh in max(by_base, key=len)[:6]]


def read(field: SolvedField) -> np.ndarray:
    cuts = cut_fluxes_per_m(field.model.fine, field.fine)
    return np.array([*both(field, "primary"), *both(field, "secondary"), *(cuts[k] for k in ("leg", "right"))])


@pytest.mark.parametrize("ampere_turns", STATES)
def test_order_changes_nothing_to_1e_10(ampere_turns: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cold, in turn and the other way round: the same flux and leakage, and fewer steps once the canonical is known."""
    met, state, first = models(), {"primary": ampere_turns}, starts.PAYS_AT
    assert len(met) > first
    forwards = [solve_model(model, state) for model in met]
    starts.KEPT.clear()
    backwards = [solve_model(model, state) for model in met[::-1]][::-1]
    monkeypatch.setattr(starts, "PAYS_AT", 10**9)
    cold = [solve_model(model, state) for model in met]
    for a, b, c in zip(forwards, backwards, cold, strict=True):
        assert read(a) == pytest.approx(read(c), rel=1e-10)
        assert read(b) == pytest.approx(read(c), rel=1e-10)
    late, without = ([s.coarse.steps + s.fine.steps for s in fields[first - 1 :]] for fields in (forwards, cold))
    assert max(late) < 0.75 * min(without)


def test_the_start_errs_by_the_square_of_the_distance(monkeypatch: pytest.MonkeyPatch) -> None:
    """First order in lengths and ampere-turns at once: half as far from the canonical state, a quarter of the error."""
    monkeypatch.setattr(starts, "PAYS_AT", 1)
    design = design_of("two-leg, leg gap")
    law_of, *_ = saturating_iron(sheet_of(design.core).curve, design.core.stacking_factor, design.core.joint)
    base = morphed_section(section_of(design.core, place(design.core, design.windings))).base
    assert base is not None
    middle, errors = starts.RATIO**34, []  # 1973 A, beyond the knee
    for share in (0.02, 0.01, 0.005):
        model = build_model(moved(base, stretched(base.section, share)), law_of)
        state = {"primary": middle * (1 + share)}
        solved = solve_model(model, state)
        start = starts.start_near(model, state)
        assert start is not None
        change = solved.fine.A - model.refine(solved.coarse.A)
        errors.append([np.linalg.norm(start.coarse - solved.coarse.A), np.linalg.norm(start.change - change)])
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all((rates > 1.9) & (rates < 2.1)), rates


def stretched(section: Section, share: float) -> Section:
    """Return a section with its lines apart by other distances, each changed by its own share of up to `share`."""
    found = edges(section)
    new = []
    for lines in (found.x, found.y):
        apart = np.diff(lines) * (1 + share * np.sin(np.arange(1, lines.size)))
        at = np.concatenate(([0.0], np.cumsum(apart)))
        new.append(dict(zip(lines.tolist(), (at - at[np.abs(lines).argmin()]).tolist(), strict=True)))
    x, y = new
    regions = tuple(replace(r, x0=x[r.x0], x1=x[r.x1], y0=y[r.y0], y1=y[r.y1]) for r in section.regions)
    x0, y0, x1, y1 = section.outline
    return replace(section, regions=regions, outline=(x[x0], y[y0], x[x1], y[y1]))


def test_no_start_where_there_is_nothing_to_start_from(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(starts, "PAYS_AT", 1)
    section = random_section(1)
    state = {"primary": 1e3}
    assert starts.start_near(build_model(mesh_section(section), filled), state) is None  # made for its section
    mesh = morphed_section(section)
    assert starts.start_near(build_model(mesh, linear_iron()), state) is None  # solved in one step anyway
    assert starts.start_near(build_model(mesh, filled), {"primary": 0.0}) is None
    model = build_model(mesh, filled)
    assert starts.start_near(model, state) is None  # the first
    solve_model(model, state)
    assert starts.start_near(model, state) is not None
