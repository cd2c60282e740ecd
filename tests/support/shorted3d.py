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
ROUNDS, CLOSE = 6, 0.02
"""Of the net ampere-turns, a few per cent of the current."""
Floats, Phasors = NDArray[np.float64], NDArray[np.complex128]


def phasors(P: Floats, volts: float, r: float) -> tuple[Phasors, Phasors]:
    """Return the ampere-turns in the field and the fluxes per turn of both windings, shorted secondary."""
    F = np.linalg.solve(1j * OMEGA * P + r * np.eye(2), np.array([volts, 0.0]))
    return F, P @ F


def round_of(
    field: OpenField, volts: float, r: float, P: Floats, net: float
) -> tuple[Floats, float, tuple[float, float]]:
    """Return the permeances of the state with a net of ampere-turns beside P's phasors; the net they ask; the state's.

    The crest of phi_1 is where the core takes most: the net is the sum of both windings' ampere-turns there.
    """
    F, flux = phasors(P, volts, r)
    second = (F * np.conj(flux[0]) / abs(flux[0])).real[1]
    at = float(net - second), float(second)
    field.u = np.array(at) @ field.responses
    field.solve(*at, tolerance=2e-5, most=100)  # both windings against each other leave Newton little to hold on to
    P = field.permeances(*at)
    F, flux = phasors(P, volts, r)
    asked = float((F.sum() * np.conj(flux[0]) / abs(flux[0])).real)
    sys.stdout.write(f"net {net:.1f} asked {asked:.1f} F {abs(F)} flux {abs(flux)} {P.tolist()}\n")
    sys.stdout.flush()
    return P, asked, at


def main(names: list[str]) -> None:
    """Solve named cores and write them down."""
    data = json.loads(nonlinear3d.DATA.read_text(encoding="utf-8"))
    for name in names:
        entry = next(core for core in data["cores"] if core["name"] == name)
        volts = OMEGA * entry["points"][1]["flux_per_turn_Wb"][1]
        _, (second, third) = nonlinear3d.fields_of(entry, data["tables"])
        second.solve(1.0, 0.0)
        P = second.permeances(1.0, 0.0)
        r = float(0.5 * OMEGA * (P[0, 0] + P[1, 1] - 2 * P[0, 1]))  # half the leakage reactance each
        nets, missing = [0.0, 0.0], [0.0, 0.0]
        P, nets[1], at = round_of(second, volts, r, P, 0.2 * entry["points"][0]["ampere_turns"])
        for _ in range(ROUNDS):
            P, asked, at = round_of(second, volts, r, P, nets[1])
            missing = [missing[1], asked - nets[1]]
            step = missing[1] if not missing[0] else missing[1] * (nets[1] - nets[0]) / (missing[0] - missing[1])
            nets = [nets[1], nets[1] + step]
            if abs(step) < CLOSE * nets[1]:
                break
        third.u[: second.size] = second.u  # its secant permeabilities
        found = [P.tolist(), third.permeances(*at).tolist()]
        kept = json.loads(DATA.read_text(encoding="utf-8"))
        kept["cores"][name] = {"volts_per_turn": volts, "ohms_per_turn_squared": r, "permeances_H": found}
        DATA.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
