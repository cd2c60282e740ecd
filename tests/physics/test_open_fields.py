"""Fields in unbounded air on tetrahedra: against known bounds, and the states kept for saturated cores.

The slow ones solve again; the quick ones ask what any true set of states has to obey.
"""

import json
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from tests.support.needed import needed

needed("ngsolve")
from fem.materials.mixture import Reluctivity
from tests.physics.test_edge_elements import CASES, arrangement
from tests.support import nonlinear3d, nonlinear3d_edges, single_conductors3d
from tests.support.open_fields import OpenField
from tests.support.open_laws import Law
from tests.support.open_mesh import Sizes, open_mesh, turns_field

STATES: dict[str, Any] = json.loads(nonlinear3d.DATA.read_text(encoding="utf-8"))
LAYS: dict[str, Any] = json.loads(single_conductors3d.DATA.read_text(encoding="utf-8"))
SOLVED = [lay for lay in LAYS["lays"] if "permeance_H" in lay]
CORES = [core for core in STATES["cores"] if core.get("points")]
EDGES = nonlinear3d_edges.kept()


@pytest.mark.parametrize("core", CORES, ids=[core["name"] for core in CORES])
def test_kept_states_belong_together(core: dict[str, Any]) -> None:
    """Coenergy falls with the order of the elements, and its slope is the flux: rising, so that chords enclose it."""
    points = core["points"]
    for point in points:
        second, third = point["coenergy_J"]
        assert third < second
        assert 0 < point["flux_per_turn_Wb"][1] - point["planar_flux_Wb"] < 0.2 * point["planar_flux_Wb"]
    for low, high in pairwise(points):
        chord = (high["coenergy_J"][1] - low["coenergy_J"][1]) / (high["ampere_turns"] - low["ampere_turns"])
        assert low["flux_per_turn_Wb"][1] < chord < high["flux_per_turn_Wb"][1]


@pytest.mark.parametrize("name", EDGES)
def test_kept_states_are_bracketed(name: str) -> None:
    """Edge elements' coenergy below, the scalar potential's above, and closer the more the iron is saturated.

    The flux is the coenergy's slope and no bound itself, but keeps the same order. Saturated iron's reluctance hides
    what elements at the joint's rims err by: 0.2 % at most in a core's highest state.
    """
    points = {p["ampere_turns"]: p for p in next(c for c in CORES if c["name"] == name)["points"]}
    apart = []
    for below in EDGES[name]:
        above = points[below["ampere_turns"]]
        assert below["edge_coenergy_J"] < above["coenergy_J"][1]
        assert below["edge_flux_per_turn_Wb"] < above["flux_per_turn_Wb"][1]
        apart.append(1 - below["edge_coenergy_J"] / above["coenergy_J"][1])
    assert apart == sorted(apart, reverse=True)
    assert apart[-1] < 0.002


def test_a_law_is_read_both_ways() -> None:
    """b(H(b)) = b, and the energy is the integral of H: Simpson's rule on the law's own cubics is exact."""
    iron = Law.of(Reluctivity.of_lamination(nonlinear3d.curve_of(CORES[0], STATES["tables"]), 0.95))
    b = np.array([0.013, 0.7, 1.5, 1.93, 2.4, 4.7])
    H, slope = iron.field(b)
    back, inverse = iron.flux(H)
    assert back == pytest.approx(b, rel=1e-10)
    assert inverse * slope == pytest.approx(1.0, rel=1e-8)
    low, high = 1.5002, 1.5004
    simpson = (high - low) / 6 * sum(k * iron.field(np.array(v))[0] for k, v in ((1, low), (4, 1.5003), (1, high)))
    assert iron.energy(np.array(high)) - iron.energy(np.array(low)) == pytest.approx(simpson, rel=1e-6)


@pytest.mark.slow
def test_leakage_lies_above_the_known_bounds() -> None:
    """From above, and by no more than second- and third-order elements of this size err: 0.5 %."""
    name = "S1_small_square"
    core, blocks = arrangement(CASES[name])
    opened = open_mesh(core.frame, blocks, sizes=Sizes(iron=8.0, corner=4.0))
    iron = {"iron": Law.of(Reluctivity.linear(4000.0))}
    field = OpenField(opened, lambda p: turns_field(core.frame, blocks, p), iron, order=3)
    found = 2 * field.solve(1.0, -1.0).coenergy
    low, high = CASES[name]["bounds_H_per_turn2"]
    assert low < found < 1.005 * high


@pytest.mark.slow
def test_a_state_comes_out_again_on_another_mesh() -> None:
    """The saturated butt-jointed core on a coarser mesh: as far away as second and third order are apart."""
    core = next(c for c in STATES["cores"] if c["name"] == "butt 0.3")
    point = next(p for p in core["points"] if p["ampere_turns"] == 2500)
    _, fields = nonlinear3d.fields_of(core, STATES["tables"], fineness=0.8)
    _, fine = nonlinear3d.solve_both(fields, 2500.0, 1.0)
    apart = abs(point["flux_per_turn_Wb"][0] - point["flux_per_turn_Wb"][1])
    assert fine.fluxes[0] == pytest.approx(point["flux_per_turn_Wb"][1], abs=apart)


@pytest.mark.slow
def test_edge_elements_come_out_again_on_another_mesh() -> None:
    """The same core on coarser elements: lower, by less than what is left to the scalar potential's bound."""
    core, tables = nonlinear3d_edges.core_named("butt 0.3")
    kept = next(p for p in EDGES["butt 0.3"] if p["ampere_turns"] == 2500)
    above = next(p for p in core["points"] if p["ampere_turns"] == 2500)["coenergy_J"][1]
    found = nonlinear3d_edges.edges_of(core, tables, fineness=0.4).solve(2500.0).coenergy
    assert kept["edge_coenergy_J"] - (above - kept["edge_coenergy_J"]) < found < kept["edge_coenergy_J"]


@pytest.mark.parametrize("lay", SOLVED, ids=[lay["name"] for lay in SOLVED])
def test_kept_lays_are_bounds(lay: dict[str, Any]) -> None:
    """Third order lies below second, both above the true value, and by less than the file claims."""
    second, third = lay["permeance_H"]
    assert third < second < (1 + LAYS["uncertainty"]) * third


@pytest.mark.slow
def test_a_lay_comes_out_again_on_another_mesh() -> None:
    lay = next(v for v in LAYS["lays"] if v["name"] == "3 cables 2+1")
    second, third = lay["permeance_H"]
    assert single_conductors3d.permeances(LAYS, lay, fineness=0.8)[1] == pytest.approx(third, abs=second - third)
