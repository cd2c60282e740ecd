"""The time-harmonic field of conductors in which eddy currents flow: what is described and what comes out.

All phasors are r.m.s. values and turn as exp(j omega t): x(t) = sqrt(2) Re(X exp(j omega t)). Faraday's law gives
E = e - j omega A along z, e the voltage drop per metre [V/m], one for the whole section of a conductor. So

    curl (nu curl A) = J,    J = sigma (e - j omega A) in a solid conductor,    J = share i / area in a stranded one,

and a solid conductor carries i = int sigma (e - j omega A) dA. What a conductor takes is u i*, u its whole voltage drop
per metre: its loss int |J|^2 / sigma dA, plus j 2 omega times the mean energy 1/2 int nu |B|^2 dA, summed over all.

References
----------
R. L. Stoll, The Analysis of Eddy Currents, Oxford 1974.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from fem.arrays import Complexes, Floats, Integers, positive
from fem.constants import MU0
from fem.field.elements import GRADIENTS, MASS, POINTS, QUADRATURE
from fem.field.static.space import Geometry, Space


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

    elements: Integers
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

    parts: tuple[tuple[Integers, int], ...]
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
    reluctivity: Floats
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
        conductors: dict[str, Solid | Stranded] = {**self.solid, **self.stranded}
        positive(**{f"conductivity of {name}": conductor.conductivity for name, conductor in conductors.items()})

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
    drops
        Voltage drop per metre of the solid conductors in the mesh, per ampere (solid, n) [ohm/m].
    potential
        Gives the vector potential (size,) [Wb/m] of currents (n,) [A]: one more solution with the factor that is there
        takes no memory, where a field for each conductor would take most of it.
    """

    problem: HarmonicProblem
    frequency: float
    impedance_per_m: Complexes
    drops: Complexes
    potential: Callable[[Complexes], Complexes]

    @property
    def angular_frequency(self) -> float:
        """[rad/s]."""
        return 2 * pi * self.frequency

    def at(self, currents: Mapping[str, complex] | Complexes) -> HarmonicField:
        """Superpose the field of given currents.

        Parameters
        ----------
        currents
            R.m.s. phasors [A]: by name (those left out carry none), or one for each conductor (n,).

        Raises
        ------
        ValueError
            If a name is unknown or the number of currents is wrong.
        NotConverged
            If the linear system is not solved to its tolerance.
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
            problem=self.problem,
            frequency=self.frequency,
            currents=currents,
            A=self.potential(currents),
            drops=self.drops @ currents,
            voltages_per_m=self.impedance_per_m @ currents,
        )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HarmonicField:
    """The field of imposed currents.

    Parameters
    ----------
    problem, frequency
        What was solved, at which frequency [Hz].
    currents
        R.m.s. phasors (n,) [A].
    A
        Vector potential (size,) [Wb/m].
    drops
        Voltage drops per metre of the solid conductors in the mesh (solid,) [V/m].
    voltages_per_m
        Voltage drops per metre of all conductors, per turn, of the whole section (n,) [V/m].
    """

    problem: HarmonicProblem
    frequency: float
    currents: Complexes
    A: Complexes
    drops: Complexes
    voltages_per_m: Complexes

    @property
    def complex_power_per_m(self) -> complex:
        """Sum of u i*: power taken by the whole section [W/m] plus j 2 omega times the mean field energy [var/m]."""
        return complex(self.voltages_per_m @ self.currents.conj())

    def loss_density(self) -> Floats:
        """Return the mean loss density of each element (m,) [W/m3]: sigma |e - j omega A|^2 or |J|^2 / sigma."""
        problem = self.problem
        density = np.zeros(problem.space.elements)
        for conductor, drop in zip(problem.solid.values(), self.drops, strict=True):
            E = drop - 1j * 2 * pi * self.frequency * self.A[problem.space.element_dofs[:, conductor.elements]]
            squared = np.einsum("im,ij,jm->m", E.conj(), MASS, E).real
            density[conductor.elements] += conductor.conductivity * 2 * squared  # the reference triangle's area is 1/2
        for winding, current in zip(problem.stranded.values(), self.currents[len(problem.solid) :], strict=True):
            for elements, _ in winding.parts:
                J = abs(current) / (0.5 * float(problem.geometry.determinant[elements].sum()))
                density[elements] += J**2 / winding.conductivity
        return density

    def squared_flux_density(self) -> Floats:
        """Return |Bx|^2 + |By|^2, r.m.s., at the quadrature points (points, m) [T2]."""
        problem = self.problem
        g = (GRADIENTS.reshape(6, -1).T @ self.A[problem.space.element_dofs]).reshape(2, POINTS, -1)
        xx, xy, yy = problem.geometry.metric
        return np.asarray(
            xx * np.abs(g[0]) ** 2 + 2 * xy * (g[0] * g[1].conj()).real + yy * np.abs(g[1]) ** 2, dtype=np.float64
        )

    def energy_per_m(self) -> float:
        """Return 1/2 int nu |B|^2 dA of the whole section, mean over a period [J/m]."""
        problem = self.problem
        density = 0.5 * problem.reluctivity * (QUADRATURE[1] @ self.squared_flux_density())
        return float(problem.copies * density @ problem.geometry.determinant)


def skin_depth(conductivity: float, frequency: float) -> float:
    """Return the skin depth sqrt(2 / (omega mu0 sigma)) of a non-magnetic conductor [m].

    Parameters
    ----------
    conductivity, frequency
        [S/m], [Hz].
    """
    return 1 / sqrt(pi * frequency * MU0 * conductivity)
