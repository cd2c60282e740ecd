"""Fields of an estimate's states for a viewer of finite-element results: binary VTU on quadratic triangles.

Point data of static fields is `A_Wb_per_m`. Cell data, at a triangle's centre: `B_T` averaged over sheet and
insulation, `H_A_per_m`, `J_A_per_m2` out of the page, `mu_r` = |B| / (mu_0 |H|), `region` (its row in `regions.csv`, -1
in the air between), and at the no-load peak `core_loss_W_per_m3`, the sheet's loss at the peak there. An a.c. field has
r.m.s. phasors, real and imaginary, and the mean `copper_loss_W_per_m3`. A core that is the same on both sides is its
right half.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from math import sqrt
from pathlib import Path
from typing import Any

import meshio
import numpy as np
from numpy.typing import NDArray

from fem.arrays import Complexes, Floats, Integers
from fem.constants import MU0
from fem.design.sheet import sheet_of
from fem.estimation.inputs.circuit import built_loss
from fem.estimation.result import Estimate
from fem.field.harmonic.problem import HarmonicField
from fem.field.static.force import flux_density_components
from fem.field.static.model import SolvedField, solve_both
from fem.field.static.space import Geometry, Space, node_locations
from fem.materials.mixture import Reluctivity
from fem.report.files.columns import columns_of, columns_text
from fem.report.files.whole import replacing, write_text
from geometries.shapes.section import Region, Role, Section

INSTANTS = 24
"""Of a period."""
_PERIOD = tuple(f"no_load_period_{place:02d}.vtu" for place in range(INSTANTS))
FILES = (
    *("no_load.vtu", *_PERIOD, "no_load_period.pvd", "leads_joined.vtu", "leads_joined_ac.vtu"),
    *("regions.csv", "leads_joined_ac_regions.csv"),
    *("magnetisation.csv", "no_load_period.csv", "burst_work.csv", "burst_machine.csv"),
)
"""All that `write_fields` may write."""


def write_vtu(estimate: Estimate, path: str | Path) -> None:
    """Write the field without load, at its peak.

    Parameters
    ----------
    estimate
        With its pictures.
    path
        File to write.

    Raises
    ------
    OSError
        If the file cannot be written.
    ValueError
        If the estimate keeps no pictures.
    """
    field = estimate.drawn.idle_field
    mesh = _static(field, 1.0)
    mesh.cell_data["core_loss_W_per_m3"] = [_core_loss(estimate, field)]
    _write(mesh, path)


def write_fields(estimate: Estimate, folder: str | Path) -> tuple[Path, ...]:
    """Write the fields of all states there are, and curves, waves and temperatures as columns, into a folder.

    Parameters
    ----------
    estimate
        With its pictures.
    folder
        Made where it is not there.

    Returns
    -------
    tuple of Path
        `no_load.vtu` at the peak, and `no_load_period.pvd`, the fields over a period; `leads_joined.vtu`, the leakage
        at the peak of blocks with even currents; `leads_joined_ac.vtu`, that of single conductors, where it was
        solved; what their regions are; and the files of `columns_of`.

    Raises
    ------
    OSError
        If a file cannot be written.
    NotConverged
        If a field of the period is not found.
    ValueError
        If the estimate keeps no pictures.
    """
    folder, pictures = Path(folder), estimate.drawn
    folder.mkdir(parents=True, exist_ok=True)
    write_vtu(estimate, folder / "no_load.vtu")
    moments = {}
    for name, (time, field, sign) in zip(_PERIOD, _over_a_period(estimate), strict=False):
        _write(_static(field, sign), folder / name)
        moments[time] = name
    joined = estimate.short_circuit.secondary_current_rms * estimate.build.secondary.turns
    _write(_static(pictures.leakage_field, sqrt(2) * joined), folder / "leads_joined.vtu")
    texts = {name: columns_text(columns) for name, columns in columns_of(estimate).items()}
    texts["regions.csv"] = _regions(pictures.idle_field.model.mesh.section)
    written = ["no_load.vtu", *moments.values(), "leads_joined.vtu"]
    if moments:
        texts["no_load_period.pvd"] = _collection(moments)
    if (ac := pictures.ac_slice) is not None:
        _write(_harmonic(ac.field, ac.mesh.region, joined), folder / "leads_joined_ac.vtu")
        written.append("leads_joined_ac.vtu")
        texts["leads_joined_ac_regions.csv"] = _regions(ac.mesh.section)
    for name, text in texts.items():
        write_text(folder / name, text)
    return tuple(folder / name for name in (*written, *texts))


def _write(mesh: meshio.Mesh, path: str | Path) -> None:
    with replacing(path) as stream:
        # it opens files by their name only
        meshio.write(stream.name, mesh, file_format="vtu", binary=True)


def _mesh(
    space: Space, geometry: Geometry, A: Mapping[str, Floats], cells: Mapping[str, Floats | Integers]
) -> meshio.Mesh:
    x, y = node_locations(space, geometry)
    return meshio.Mesh(
        np.column_stack((x, y, np.zeros_like(x))),
        [("triangle6", space.element_dofs.T)],
        point_data=dict(A),
        cell_data={name: [values] for name, values in cells.items()},
    )


def _at_centres(space: Space, geometry: Geometry, A: NDArray[Any]) -> NDArray[Any]:
    """Return Bx and By at the centres (2, m) [T]: they are linear, so the means of the quadrature points."""
    return np.asarray(flux_density_components(space, geometry, A).mean(axis=1))


def _in_plane(xy: Floats) -> Floats:
    return np.column_stack((*xy, np.zeros_like(xy[0])))


def _static(field: SolvedField, factor: float) -> meshio.Mesh:
    """Return a field, A, B, H and J times a factor: of linear iron at another current, or of the other half period."""
    grid = field.model.fine
    problem = grid.problem
    B = _at_centres(problem.space, problem.geometry, field.fine.A)
    nu = problem.reluctivity(np.sum(B**2, axis=0)[None])[0][0]
    J = _current_density(grid.regions, grid.region, problem.geometry, field.fine.ampere_turns)
    return _mesh(
        problem.space,
        problem.geometry,
        {"A_Wb_per_m": factor * field.fine.A},
        {
            "B_T": factor * _in_plane(B),
            "H_A_per_m": factor * _in_plane(nu * B),
            "J_A_per_m2": factor * J,
            "mu_r": 1 / (MU0 * nu),
            "region": grid.region,
        },
    )


def _current_density(
    regions: tuple[Region, ...], region: Integers, geometry: Geometry, ampere_turns: Mapping[str, float]
) -> Floats:
    J = np.zeros(len(region))
    for index, r in enumerate(regions):
        if r.role is Role.CONDUCTOR and r.winding is not None:
            inside = region == index
            area = 0.5 * float(geometry.determinant[inside].sum())
            J[inside] = ampere_turns.get(r.winding, 0.0) * r.sense * r.share / area
    return J


def _core_loss(estimate: Estimate, field: SolvedField) -> Floats:
    """Return the loss density of laminated iron, over sheet and insulation (elements,) [W/m3], at this field's peak."""
    design = estimate.design
    grid = field.model.fine
    b = np.hypot(*_at_centres(grid.problem.space, grid.problem.geometry, field.fine.A))
    loss = np.zeros(len(b))
    if design is None:
        return loss
    sheet, frequency = sheet_of(design.core, design.fitted_shunt), design.mains.frequency
    for elements, law in grid.problem.laws:
        if isinstance(law, Reluctivity):
            iron = law.iron_flux_density(b[elements])
            filled = sheet.density * law.iron_fraction * built_loss(design)
            loss[elements] = filled * sheet.loss.specific(iron, frequency)
    return loss


