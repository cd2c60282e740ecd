"""How fast a current heats its own conductor with no heat escaping: a bound on a burst."""

from __future__ import annotations

from fem.assumptions import assumed
from fem.design.transformer import Design
from fem.heat.adiabatic import adiabatic_time
from fem.materials.metals import metal

INSULATION_END = 433.15
"""Temperature [K] at which PVC insulation is given up after a short circuit, 160 degC: BS 7671, table 54.2."""
LONGEST_BURST = assumed("slow heating").typical
"""Heating slower than this [s] is not warned of: the heat escapes meanwhile."""


def adiabatic_burst(
    design: Design, areas: tuple[float, float], primary: float, secondary: float
) -> tuple[float, str] | None:
    """Return when the first conductor comes to the end of its insulation [s], no heat escaping (IEC 60949), and which.

    Parameters
    ----------
    design
        What is built.
    areas
        Conducting sections of primary and secondary [m2].
    primary, secondary
        R.m.s. currents [A].
    """
    windings, leads = design.windings, design.leads
    parts = [("primary", windings.primary.material, primary / areas[0])]
    if design.work_piece is None or design.work_piece.ring is None:
        parts.append(("secondary", windings.secondary.material, secondary / areas[1]))
    if leads is not None and leads.length > 0:
        parts.append(("leads", leads.material, secondary / leads.conductor.area))
    if design.temperature >= INSULATION_END:
        return None
    times = [
        (float(adiabatic_time(metal(material), density, design.temperature, INSULATION_END)), name)
        for name, material, density in parts
        if density > 0
    ]
    return min(times, default=None)
