"""Where the numbers of an estimate come from: versions, digests, mesh sizes, discretisation errors."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

from fem.design.transformer import as_given
from fem.estimation.case import Case


@dataclass(frozen=True, kw_only=True, slots=True)
class Provenance:
    """Where the numbers come from."""

    version: str
    packages: Mapping[str, str]
    job_digest: str
    section_digest: str
    mesh_level: int
    mesh_unknowns: int
    end_region_unknowns: int
    flux_discretisation_error: float
    leakage_discretisation_error: float


PACKAGES = ("numpy", "scipy", "scikit-fem", "gmsh", "cvxopt")
_TOP = Path(__file__).parents[2]


@cache
def versions() -> dict[str, str]:
    """Return the versions of the tool and of what it computes with; looking them up takes milliseconds each."""
    return {name: version(name) for name in ("rewound", *PACKAGES)}


@cache
def computed_by(top: Path = _TOP) -> str:
    """Return a digest of all that computes: every source and table of the tool's own, and the libraries' versions.

    Parameters
    ----------
    top
        Folder with the packages.
    """
    digest = hashlib.sha256(repr(sorted(versions().items())).encode())
    for package in ("fem", "geometries"):
        for file in sorted((top / package).rglob("*")):
            if file.suffix in {".py", ".csv"}:
                digest.update(
                    f"{file.relative_to(top).as_posix()}\0".encode() + hashlib.sha256(file.read_bytes()).digest()
                )
    return digest.hexdigest()


def provenance(case: Case) -> Provenance:
    """Return the stamp of one estimate."""
    text = json.dumps(as_given(case.design), sort_keys=True)
    found = case.found
    return Provenance(
        version=versions()["rewound"],
        packages={name: versions()[name] for name in PACKAGES},
        job_digest=hashlib.sha256(text.encode()).hexdigest(),
        section_digest=found.section.digest,
        mesh_level=found.mesh_level,
        mesh_unknowns=found.unknowns,
        end_region_unknowns=found.leakage.end_region_unknowns,
        flux_discretisation_error=found.magnetising.discretisation_error,
        leakage_discretisation_error=found.leakage.discretisation_error,
    )
