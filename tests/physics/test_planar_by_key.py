"""Derivatives of planar fields by the job file's lengths and by the steel: Taylor's theorem, and fields meshed anew.

Along any direction Q(h) - Q(0) - h dQ falls as h^2: to that every halving of h must show a rate of 2 when all fields
are solved to rounding. The varied sections come from the description validated anew, their meshes by moving.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron, saturating_iron
from fem.characteristics.leakage.planar import block_forces
from fem.characteristics.magnetising.by_key import planar_slopes
from fem.characteristics.magnetising.planar import Energised, SolvedCurve, read_curve
from fem.characteristics.magnetising.points import Node, Refined
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.field.static.error import relative_error, remaining_share
from fem.field.static.model import FieldModel, SolvedField, build_model
from fem.field.static.newton import solve
from fem.field.static.quantities import both, flux_linkage_per_m, response_to
from fem.field.static.shape import Adjoint, Moving
from fem.materials.bh import BHCurve
from geometries.assembly.by_key import by_key
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.assembly.morph import morphed_section, moved
from geometries.assembly.section_of import section_of
from geometries.assembly.velocity import Motion, motion
from geometries.shapes.section import Section
from geometries.windings.arrangement import place
from tests.support.every_kind import KINDS, design_of

TIGHT = 1e-12
OPPOSITE = {"primary": 1.0, "secondary": -1.0}
STEPS = 1e-4 / 2.0 ** np.arange(4)
FAST = ("leg gap", "interleaved", "two-leg, each")
EACH = [kind if kind in FAST else pytest.param(kind, marks=pytest.mark.slow) for kind in KINDS]
STATES = (300.0, 6000.0)
"""Ampere-turns [A] below and beyond the knee of these cores."""


def section_of_design(design: Design) -> Section:
    section = section_of(design.core, place(design.core, design.windings), shunt=design.fitted_shunt)
    return section.half() if section.mirror_symmetric else section


def model_of(design: Design, mesh: SectionMesh, curve: BHCurve | None = None) -> tuple[FieldModel, Energised]:
    core, sheet = design.core, sheet_of(design.core)
    law_of, iron, *_ = saturating_iron(curve or sheet.curve, core.stacking_factor, core.joint)
    winding = Energised(
        winding="primary",
        other="secondary",
        window_height=core.window_height,
        iron=iron,
        loss=sheet.loss,
        density=sheet.density,
    )
    return build_model(mesh, law_of), winding


def solved_at(model: FieldModel, of: Energised, near: SolvedCurve | None = None) -> SolvedCurve:
    """Solve the curve at two states alone, on both meshes, to rounding."""
    nodes, fields = [], []
    for k, F in enumerate(STATES):
        at = {"primary": F}
        start = None if near is None else near.refined.fields[k]
        low = solve(model.coarse.problem, at, start=None if start is None else start.coarse.A, tolerance=TIGHT)
        first = model.refine(low.A) if start is None else start.fine.A
        high = solve(model.fine.problem, at, start=first, tolerance=TIGHT)
        response = response_to(low, "primary")
        flux = flux_linkage_per_m(low, "primary")
        nodes.append(Node(low, F, flux, 0.0, response))
        fields.append(SolvedField(model=model, coarse=low, fine=high))
    ratio = np.array([f / c for c, f in (both(field, "primary") for field in fields)])
    return SolvedCurve(
        model=model,
        energised=of,
        nodes=nodes,
        refined=Refined(np.array(STATES), ratio, 0.0, tuple(range(len(STATES))), tuple(fields)),
    )


def numbers(solved: SolvedCurve) -> dict[str, np.ndarray]:
    """Read all that a planar curve tells."""
    curve = read_curve(solved)
    found = {name: getattr(curve, name) for name in ("flux", "hysteresis_loss", "eddy_loss")}
    return {**found, "other": curve.other_coarse_flux, **curve.flux_density}


def slopes(solved: SolvedCurve, mesh: SectionMesh, design: Design) -> Mapping[str, np.ndarray]:
    found = planar_slopes(solved, motion(mesh, by_key(design.core, design.windings, design.fitted_shunt)))
    assert found.torn == ()
    named = {name: getattr(found, name) for name in ("flux", "hysteresis_loss", "eddy_loss")}
    return {**named, "other": found.other_flux, **found.flux_density}


def given(design: Design) -> tuple[list[int], list[str], np.ndarray]:
    """Return numbers, keys and values of the lengths that the job gives."""
    found = by_key(design.core, design.windings, design.fitted_shunt)
    chosen = [
        (k, key, value)
        for k, (key, value) in enumerate(zip(found.keys, found.values, strict=True))
        if value and key.split(".")[-1] not in ("left", "right", "bottom", "end_clearance", "stack_depth")
        if not (key.endswith("leg_gap_position") and design.core.leg_gap_position is None)
        if getattr_by(design, key) is not None
    ]
    index, keys, values = zip(*chosen, strict=True)
    return list(index), list(keys), np.array(values)


def getattr_by(design: Design, key: str) -> object:
    found: object = design
    for name in key.split("."):
        found = getattr(found, name)
    return found


def varied(design: Design, keys: list[str], values: np.ndarray) -> Design:
    for key, value in zip(keys, values, strict=True):
        design = design.vary(key, float(value))
    return design


def assert_second_order(remainders: list[dict[str, np.ndarray]], sizes: Mapping[str, np.ndarray]) -> None:
    """Three halvings of the step quarter what remains, each time; where rounding is all that remains it is small."""
    for name, size in sizes.items():
        found = np.abs([r[name] for r in remainders])
        seen = found[-1] > 1e-11 * np.abs(size).max()
        rates = np.log2(found[:-1, seen] / found[1:, seen])
        assert np.all((rates > 1.9) & (rates < 2.1)), (name, rates)
        assert np.all(found[0, ~seen] < 1e-8 * np.abs(size).max()), name


@pytest.mark.parametrize("kind", EACH)
def test_taylor_of_the_curve_by_all_lengths_at_once(kind: str) -> None:
    design = design_of(kind)
    mesh = morphed_section(section_of_design(design))
    solved = solved_at(*model_of(design, mesh))
    at, by = numbers(solved), slopes(solved, mesh, design)
    index, keys, values = given(design)
    direction = values * np.random.default_rng(len(kind)).uniform(-1, 1, values.size)
    remainders = []
    for h in STEPS:
        there = varied(design, keys, values + h * direction)
        model, of = model_of(there, moved(mesh, section_of_design(there)))
        found = numbers(solved_at(model, of, near=solved))
        remainders.append({n: found[n] - at[n] - h * by[n][:, index] @ direction for n in found})
    assert_second_order(remainders, at)


def leakage_numbers(model: FieldModel) -> tuple[SolvedField, dict[str, np.ndarray]]:
    first, second = (
        solve(problem, OPPOSITE, tolerance=TIGHT) for problem in (model.coarse.problem, model.fine.problem)
    )
    field = SolvedField(model=model, coarse=first, fine=second)
    flux = {name: np.array(both(field, name)[1]) for name in OPPOSITE}
    found = {"permeance": flux["primary"] - flux["secondary"], **flux}
    return field, found


def leakage_slopes(field: SolvedField, move: Motion) -> dict[str, np.ndarray]:
    """Return the derivatives of both windings' flux at opposite ampere-turns, and of their difference (keys,)."""
    model = field.model
    adjoint = Adjoint(Moving(model.fine, model.shape.fine_points(move.vertices)), field.fine)
    flux = dict(zip(OPPOSITE, adjoint.by_key([adjoint.linkage(name) for name in OPPOSITE]), strict=True))
    return {"permeance": flux["primary"] - flux["secondary"], **flux}


