"""The time-harmonic field of conductors in which eddy currents flow: curl (nu curl A) + j omega sigma A = sigma e.

All phasors are r.m.s. values and turn as exp(j omega t). A solid conductor carries J = sigma (e - j omega A), with one
voltage drop per metre e over its whole section; a stranded one carries its current evenly. With c_k the integral of
sigma times the shape functions over a solid conductor, G_k that of sigma and s the source vectors of stranded ones,

    (S + j omega M) A = C e + s i_stranded,      i_solid = G e - j omega C^T A

so with X = (S + j omega M)^-1 [C, s] every drop follows from a small dense system, and the drops per ampere of all
conductors are the impedance matrix per metre. The sparse matrix is complex symmetric with a positive definite real
part: it is factored without pivoting.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from fem.constants import MU0
from fem.errors import NotConverged
from fem.field.elements import GRADIENTS, LOWER, POINTS, QUADRATURE, SHAPE_INTEGRALS, STIFFNESS
from fem.field.harmonic_elements import MASS, MASS_LOWER
from fem.field.problem import winding_source
from fem.field.space import Geometry, Space

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Elements = NDArray[np.int64]

RESIDUAL = 1e-9
"""Largest relative residual of the linear system: rounding leaves some 1e-13."""

COARSEST = 1.0
"""Largest side of an element in a solid conductor, in skin depths: quadratic elements still follow exp(-x)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Solid:
    """A conductor in which eddy currents flow; its current counts positive out of the page.

    Parameters
    ----------
    elements
        Elements it fills.
    conductivity
        [S/m].
    """

    elements: Elements
    conductivity: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Stranded:
    """A winding, or a cable of fine transposed strands, whose current is evenly spread over its blocks.

    Parameters
    ----------
    parts
        Elements and sense (+1 or -1) of each of its blocks; its current is ampere-turns.
    conductivity
        Averaged over the block, so times the share of it that conducts [S/m].
    """

    parts: tuple[tuple[Elements, int], ...]
    conductivity: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HarmonicProblem:
    """A meshed section with conductors, all of it linear.

    Parameters
    ----------
    space, geometry
        The mesh's two sides.
    reluctivity
        Of each element [m/H].
    solid, stranded
        The conductors by name; no name is in both.
    copies
        2 where the mesh is one half of a symmetric section, else 1.

    Raises
    ------
    ValueError
        If there is no conductor, a name is used twice, or a reluctivity or conductivity is not positive.
    """

    space: Space
    geometry: Geometry
    reluctivity: Array
    solid: Mapping[str, Solid]
    stranded: Mapping[str, Stranded]
    copies: int = 1

    def __post_init__(self) -> None:
        """Check what is given."""
        if twice := set(self.solid) & set(self.stranded):
            msg = f"conductors both solid and stranded: {sorted(twice)}"
            raise ValueError(msg)
        if not self.names:
            msg = "the section has no conductor"
            raise ValueError(msg)
        if self.reluctivity.shape != (self.space.elements,) or not np.all(self.reluctivity > 0):
            msg = f"expected {self.space.elements} positive reluctivities, got shape {self.reluctivity.shape}"
            raise ValueError(msg)
        conductivities = {name: c.conductivity for name, c in self.solid.items()}
        conductivities |= {name: c.conductivity for name, c in self.stranded.items()}
        for name, value in conductivities.items():
            if not (value > 0 and isfinite(value)):
                msg = f"{name}: conductivity {value!r} must be above 0"
                raise ValueError(msg)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the conductors, solid ones first: the order of every array over conductors."""
        return (*self.solid, *self.stranded)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HarmonicResponse:
    """The fields of one ampere r.m.s. in each conductor, the others open.

    Parameters
    ----------
    problem
        What was solved.
    frequency
        [Hz].
    impedance_per_m
        Voltage drop per metre of depth in each conductor (row) per ampere in each (column), of the whole section, so
        twice that of the mesh where this is a half (n, n) [ohm/m]. Symmetric.
    A
        Vector potentials per ampere (size, n) [Wb/(m A)].
    drops
        Voltage drop per metre of the solid conductors in the mesh, per ampere (solid, n) [ohm/m].
    """

    problem: HarmonicProblem
    frequency: float
    impedance_per_m: Complex
    A: Complex
    drops: Complex

    @property
    def angular_frequency(self) -> float:
        """[rad/s]."""
        return 2 * pi * self.frequency

    def at(self, currents: Mapping[str, complex] | Complex) -> HarmonicField:
        """Superpose the field of given currents.

        Parameters
        ----------
        currents
            R.m.s. phasors [A]: by name (those left out carry none), or one for each conductor (n,).

        Raises
        ------
        ValueError
            If a name is unknown or the number of currents is wrong.
        """
        names = self.problem.names
        if isinstance(currents, Mapping):
            if unknown := set(currents) - set(names):
                msg = f"no conductor called {sorted(unknown)}; there are {sorted(names)}"
                raise ValueError(msg)
            currents = np.array([currents.get(name, 0.0) for name in names], dtype=np.complex128)
        if currents.shape != (len(names),):
            msg = f"expected {len(names)} currents, got shape {currents.shape}"
            raise ValueError(msg)
        return HarmonicField(
            response=self, currents=currents, A=self.A @ currents, drops=self.drops @ currents,
            voltages_per_m=self.impedance_per_m @ currents,
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HarmonicField:
    """The field of imposed currents.

    Parameters
    ----------
    response
        What it was superposed from.
    currents
        R.m.s. phasors (n,) [A].
    A
        Vector potential (size,) [Wb/m].
    drops
        Voltage drops per metre of the solid conductors in the mesh (solid,) [V/m].
    voltages_per_m
        Voltage drops per metre of all conductors, per turn, of the whole section (n,) [V/m].
    """

    response: HarmonicResponse
    currents: Complex
    A: Complex
    drops: Complex
    voltages_per_m: Complex

    @property
    def complex_power_per_m(self) -> complex:
        """Power taken by the whole section [W/m], plus j times 2 omega times the mean field energy [var/m]."""
        return complex(self.voltages_per_m @ self.currents.conj())

    def loss_density(self) -> Array:
        """Return the mean loss density of each element (m,) [W/m3]."""
        problem = self.response.problem
        density = np.zeros(problem.space.elements)
        for conductor, drop in zip(problem.solid.values(), self.drops, strict=True):
            E = drop - 1j * self.response.angular_frequency * self.A[problem.space.element_dofs[:, conductor.elements]]
            squared = np.einsum("im,ij,jm->m", E.conj(), MASS, E).real
            density[conductor.elements] += conductor.conductivity * 2 * squared  # the reference triangle's area is 1/2
        for winding, current in zip(problem.stranded.values(), self.currents[len(problem.solid) :], strict=True):
            for elements, _ in winding.parts:
                J = abs(current) / (0.5 * float(problem.geometry.determinant[elements].sum()))
                density[elements] += J**2 / winding.conductivity
        return density

    def losses_per_m(self) -> dict[str, float]:
        """Return the loss in each conductor, of the whole section [W/m]."""
        problem = self.response.problem
        per_element = problem.copies * 0.5 * problem.geometry.determinant * self.loss_density()
        where = {name: [c.elements] for name, c in problem.solid.items()}
        where |= {name: [elements for elements, _ in c.parts] for name, c in problem.stranded.items()}
        return {name: float(sum(per_element[part].sum() for part in parts)) for name, parts in where.items()}

    def squared_flux_density(self) -> Array:
        """Return |B|^2, r.m.s., at the quadrature points (points, m) [T2]."""
        problem = self.response.problem
        g = (GRADIENTS.reshape(6, -1).T @ self.A[problem.space.element_dofs]).reshape(2, POINTS, -1)
        xx, xy, yy = problem.geometry.metric
        return np.asarray(
            xx * np.abs(g[0]) ** 2 + 2 * xy * (g[0] * g[1].conj()).real + yy * np.abs(g[1]) ** 2, dtype=np.float64
        )

    def energy_per_m(self) -> float:
        """Return the field energy of the whole section, mean over a period [J/m]."""
        problem = self.response.problem
        density = 0.5 * problem.reluctivity * (QUADRATURE[1] @ self.squared_flux_density())
        return float(problem.copies * density @ problem.geometry.determinant)


def skin_depth(conductivity: float, frequency: float) -> float:
    """Return the skin depth of a non-magnetic conductor [m], conductivity in [S/m], frequency in [Hz]."""
    return 1 / sqrt(pi * frequency * MU0 * conductivity)


def respond(problem: HarmonicProblem, frequency: float) -> HarmonicResponse:
    """Solve for the field of each conductor.

    Parameters
    ----------
    problem
        Mesh, materials and conductors.
    frequency
        [Hz].

    Raises
    ------
    ValueError
        If the frequency is not positive or the mesh is too coarse for the skin depth in a solid conductor.
    NotConverged
        If the linear system is not solved to its tolerance.
    """
    if not (frequency > 0 and isfinite(frequency)):
        msg = f"frequency must be above 0, got {frequency!r} Hz"
        raise ValueError(msg)
    _check_resolution(problem, frequency)
    space, free, omega = problem.space, problem.space.free, 2 * pi * frequency
    sources, conductances = _sources(problem)
    matrix = _matrix(problem, omega)
    factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    X = factor.solve(sources[free].astype(np.complex128))
    residual = float(np.linalg.norm(matrix @ X - sources[free]) / np.linalg.norm(sources[free]))
    if not residual < RESIDUAL:
        msg = f"harmonic field of {free.size} unknowns: relative residual {residual:.1e} (wanted {RESIDUAL:.0e})"
        raise NotConverged(msg)
    n, solids = len(problem.names), len(problem.solid)
    coupling = sources[free].T @ X  # (n, n)
    admittance = np.diag(conductances) - 1j * omega * coupling[:solids, :solids]
    by_current = np.hstack([np.eye(solids), 1j * omega * coupling[:solids, solids:]])
    drops = np.linalg.solve(admittance, by_current).astype(np.complex128, copy=False)
    weights = np.vstack([drops, np.eye(n)[solids:]])
    A = np.zeros((space.size, n), dtype=np.complex128)
    A[free] = X @ weights
    impedance = np.vstack([drops, 1j * omega * coupling[solids:] @ weights])
    impedance[range(solids, n), range(solids, n)] += _stranded_resistances(problem)
    return HarmonicResponse(
        problem=problem, frequency=frequency, impedance_per_m=problem.copies * impedance, A=A, drops=drops
    )


def _sources(problem: HarmonicProblem) -> tuple[Array, Array]:
    """Return the vectors c of solid and s of stranded conductors (size, n), and the solid ones' G (solid,) [S m]."""
    space, geometry = problem.space, problem.geometry
    columns, conductances = [], []
    for conductor in problem.solid.values():
        weight = np.zeros(space.elements)
        weight[conductor.elements] = conductor.conductivity * geometry.determinant[conductor.elements]
        columns.append(space.node_sum(SHAPE_INTEGRALS[:, None] * weight))
        conductances.append(0.5 * float(weight.sum()))
    columns += [winding_source(space, geometry, list(c.parts)) for c in problem.stranded.values()]
    return np.stack(columns, axis=1), np.array(conductances)


