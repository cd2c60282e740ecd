"""Shorted cores in three dimensions: `tests/physics/data/shorted3d.json` and its making.

    python -m tests.support.shorted3d NAME ...

Per turn, with peak phasors: v = r_1 F_1 + v_1, 0 = r_2 F_2 + v_2, v_i = j omega phi_i, phi = P F. P holds the
iron at the secant permeabilities of the nonlinear field for the ampere-turns of both windings at the crest of phi_1,
found in turn with the phasors. Import only after `needed("ngsolve")`.
"""

import json
import sys
from math import pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.support import nonlinear3d
from tests.support.open_fields import OpenField

DATA = Path(__file__).parents[1] / "physics" / "data" / "shorted3d.json"
OMEGA = 100 * pi
ROUNDS = 4
Phasors = NDArray[np.complex128]


def phasors(P: NDArray[np.float64], volts: float, r: float) -> tuple[Phasors, Phasors]:
    """Return the ampere-turns in the field and the fluxes per turn of both windings, shorted secondary."""
    F = np.linalg.solve(1j * OMEGA * P + r * np.eye(2), np.array([volts, 0.0]))
    return F, P @ F


def settled(field: OpenField, volts: float, r: float, P: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the matrix of permeances that a shorted state settles at [H]."""
    for _ in range(ROUNDS):
        F, flux = phasors(P, volts, r)
        at = tuple(float(v) for v in (F * np.conj(flux[0]) / abs(flux[0])).real)
        field.solve(*at)
        P = field.permeances(*at)
        sys.stdout.write(f"{at} {P.tolist()} {abs(F)} {abs(flux)}\n")
        sys.stdout.flush()
    return P


def main(names: list[str]) -> None:
    """Solve named cores and write them down."""
    data = json.loads(nonlinear3d.DATA.read_text(encoding="utf-8"))
    for name in names:
        entry = next(core for core in data["cores"] if core["name"] == name)
        volts = OMEGA * entry["points"][1]["flux_per_turn_Wb"][1]
        found = []
        _, fields = nonlinear3d.fields_of(entry, data["tables"])
        start = None
        for field in fields:
            if start is None:
                field.solve(1.0, 0.0)
                P = field.permeances(1.0, 0.0)
                r = float(0.25 * OMEGA * (P[0, 0] + P[1, 1] - 2 * P[0, 1]))  # a quarter of the leakage reactance each
            else:
                field.u[: start.size] = start
            P = settled(field, volts, r, P)
            start = field.u
            found.append(P.tolist())
        kept = json.loads(DATA.read_text(encoding="utf-8"))
        kept["cores"][name] = {"volts_per_turn": volts, "ohms_per_turn_squared": r, "permeances_H": found}
        DATA.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
