"""Fields and columns that an estimate writes, read back."""

import csv
from math import sqrt
from xml.etree import ElementTree

import meshio
import numpy as np
import pytest

from fem import Part, estimate, example_design
from fem.constants import MU0
from fem.report.files.vtu import FILES, INSTANTS, write_fields
from tests.support.kept import KEPT


@pytest.fixture(scope="module")
def found():
    return estimate(example_design(), wanted={Part.PICTURES, Part.CONDUCTOR_SLICE}, characteristics=KEPT)


@pytest.fixture(scope="module")
def folder(found, tmp_path_factory):
    folder = tmp_path_factory.mktemp("fields")
    written = write_fields(found, folder)
    assert {path.name for path in folder.iterdir()} == {path.name for path in written} <= set(FILES)
    return folder


def cells(mesh):
    """Return triangles (m, 6) and their areas (m,) [m2]."""
    (block,) = mesh.cells
    x, y, _ = mesh.points[block.data[:, :3]].transpose(2, 1, 0)
    return block.data, 0.5 * np.abs((x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0]))


def data(mesh, name):
    return mesh.cell_data[name][0]


def rows(file):
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_currents_and_materials_are_those_of_the_regions(found, folder):
    mesh = meshio.read(folder / "no_load.vtu")
    _, areas = cells(mesh)
    ((_, driven),) = found.drawn.idle_field.fine.ampere_turns.items()
    regions, region = rows(folder / "regions.csv"), data(mesh, "region")
    for k, row in enumerate(regions):
        flows = float(data(mesh, "J_A_per_m2")[region == k] @ areas[region == k])
        wound = row["winding"] == "primary"
        assert flows == pytest.approx(float(row["sense"]) * float(row["share_of_turns"]) * driven if wound else 0.0)
    iron = np.isin(region, [k for k, row in enumerate(regions) if row["role"] == "iron"])
    assert data(mesh, "mu_r")[~iron] == pytest.approx(1.0)  # butt joints of air too
    assert data(mesh, "mu_r")[iron].min() > 10
    B, H = (np.linalg.norm(data(mesh, name), axis=1) for name in ("B_T", "H_A_per_m"))
    assert pytest.approx(MU0 * data(mesh, "mu_r") * H) == B


def test_core_loss_adds_up_to_that_of_the_estimate(found, folder):
    # one point a triangle against the three of the curve, and the peak's end part, that lies outside the plane
    mesh = meshio.read(folder / "no_load.vtu")
    _, areas = cells(mesh)
    copies = 2 if found.drawn.idle_field.model.mesh.section.halved else 1
    whole = copies * found.drawn.core.stack_depth * float(data(mesh, "core_loss_W_per_m3") @ areas)
    assert whole == pytest.approx(found.idle.core_loss, rel=0.02)


def test_the_energy_with_lead_ends_joined_is_that_of_its_leakage(found, folder):
    # of linear iron W = 1/2 int J A dA; J is even, and A quadratic: its mean is that of the middles of its sides, exact
    mesh = meshio.read(folder / "leads_joined.vtu")
    triangles, areas = cells(mesh)
    mean = mesh.point_data["A_Wb_per_m"][triangles[:, 3:]].mean(axis=1)
    copies = 2 if found.drawn.leakage_field.model.mesh.section.halved else 1
    energy = 0.5 * copies * float((data(mesh, "J_A_per_m2") * mean) @ areas)
    driven = sqrt(2) * found.short_circuit.secondary_current_rms * found.build.secondary.turns
    field = found.drawn.leakage_field
    per_m = field.fine.problem.energy_per_m(field.fine.A)
    assert energy == pytest.approx(per_m * driven**2, rel=1e-9)


def test_alternating_loss_and_currents_add_up(found, folder):
    mesh, field = meshio.read(folder / "leads_joined_ac.vtu"), found.drawn.ac_slice.field
    _, areas = cells(mesh)
    driven = found.short_circuit.secondary_current_rms * found.build.secondary.turns
    loss = field.problem.copies * float(data(mesh, "copper_loss_W_per_m3") @ areas)
    assert loss == pytest.approx(driven**2 * field.complex_power_per_m.real, rel=1e-6)
    regions, region = rows(folder / "leads_joined_ac_regions.csv"), data(mesh, "region")
    secondary = np.isin(region, [k for k, row in enumerate(regions) if row["winding"] == "secondary"])
    flows = np.array([data(mesh, f"J_{part}_A_per_m2")[secondary] @ areas[secondary] for part in ("real", "imaginary")])
    assert np.hypot(*flows) == pytest.approx(driven, rel=1e-6)


def test_a_period_without_load_swings_through_its_peak_and_back(found, folder):
    files = [each.attrib for each in ElementTree.parse(folder / "no_load_period.pvd").iter("DataSet")]
    assert len(files) == INSTANTS
    times = np.array([float(each["timestep"]) for each in files])
    assert np.diff(times) == pytest.approx(1 / found.design.mains.frequency / INSTANTS, rel=0.1)
    fields = [meshio.read(folder / each["file"]) for each in files]
    A = np.array([mesh.point_data["A_Wb_per_m"] for mesh in fields])
    largest = np.abs(A).max()
    # half-wave symmetry; solved to a residual of 1e-6 or better
    assert A[: INSTANTS // 2] + A[INSTANTS // 2 :] == pytest.approx(0.0, abs=1e-4 * largest)
    peak = meshio.read(folder / "no_load.vtu").point_data["A_Wb_per_m"]
    assert np.abs(A).max() <= np.abs(peak).max() * (1 + 1e-4)
    assert np.abs(A).max() >= np.abs(peak).max() * np.cos(np.pi / INSTANTS)  # the nearest instant of a sine


def test_columns_have_their_units_and_the_numbers_of_the_estimate(found, folder):
    period = rows(folder / "no_load_period.csv")
    current = np.array([float(row["current_A"]) for row in period])
    assert np.sqrt(np.mean(current**2)) == pytest.approx(found.idle.current_rms, rel=1e-3)
    curve = rows(folder / "magnetisation.csv")
    assert [*curve[0]] == ["ampere_turns_A", "flux_per_turn_Wb", "flux_density_T"]
    assert len(curve) == len(found.drawn.ampere_turns)