def _over_a_period(estimate: Estimate) -> Iterator[tuple[float, SolvedField, float]]:
    """Yield instants [s] of a period without load, each with a field and the sign to take it with."""
    pictures = estimate.drawn
    (winding,) = pictures.idle_field.fine.ampere_turns
    if pictures.flux is None:
        return
    places = np.linspace(0, len(pictures.time), INSTANTS, endpoint=False).astype(int)
    flux = pictures.flux[places]
    drive = np.interp(np.abs(flux), pictures.flux_per_turn, pictures.ampere_turns)
    order = np.argsort(-drive, kind="stable")  # a step from one to the next
    points = [{winding: float(max(drive[place], 1e-6 * drive.max()))} for place in order]
    fields = dict(zip(order.tolist(), solve_both(pictures.idle_field.model, points, [None] * len(points)), strict=True))
    for index, place in enumerate(places):
        yield float(pictures.time[place]), fields[index], float(np.sign(flux[index]) or 1.0)


def _collection(moments: Mapping[float, str]) -> str:
    """Return a collection of files over time, as VTK's XML formats have it."""
    rows = [f'    <DataSet timestep="{time:.9g}" part="0" file="{name}"/>' for time, name in moments.items()]
    head = '<?xml version="1.0"?>\n<VTKFile type="Collection" version="0.1" byte_order="LittleEndian">\n  <Collection>'
    return "\n".join([head, *rows, "  </Collection>", "</VTKFile>", ""])


def _harmonic(field: HarmonicField, region: Integers, current: float) -> meshio.Mesh:
    """Return an a.c. field at so many ampere-turns, r.m.s."""
    problem, A, J = field.problem, current * field.A, current * _phasors_of_current(field)
    B = _at_centres(problem.space, problem.geometry, A)
    points: dict[str, Floats] = {}
    cells: dict[str, Floats | Integers] = {}
    for name, part in (("real", np.real), ("imaginary", np.imag)):
        points[f"A_{name}_Wb_per_m"] = part(A)
        cells[f"B_{name}_T"] = _in_plane(part(B))
        cells[f"H_{name}_A_per_m"] = _in_plane(problem.reluctivity * part(B))
        cells[f"J_{name}_A_per_m2"] = part(J)
    cells |= {"mu_r": 1 / (MU0 * problem.reluctivity), "copper_loss_W_per_m3": current**2 * field.loss_density()}
    return _mesh(problem.space, problem.geometry, points, {**cells, "region": region})


def _phasors_of_current(field: HarmonicField) -> Complexes:
    """Return the mean current density of each element (m,) [A/m2], see `HarmonicField`."""
    problem, J = field.problem, np.zeros(field.problem.space.elements, dtype=np.complex128)
    for solid, drop in zip(problem.solid.values(), field.drops, strict=True):
        mean = field.A[problem.space.element_dofs[3:, solid.elements]].mean(axis=0)  # of a quadratic: that of its sides
        J[solid.elements] += solid.conductivity * (drop - 2j * np.pi * field.frequency * mean)
    for winding, amperes in zip(problem.stranded.values(), field.currents[len(problem.solid) :], strict=True):
        for elements, sense in winding.parts:
            J[elements] += sense * amperes / (0.5 * float(problem.geometry.determinant[elements].sum()))
    return J


def _regions(section: Section) -> str:
    """Return what the numbers of regions mean, as CSV."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("region", "name", "role", "winding", "coil", "sense", "share_of_turns"))
    rows.writerows(
        (k, r.name, r.role.value, r.winding or "", r.coil or "", r.sense, r.share if r.sense else "")
        for k, r in enumerate(section.regions)
    )
    return text.getvalue()
