"""How a mesh's vertices move with the lengths of the design: the derivative of the map that moves meshes.

`morph.moved` maps the lines between neighbouring edges straight onto each other, so a vertex between two edges moves as
their weighted mean. Edges that have one coordinate by chance, such as two coils of one build, move apart from each
other; then a line's motion depends on where along it: each region's edge moves as it must, and between two of them the
line is straight. So in a cell of the lines the motion is bilinear, continuous over the whole section, and exact on
every edge; where chance does not play, it is that of `moved`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometries.assembly.by_key import ByKey
from geometries.assembly.mesh import SectionMesh
from geometries.assembly.morph import Edges, edges
from geometries.shapes.arrays import Floats
from geometries.shapes.dual import gradients, number
from geometries.shapes.section import Cut, Section

_EQUAL = 1e-9
"""Derivatives of lengths by lengths nearer than this are the same."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Motion:
    """Derivatives of a mesh and of the cuts in it.

    Parameters
    ----------
    keys
        Dotted keys [m].
    vertices
        Derivatives of the mesh's vertices (2, n, keys) [-].
    cuts
        By name, of start x and y and end x and y (4, keys) [-].
    torn
        Keys that part regions which touch at a corner: no motion of this mesh follows them, and theirs is NaN.
    """

    keys: tuple[str, ...]
    vertices: Floats
    cuts: dict[str, Floats]
    torn: tuple[str, ...]


def motion(mesh: SectionMesh, found: ByKey) -> Motion:
    """Return how a mesh moves with every key.

    Parameters
    ----------
    mesh
        Of that design's section, whole or halved.
    found
        The design's lengths with their derivatives.
    """
    section = found.section.half() if mesh.section.halved else found.section
    size = len(found.keys)
    lines = edges(mesh.section)
    along_x, torn_x = _line_motion(section, lines, ("x0", "x1"), ("y0", "y1"), size)
    along_y, torn_y = _line_motion(section, lines, ("y0", "y1"), ("x0", "x1"), size)
    vertices = np.stack([_between(lines, mesh.points, along_x), _between(lines, mesh.points, along_y.swapaxes(0, 1))])
    torn = torn_x | torn_y
    vertices[..., torn] = np.nan
    cuts = {cut.name: gradients((cut.x0, cut.y0, cut.x1, cut.y1), size) for cut in section.cuts}
    return Motion(
        keys=found.keys,
        vertices=vertices,
        cuts=cuts,
        torn=tuple(key for key, is_torn in zip(found.keys, torn, strict=True) if is_torn),
    )


def cut_width_slopes(cut: Cut, slopes: Floats) -> Floats:
    """Return the derivatives of a cut's width (keys,) [-] from those of its ends (4, keys)."""
    across = np.array([cut.x1 - cut.x0, cut.y1 - cut.y0]) / cut.width
    return across @ (slopes[2:] - slopes[:2])


def _line_motion(
    section: Section, lines: Edges, ends: tuple[str, str], sides: tuple[str, str], size: int
) -> tuple[Floats, np.ndarray]:
    """Return the motion of the lines of one direction where the others cross them (lines, others, keys).

    Also which keys would have one crossing in two places.
    """
    own, other = (lines.x, lines.y) if ends[0] == "x0" else (lines.y, lines.x)
    found = np.full((own.size, other.size, size), np.nan)
    torn = np.zeros(size, dtype=bool)
    x0, y0, x1, y1 = section.outline
    outline = dict(x0=x0, y0=y0, x1=x1, y1=y1)
    for rectangle in (outline, *({k: getattr(r, k) for k in outline} for r in section.regions)):
        low, high = (int(np.abs(other - number(rectangle[side])).argmin()) for side in sides)
        for end in ends:
            i = int(np.abs(own - number(rectangle[end])).argmin())
            slope = gradients((rectangle[end],), size)[0]
            part = found[i, low : high + 1]
            torn |= np.any(np.abs(part - slope) > _EQUAL, axis=0)
            part[np.isnan(part[:, 0])] = slope
    for i in range(own.size):
        at = found[i]
        known = ~np.isnan(at[:, 0])
        for k in range(size):
            at[:, k] = np.interp(other, other[known], at[known, k])
    return found, torn


def _between(lines: Edges, points: Floats, at: Floats) -> Floats:
    """Interpolate values at crossings (nx, ny, keys) bilinearly to points (2, n): (n, keys)."""
    (i, s), (j, t) = (_cell(edge, values) for edge, values in ((lines.x, points[0]), (lines.y, points[1])))
    s, t = s[:, None], t[:, None]
    low = (1 - s) * at[i, j] + s * at[i + 1, j]
    high = (1 - s) * at[i, j + 1] + s * at[i + 1, j + 1]
    return np.asarray((1 - t) * low + t * high)


def _cell(edge: Floats, values: Floats) -> tuple[np.ndarray, Floats]:
    k = np.clip(np.searchsorted(edge, values, side="right") - 1, 0, edge.size - 2)
    return k, (values - edge[k]) / (edge[k + 1] - edge[k])
