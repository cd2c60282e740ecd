"""Conductors joined end to end into paths, and paths joined in parallel: from conductors to windings.

A path is a conductor's way through the section, turn after turn. With T the share of each path's current in each
conductor (conductors, paths), negative where it runs into the page, and Z the conductors' impedances,

    voltage of paths  = T^T Z T i_paths       (Kirchhoff's second law: its conductors' voltages add up)
    i_windings        = J^T i_paths           (the first: paths in parallel share the winding's current)
    voltage of paths  = J u_windings          (and have its voltage)

with J (paths, windings) 1 where a path is a winding's. So Y = (T^T Z T)^-1 J, Z_windings = (J^T Y)^-1, and the current
in each conductor per ampere in each winding is T Y Z_windings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Complexes
from fem.field.harmonic.problem import HarmonicResponse

Path = Mapping[str, float]
"""Share of the path's current in each conductor it passes, negative where it runs into the page [-]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Joined:
    """Windings made of a section's conductors.

    Parameters
    ----------
    names
        Of the windings.
    impedance_per_m
        Voltage per metre in each winding per ampere in each (windings, windings) [ohm/m].
    currents
        Current in each conductor per ampere in each winding (conductors, windings) [-].
    """

    names: tuple[str, ...]
    impedance_per_m: Complexes
    currents: Complexes


def join(response: HarmonicResponse, windings: Mapping[str, tuple[Path, ...]]) -> Joined:
    """Join conductors to windings.

    Parameters
    ----------
    response
        The conductors' impedances.
    windings
        The paths in parallel of each winding. Transposed wires in hand are one path with equal shares.

    Returns
    -------
    The windings' impedances and the conductors' currents.

    Raises
    ------
    ValueError
        If a winding has no path, or a path names an unknown conductor.
    """
    index = {name: k for k, name in enumerate(response.problem.names)}
    ways, owner = [], []
    for column, (winding, paths) in enumerate(windings.items()):
        if not paths:
            msg = f"{winding}: no path"
            raise ValueError(msg)
        for path in paths:
            if unknown := set(path) - set(index):
                msg = f"{winding}: no conductor called {sorted(unknown)}"
                raise ValueError(msg)
            way = np.zeros(len(index))
            way[[index[name] for name in path]] = list(path.values())
            ways.append(way)
            owner.append(column)
    T = np.stack(ways, axis=1)
    joint = np.eye(len(windings))[owner]  # (paths, windings)
    admittance = np.linalg.solve(T.T @ response.impedance_per_m @ T, joint).astype(np.complex128, copy=False)
    impedance = np.linalg.inv(joint.T @ admittance).astype(np.complex128, copy=False)
    return Joined(names=tuple(windings), impedance_per_m=impedance, currents=T @ admittance @ impedance)
