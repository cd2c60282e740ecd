"""Which law fills which part of a core's section."""

from __future__ import annotations

from fem.field.static.model import LawOf
from fem.field.static.problem import Law
from fem.kept import Recent
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from geometries.cores.stacked import Joint
from geometries.shapes.section import Region, Role

LINEAR_MU_R = 4000.0
"""Relative permeability of iron where it is taken as linear: leakage does not depend on it (0.1 % from 2000 up)."""

BRIDGED = 0.5
"""Share of the sheets that run through an interleaved joint: every other one."""


def saturating_iron(
    curve: BHCurve, stacking_factor: float, joint: Joint, shunt: BHCurve | None = None
) -> tuple[LawOf, Reluctivity, Reluctivity | None, Reluctivity]:
    """Return the laws of a core of laminated iron, of its legs and yokes, of bridged joints, if any, and of shunts.

    Shunts are stacked like the core, of their own sheet where one is given. A butt or welded joint is air. In an
    interleaved one every other sheet runs through, until it saturates: a mixture with half the iron.
    """
    iron = _LAWS.get((curve, stacking_factor), lambda: Reluctivity.of_lamination(curve, stacking_factor))
    bar = iron if shunt is None else Reluctivity.of_lamination(shunt, stacking_factor)
    bridge = joint_bridge(curve, stacking_factor, joint)

    def law_of(region: Region) -> Law | None:
        if region.role is Role.IRON:
            return iron
        if region.role is Role.SHUNT:
            return bar
        return bridge if region.role is Role.JOINT else None

    return law_of, iron, bridge, bar


_LAWS: Recent[Reluctivity] = Recent(16)
"""Of iron and of bridged joints; shunts' are laws of their own, whatever their sheet."""


def joint_bridge(curve: BHCurve, stacking_factor: float, joint: Joint) -> Reluctivity | None:
    """Return the law of a joint that neighbouring sheets bridge; None where it is a gap of air."""
    if joint is not Joint.INTERLEAVED:
        return None
    share = BRIDGED * stacking_factor
    return _LAWS.get((curve, share), lambda: Reluctivity.of_lamination(curve, share))


def linear_iron(mu_r: float = LINEAR_MU_R) -> LawOf:
    """Return the laws of a core of linear iron without joints; shunts are of the same iron."""
    law = Reluctivity.linear(mu_r)

    def law_of(region: Region) -> Law | None:
        return law if region.role in (Role.IRON, Role.JOINT, Role.SHUNT) else None

    return law_of
