"""Time-harmonic fields: power balance, limits, rates, symmetry, conductors in parallel, refusals."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from skfem import MeshTri

from fem.constants import MU0
from fem.field.harmonic.model import StrandedRegions, harmonic_problem, region_reluctivity, skin_sizes
from fem.field.harmonic.paths import join
from fem.field.harmonic.problem import HarmonicResponse, skin_depth
from fem.field.harmonic.solve import respond
from fem.field.static.model import build_model, solve_model
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.harmonic import COPPER, bar, disc, losses_per_m, slot, solid_problem

F = 50.0
DEPTH = skin_depth(COPPER, F)


def mixed() -> HarmonicResponse:
    """A solid bar, a solid round wire and a stranded block, none symmetric to another."""
    section = Section(
        regions=(
            bar("bar", -20e-3, 0, -12e-3, 18e-3),
            disc("wire", 0, 5e-3, 6e-3),
            bar("block", 10e-3, 0, 18e-3, 10e-3),
        ),
        outline=(-0.1, -0.1, 0.1, 0.1),
    )
    block = {"block": StrandedRegions(regions=("block",), conductivity=0.5 * COPPER)}
    return respond(solid_problem(section, F, stranded=block), F)


@pytest.fixture(scope="module")
def response() -> HarmonicResponse:
    return mixed()


def test_power_is_balanced(response: HarmonicResponse) -> None:
    """V I* = loss + 2 j omega energy for any currents: exact in the discrete field too, so to rounding."""
    field = response.at({"bar": 3.0, "wire": -1.0 + 2.0j, "block": 0.5j})
    power = field.complex_power_per_m
    assert sum(losses_per_m(field).values()) == pytest.approx(power.real, rel=1e-9)
    assert 2 * response.angular_frequency * field.energy_per_m() == pytest.approx(power.imag, rel=1e-9)
    det = response.problem.geometry.determinant
    assert 0.5 * field.loss_density() @ det == pytest.approx(power.real, rel=1e-9)


def test_impedance_is_symmetric_and_passive(response: HarmonicResponse) -> None:
    Z = response.impedance_per_m
    np.testing.assert_allclose(Z, Z.T, rtol=0, atol=1e-10 * abs(Z).max())
    assert np.linalg.eigvalsh(Z.real).min() > 0
    assert np.linalg.eigvalsh(Z.imag).min() > 0


def test_an_open_conductor_carries_eddy_currents_only(response: HarmonicResponse) -> None:
    losses = losses_per_m(response.at({"bar": 1.0}))
    assert 0 < losses["wire"] < losses["bar"]
    assert losses["block"] == 0


def test_no_current_no_field(response: HarmonicResponse) -> None:
    field = response.at({})
    assert not field.A.any()
    assert not field.loss_density().any()


def test_low_frequency_tends_to_direct_current() -> None:
    """The excess of the resistance goes with the square of the frequency: halved, a quarter, to (h/depth)^4 = 2 %."""
    section, mouth = slot(1, 0.3 * DEPTH, 5e-3)
    problem = solid_problem(section, F, fixed=mouth)
    direct = 1 / (COPPER * 0.3 * DEPTH * 5e-3)
    first, second = (respond(problem, f).impedance_per_m[0, 0].real / direct - 1 for f in (F, F / 2))
    assert first / second == pytest.approx(4, rel=0.3**4)
    assert first > 0


def test_a_thin_solid_conductor_is_a_stranded_one() -> None:
    section = Section(
        regions=(disc("go", 1e-3, 0, 0.5e-3), disc("back", -1e-3, 0, 0.5e-3)), outline=(-1e-2,) * 2 + (1e-2,) * 2
    )
    solid = respond(solid_problem(section, F), F)
    stranded = {name: StrandedRegions(regions=(name,), conductivity=COPPER) for name in ("go", "back")}
    even = respond(solid_problem(section, F, stranded=stranded), F)
    # Half a millimetre is 1/19 of the skin depth: what differs is of the order of its fourth power, 1e-5.
    np.testing.assert_allclose(solid.impedance_per_m, even.impedance_per_m, rtol=1e-5)


def test_rate_of_convergence() -> None:
    """The impedance is stationary in the field: quadratic elements, so fourth order in their size."""
    height, width = 2 * DEPTH, DEPTH
    k = (1 + 1j) / DEPTH
    exact = k * height / np.tanh(k * height) / (COPPER * height * width)
    section, mouth = slot(1, height, width)
    mesh = mesh_section(section, sizes={"bar 0": DEPTH})
    errors = []
    for _ in range(3):
        Z = respond(harmonic_problem(mesh, solid={"bar 0": COPPER}, stranded={}, fixed=mouth), F).impedance_per_m[0, 0]
        errors.append(abs(Z / exact - 1))
        finer = _halved(mesh.points, mesh.triangles)
        mesh = replace(mesh, points=finer[0], triangles=finer[1], region=np.tile(mesh.region, 4))
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(rates > 3.7)


def _halved(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    fine = MeshTri(points, triangles).refined()
    return fine.p, fine.t.astype(np.int64)


def test_half_a_section_is_the_whole() -> None:
    whole = Section(
        regions=(disc("go", 12e-3, 0, 8e-3), disc("go'", -12e-3, 0, 8e-3, sense=-1)), outline=(-0.1, -0.1, 0.1, 0.1)
    )
    regions = tuple(replace(r, winding="loop") for r in whole.regions)
    whole = replace(whole, regions=regions)
    half = respond(solid_problem(whole.half(), F), F).impedance_per_m[0, 0]
    both = respond(solid_problem(whole, F), F)
    loop = join(both, {"loop": ({"go": 1.0, "go'": -1.0},)}).impedance_per_m[0, 0]
    # Two meshes of the same fineness: each is within 1e-4 of the exact round wires' (tests/published).
    assert abs(half / loop - 1) < 2e-4


def test_two_layers_in_parallel_share_as_their_impedances_tell() -> None:
    """Two stranded bars in a slot: self and mutual permeances h/3b + (g + h)/b, h/3b, h/2b (tests/published)."""
    height, gap, width = 12e-3, 3e-3, 10e-3
    section, mouth = slot(2, height, width, gap)
    stranded = {name: StrandedRegions(regions=(name,), conductivity=COPPER) for name in ("bar 0", "bar 1")}
    response = respond(solid_problem(section, F, stranded=stranded, fixed=mouth), F)
    permeance = MU0 * np.array([[1.9, 0.6], [0.6, 0.4]])
    Z = np.eye(2) / (COPPER * height * width) + 2j * pi * F * permeance
    np.testing.assert_allclose(response.impedance_per_m, Z, rtol=1e-8)
    joined = join(response, {"w": ({"bar 0": 1.0}, {"bar 1": 1.0})})
    split = np.linalg.solve(Z, np.ones(2))
    np.testing.assert_allclose(joined.currents[:, 0], split / split.sum(), rtol=1e-8)
    assert joined.impedance_per_m[0, 0] == pytest.approx(1 / split.sum(), rel=1e-8)
    # Transposed: both carry a half, whatever their places.
    even = join(response, {"w": ({"bar 0": 0.5, "bar 1": 0.5},)})
    np.testing.assert_allclose(even.currents[:, 0], 0.5, rtol=1e-12)
    assert even.impedance_per_m[0, 0] == pytest.approx(Z.sum() / 4, rel=1e-8)


def iron_and_coils() -> Section:
    coils = (bar("a", 12e-3, 0, 16e-3, 20e-3), bar("b", 18e-3, 0, 22e-3, 20e-3))
    leg = Region(name="leg", role=Role.IRON, x0=-10e-3, y0=-10e-3, x1=10e-3, y1=30e-3)
    return Section(regions=(leg, *coils), outline=(-0.05, -0.05, 0.08, 0.08))


def test_stranded_windings_see_the_static_field() -> None:
    """Without solid conductors A is in phase: the permeance is the static one on that mesh, to the solvers' 1e-8."""
    mesh = mesh_section(iron_and_coils())
    law = Reluctivity.linear(500.0)
    model = build_model(mesh, lambda r: law if r.role is Role.IRON else None)
    grid, currents = model.coarse, {"a": 1.0, "b": -1.0}
    static = solve_model(model, currents).coarse
    nu = region_reluctivity(mesh, 500.0)
    stranded = {name: StrandedRegions(regions=(name,), conductivity=COPPER) for name in currents}
    field = respond(harmonic_problem(mesh, solid={}, stranded=stranded, reluctivity=nu), F).at(currents)
    np.testing.assert_allclose(field.A, static.A, rtol=0, atol=1e-7 * abs(static.A).max())
    linked = grid.problem.load(currents) @ static.A
    assert field.complex_power_per_m.imag / (2 * pi * F) == pytest.approx(linked, rel=1e-7)


