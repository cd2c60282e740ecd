"""Lines of the report about how well it was computed: what no instrument at the bench shows."""

from __future__ import annotations

from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.text.lines import Line, lines_of
from fem.report.text.numbers import percent

LEAST = 1e-5
"""Shares below this are told as being below it [-]."""


def checks(estimate: Estimate) -> list[Line]:
    """Return the lines about errors of mesh and model that the computation itself tells."""
    stamp, work, found = estimate.provenance, estimate.work_piece, []
    for what, error in (
        ("flux", stamp.flux_discretisation_error),
        ("leakage", stamp.leakage_discretisation_error),
    ):
        found.append(Line(label=f"mesh error, {what}", value=_share(error)))
    unknowns = f"{stamp.mesh_unknowns} planar, {stamp.end_region_unknowns} in the end turns"
    found.append(Line(label="unknowns of the fields", value="", note=unknowns))
    found += lines_of(estimate, "leakage", estimate.leakage, ["recipe_permeance"])
    shorted = estimate.short_circuit
    if isinstance(shorted.phasor_difference, Unknown):
        found += lines_of(estimate, "short_circuit", shorted, ["phasor_difference"])
    else:
        label = "largest difference of phasor currents from the time domain, lead ends joined"
        found.append(Line(label=label, value=_share(shorted.phasor_difference)))
    if work:
        label = "of the burst's energy, what the balance does not account for"
        found.append(Line(label=label, value=_share(work.energy_imbalance / work.energy)))
    return found


def _share(share: float) -> str:
    size = abs(share)
    return percent(size) if size >= LEAST else f"below {percent(LEAST)}"
