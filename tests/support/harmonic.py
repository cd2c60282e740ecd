"""Time-harmonic problems on small sections."""

from collections.abc import Mapping

from fem.field.harmonic.model import StrandedRegions, harmonic_problem, skin_sizes
from fem.field.harmonic.problem import HarmonicField, HarmonicProblem
from fem.field.static.space import Where
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role, Section, Shape

COPPER = 58e6
"""Conductivity [S/m]: IEC 60028:1925, 1/58 ohm mm2/m at 20 degC."""


def disc(name: str, x: float, y: float, radius: float, sense: int = 1) -> Region:
    return Region(
        name=name, role=Role.CONDUCTOR, winding=name, sense=sense, shape=Shape.DISC,
        x0=x - radius, x1=x + radius, y0=y - radius, y1=y + radius,
    )  # fmt: skip


def bar(name: str, x0: float, y0: float, x1: float, y1: float, sense: int = 1) -> Region:
    return Region(name=name, role=Role.CONDUCTOR, winding=name, sense=sense, x0=x0, y0=y0, x1=x1, y1=y1)


def solid_problem(
    section: Section,
    frequency: float,
    *,
    level: int = 0,
    stranded: Mapping[str, StrandedRegions] | None = None,
    fixed: Where | None = None,
) -> HarmonicProblem:
    """Mesh a section for a frequency; every region that no stranded winding takes is a solid copper conductor."""
    taken = {name for group in (stranded or {}).values() for name in group.regions}
    solid = {r.name: COPPER for r in section.regions if r.name not in taken}
    mesh = mesh_section(section, level=level, sizes=skin_sizes(section, solid, frequency))
    return harmonic_problem(mesh, solid=solid, stranded=stranded or {}, fixed=fixed)


def slot(layers: int, height: float, width: float, gap: float = 0.0) -> tuple[Section, Where]:
    """Return bars one above the other that fill a slot's width between walls of iron, and where its mouth is."""
    bars = tuple(bar(f"bar {k}", 0.0, k * (height + gap), width, k * (height + gap) + height) for k in range(layers))
    mouth = layers * (height + gap) - gap
    return Section(regions=bars, outline=(0.0, 0.0, width, mouth)), lambda m: m[1] > mouth - 1e-9


def losses_per_m(field: HarmonicField) -> dict[str, float]:
    """Return the loss in each conductor, of the whole section [W/m]."""
    problem = field.problem
    per_element = problem.copies * 0.5 * problem.geometry.determinant * field.loss_density()
    where = {name: [c.elements] for name, c in problem.solid.items()}
    where |= {name: [elements for elements, _ in c.parts] for name, c in problem.stranded.items()}
    return {name: float(sum(per_element[part].sum() for part in parts)) for name, parts in where.items()}
