"""How fast a current heats its own conductor with no heat escaping: a bound on a burst."""

from __future__ import annotations

from collections.abc import Iterator

from fem.assumptions import assumed
from fem.constants import ZERO_CELSIUS
from fem.design.transformer import Design
from fem.digits import brief
from fem.heat.adiabatic import adiabatic_time
from fem.materials.metals import metal
from fem.trust.caution import Caution, Danger

INSULATION_END = 433.15
"""Temperature [K] at which PVC insulation is given up after a short circuit, 160 degC: BS 7671, table 54.2."""
LONGEST_BURST = assumed("slow heating").typical
"""Heating slower than this [s] is not warned of: the heat escapes meanwhile."""


def heats_fast(
    design: Design, areas: tuple[float, float], state: str, primary: float, secondary: float
) -> Iterator[Caution]:
    """Warn of conductors that a state heats to the end of their insulation within a burst (IEC 60949, adiabatic).

    Parameters
    ----------
    design
        What is built.
    areas
        Conducting sections of primary and secondary [m2].
    state
        In words, for the beginning of the sentence.
    primary, secondary
        R.m.s. currents [A].
    """
    windings, leads = design.windings, design.leads
    parts = [
        ("primary", windings.primary.material, primary / areas[0]),
    ]
    if design.work_piece is None or design.work_piece.ring is None:
        parts.append(("secondary", windings.secondary.material, secondary / areas[1]))
    if leads is not None and leads.length > 0:
        parts.append(("leads", leads.material, secondary / leads.conductor.area))
    times = []
    for name, material, density in parts:
        if density <= 0 or design.temperature >= INSULATION_END:
            continue
        seconds = float(adiabatic_time(metal(material), density, design.temperature, INSULATION_END))
        if seconds < LONGEST_BURST:
            times.append(f"{name} at {brief(density * 1e-6)} A/mm2 in {brief(seconds, 2)} s")
    if times:
        span = f"{design.temperature - ZERO_CELSIUS:.0f} to {INSULATION_END - ZERO_CELSIUS:.0f} degC"
        text = (
            f"{state}, bursts only: with no heat escaping the {', the '.join(times)} would go from {span}, the end of "
            "PVC insulation (IEC 60949)."
        )
        yield Caution(about="heat", text=text, danger=Danger.BURNS)