@pytest.mark.parametrize("kind", EACH)
def test_taylor_of_leakage_by_all_lengths_at_once(kind: str) -> None:
    design = design_of(kind)
    mesh = morphed_section(section_of_design(design))
    field, at = leakage_numbers(build_model(mesh, linear_iron()))
    move = motion(mesh, by_key(design.core, design.windings, design.fitted_shunt))
    by = leakage_slopes(field, move)
    index, keys, values = given(design)
    direction = values * np.random.default_rng(len(kind)).uniform(-1, 1, values.size)
    remainders = []
    for h in STEPS * 10:
        there = varied(design, keys, values + h * direction)
        _, found = leakage_numbers(build_model(moved(mesh, section_of_design(there)), linear_iron()))
        remainders.append({n: found[n] - at[n] - h * by[n][..., index] @ direction for n in found})
    assert_second_order(remainders, at)


@pytest.mark.parametrize("kind", ["leg gap", pytest.param("shell", marks=pytest.mark.slow)])
def test_taylor_by_the_steel(kind: str) -> None:
    """Stacking factor and every row of the table at once; interleaved joints are bridged by half the sheets."""
    design = design_of(kind).vary("core.steel", "M800-65A")
    mesh, curve = morphed_section(section_of_design(design)), sheet_of(design.core).curve
    solved = solved_at(*model_of(design, mesh))
    found = planar_slopes(solved, motion(mesh, by_key(design.core, design.windings)), curve)
    rng = np.random.default_rng(1)
    rows, stack = curve.B * rng.uniform(-1, 1, curve.B.size), 0.95 * rng.uniform(-1, 1)
    slope = found.flux_by_table @ rows[1:] + found.flux_by_stacking_factor * stack
    remainders = []
    for h in STEPS:
        there = design.vary("core.stacking_factor", 0.95 + h * stack)
        other = replace(curve, B=curve.B + h * rows)
        flux = read_curve(solved_at(*model_of(there, mesh, other), near=solved)).flux
        remainders.append({"flux": flux - read_curve(solved).flux - h * slope})
    assert_second_order(remainders, {"flux": read_curve(solved).flux})


