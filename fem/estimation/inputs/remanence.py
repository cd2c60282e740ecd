"""The flux that the core keeps from the last switching off: the most that its kind of joint is known to leave."""

from __future__ import annotations

from dataclasses import dataclass

from fem.arrays import Number
from fem.assumptions import assumed
from geometries.cores.stacked import StackedCore


@dataclass(frozen=True, kw_only=True, slots=True)
class Remanence:
    """What is taken at every switching-on, with the lead ends open and joined.

    Parameters
    ----------
    flux_per_turn
        (...,) [Wb].
    why
        In words.
    """

    flux_per_turn: Number
    why: str


def remanence_of(core: StackedCore, peak_flux_per_turn: float) -> Remanence:
    """Return the remanence of a core that was switched off from its idle state.

    Parameters
    ----------
    peak_flux_per_turn
        Idle [Wb].

    Notes
    -----
    Residual flux goes by what drives it back, the gaps over the path, so its range is told by the kind of joint and as
    a share of the idle peak. The worst moment of closing is taken with its upper end, of the same sign as the flux to
    come: both together bound the first peak.
    """
    kind = "leg gap" if core.leg_gap is not None else core.joint.value if core.joint_told else "joint not told"
    share = assumed(f"remanence, {kind}").high
    left = (
        "a gap in the leg leaves"
        if core.leg_gap is not None
        else f"{core.joint.value if core.joint_told else 'any'} joints leave"
    )
    return Remanence(
        flux_per_turn=share * peak_flux_per_turn, why=f"{share:.0%} of the no-load peak, the most that {left}"
    )