def _stranded_resistances(problem: HarmonicProblem) -> Array:
    """Return the resistance per metre of the stranded conductors' blocks in the mesh (stranded,) [ohm/m]."""
    det = problem.geometry.determinant
    return np.array(
        [
            sum(1 / (c.conductivity * 0.5 * float(det[elements].sum())) for elements, _ in c.parts)
            for c in problem.stranded.values()
        ]
    )


def _matrix(problem: HarmonicProblem, omega: float) -> csc_array:
    """Return S + j omega M at the free nodes."""
    space, geometry = problem.space, problem.geometry
    mapped = np.tile(geometry.metric * (problem.reluctivity * geometry.determinant), (POINTS, 1))
    weight = np.zeros(space.elements)
    for conductor in problem.solid.values():
        weight[conductor.elements] = omega * conductor.conductivity * geometry.determinant[conductor.elements]
    values = space.matrix_values(STIFFNESS.T @ mapped) + 1j * space.matrix_values(MASS_LOWER[:, None] * weight)
    row, column = _pattern(space)
    off = row != column
    return csc_array(
        (
            np.concatenate([values, values[off]]),
            (np.concatenate([row, column[off]]), np.concatenate([column, row[off]])),
        ),
        shape=(space.free.size, space.free.size),
    )


def _pattern(space: Space) -> tuple[Elements, Elements]:
    """Return row and column of each entry of the lower triangle's value array."""
    number = np.zeros(space.size, dtype=np.int64)  # entries that touch a fixed node land in the extra place
    number[space.free] = np.arange(space.free.size)
    a, b = number[space.element_dofs[LOWER[0]]].ravel(), number[space.element_dofs[LOWER[1]]].ravel()
    row, column = np.zeros((2, space.factor.entries + 1), dtype=np.int64)
    row[space.slot], column[space.slot] = np.maximum(a, b), np.minimum(a, b)
    return row[:-1], column[:-1]


def _check_resolution(problem: HarmonicProblem, frequency: float) -> None:
    for name, conductor in problem.solid.items():
        depth = skin_depth(conductor.conductivity, frequency)
        # The side of an equilateral triangle of the same area.
        side = sqrt(2 / sqrt(3) * float(problem.geometry.determinant[conductor.elements].max()))
        if side > COARSEST * depth:
            msg = (
                f"{name}: elements of {side * 1e3:.3g} mm cannot follow a skin depth of {depth * 1e3:.3g} mm "
                f"at {frequency:g} Hz"
            )
            raise ValueError(msg)