def with_doubts(fields: Sequence[SolvedField], opposite: SolvedField) -> tuple[np.ndarray, np.ndarray]:
    """Return flux at both states and leakage permeance, and what the estimate lets each be wrong by."""
    low, high = (
        flux_linkage_per_m(s, "primary") - flux_linkage_per_m(s, "secondary") for s in (opposite.coarse, opposite.fine)
    )
    pairs = np.array([*(both(field, "primary") for field in fields), (low, high)])
    shares = np.array([remaining_share(field) for field in (*fields, opposite)])
    return pairs[:, 1], relative_error(pairs[:, 0], pairs[:, 1], shares) * np.abs(pairs[:, 1])


REMESHED = [
    ("shell", "core.window_height"),
    ("leg gap", "core.leg_gap"),
    ("two-leg", "core.leg_width"),
    ("shunts", "shunt.total_gap"),
    ("interleaved", "windings.secondary.build"),
]


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "key"), REMESHED)
def test_against_sections_meshed_and_solved_anew(kind: str, key: str) -> None:
    """Central differences of fields a level finer, each on a mesh of its own.

    Their quotient errs by both fields' estimated errors over the step, and by what it changes by from one step to the
    double one, over 3, for the third derivative. The slope errs as the field's estimated error varies along the length:
    by twice that error over the length where it goes with its square.
    """
    design = design_of(kind)
    mesh = morphed_section(section_of_design(design))
    described = by_key(design.core, design.windings, design.fitted_shunt)
    k = described.keys.index(key)
    value = described.values[k]
    solved = solved_at(*model_of(design, mesh))
    opposite, _ = leakage_numbers(build_model(mesh, linear_iron()))
    move = motion(mesh, described)
    ours = np.array([*planar_slopes(solved, move).flux[:, k], leakage_slopes(opposite, move)["permeance"][k]])
    at, doubt = with_doubts(solved.refined.fields, opposite)
    quotients, errors = [], []
    for step in (0.04 * value, 0.08 * value):
        sides = []
        for sign in (1, -1):
            there = design.vary(key, value + sign * step)
            model, of = model_of(there, mesh_section(section_of_design(there), level=1))
            field, _ = leakage_numbers(build_model(model.mesh, linear_iron()))
            sides.append(with_doubts(solved_at(model, of).refined.fields, field))
        quotients.append((sides[0][0] - sides[1][0]) / (2 * step))
        errors.append((sides[0][1] + sides[1][1]) / (2 * step))
    allowed = errors[0] + np.abs(quotients[1] - quotients[0]) / 3 + 2 * doubt / value
    assert np.all(np.abs(ours - quotients[0]) < allowed), (ours, quotients, allowed)
    assert np.all(allowed < 0.05 * at / value), allowed * value / at


def test_forces_are_what_the_field_s_energy_says() -> None:
    """Virtual work: with currents held, force per metre along y = d(coenergy)/dy = P' / 2 per squared ampere-turn.

    Moving the upper coil alone changes the permeance by two of its sides' forces. The planar force is J x B.
    """
    design = design_of("shell").vary("windings.secondary.bottom", "31 mm")
    mesh = morphed_section(section_of_design(design))
    field, _ = leakage_numbers(build_model(mesh, linear_iron()))
    move = motion(mesh, by_key(design.core, design.windings))
    by_lift = leakage_slopes(field, move)["permeance"][move.keys.index("windings.secondary.bottom")]
    forces = block_forces(field, senses=(("primary", 1), ("secondary", -1)))
    along = {force.coil: force.along_per_m for force in forces}
    assert by_lift / 2 == pytest.approx(2 * along["secondary"], rel=2e-3)


def test_edges_that_meet_by_chance_part_as_their_keys_do() -> None:
    """Coils of one build: their outer edges are one line of the mesh, and each moves alone.

    A little to either side the lines are two and the mesh another: the mean of the slopes there, which differs by the
    square of 2 % from that between, agrees within the mesh's error, some 1e-3 of a slope.
    """
    design = design_of("shell")
    found = []
    for secondary in ("14.7 mm", "15 mm", "15.3 mm"):
        near = design.vary("windings.secondary.build", secondary)
        mesh = morphed_section(section_of_design(near))
        field, _ = leakage_numbers(build_model(mesh, linear_iron()))
        found.append(leakage_slopes(field, motion(mesh, by_key(near.core, near.windings)))["permeance"])
    keys = by_key(design.core, design.windings).keys
    for k in (keys.index(f"windings.{name}.build") for name in ("primary", "secondary")):
        assert found[1][k] == pytest.approx((found[0][k] + found[2][k]) / 2, rel=2e-3)


def test_what_no_mesh_follows_is_said() -> None:
    """Coils that touch share corners: growing one of them would tear the mesh."""
    design = design_of("shell").vary("windings.secondary.build", "15 mm").vary("windings.spacing", "0 mm")
    mesh = morphed_section(section_of_design(design))
    move = motion(mesh, by_key(design.core, design.windings))
    torn = {"windings.primary.build", "windings.secondary.build"}
    assert set(move.torn) >= torn
    assert np.isnan(move.vertices[..., [move.keys.index(key) for key in torn]]).all()
    assert "core.leg_width" not in move.torn