def test_coarse_mesh_is_refused() -> None:
    section, mouth = slot(1, 60e-3, 60e-3)
    mesh = mesh_section(section)
    problem = harmonic_problem(mesh, solid={"bar 0": COPPER}, stranded={}, fixed=mouth)
    respond(problem, 1.0)
    with pytest.raises(ValueError, match=r"bar 0: elements of .* mm cannot follow a skin depth of 0\.9"):
        respond(problem, 5000.0)


def test_endless_mesh_is_refused() -> None:
    section, _ = slot(2, 50e-3, 50e-3)
    with pytest.raises(
        ValueError, match=r"at 1e\+06 Hz takes about .* elements in 2 solid conductors \(largest: bar 0"
    ):
        skin_sizes(section, {"bar 0": COPPER, "bar 1": COPPER}, 1e6)


def test_what_cannot_be_solved_is_refused(response: HarmonicResponse) -> None:
    problem, mesh = response.problem, mesh_section(iron_and_coils())
    with pytest.raises(ValueError, match="frequency must be above 0, got 0"):
        respond(problem, 0.0)
    with pytest.raises(ValueError, match="no conductor"):
        replace(problem, solid={}, stranded={})
    with pytest.raises(ValueError, match=r"conductivity of \w+ must be above 0, got -1"):
        replace(problem, solid={"bar": replace(problem.solid["bar"], conductivity=-1.0)})
    with pytest.raises(ValueError, match="both solid and stranded"):
        replace(problem, stranded={"bar": problem.stranded["block"]})
    with pytest.raises(ValueError, match="reluctivities"):
        replace(problem, reluctivity=-problem.reluctivity)
    with pytest.raises(ValueError, match="no conductor called"):
        response.at({"rod": 1.0})
    with pytest.raises(ValueError, match="expected 3 currents"):
        response.at(np.ones(2, dtype=np.complex128))
    with pytest.raises(ValueError, match="no region called"):
        harmonic_problem(mesh, solid={"c": COPPER}, stranded={})
    with pytest.raises(ValueError, match="without a sense"):
        harmonic_problem(mesh, solid={}, stranded={"x": StrandedRegions(regions=("leg",), conductivity=1.0)})
    with pytest.raises(ValueError, match="does not have"):
        skin_sizes(iron_and_coils(), {"c": COPPER}, F)
    with pytest.raises(ValueError, match="no path"):
        join(response, {"w": ()})
    with pytest.raises(ValueError, match="no conductor called"):
        join(response, {"w": ({"rod": 1.0},)})
