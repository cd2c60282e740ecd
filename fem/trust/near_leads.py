"""The magnetic field beside the leads, against the reference levels for people."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf, pi, sqrt

from fem.constants import MU0
from fem.digits import brief
from fem.trust.caution import Caution, Danger

PUBLIC = ((8.0, 0.04, 2), (25.0, 5e-3, 1), (400.0, 0.2e-3, 0), (3000.0, 0.08, 1))
"""Reference levels of the public, r.m.s.: up to which frequency [Hz] they are c/f^n, c in T Hz^n, and n. ICNIRP 2010,
Health Phys. 99:818-836, as reprinted in Bioelectromagnetism, table 7.3."""
WORKER = ((8.0, 0.2, 2), (25.0, 25e-3, 1), (300.0, 1e-3, 0), (3000.0, 0.3, 1))
"""The same at work."""
IMPLANT, STATIC_IMPLANT = 0.1e-3, 0.5e-3
"""Levels that wearers of implants keep below, r.m.s. at 50 and 60 Hz and static [T]: Oak Ridge National Laboratory and
University of California guidelines, read; ACGIH, from memory. Theirs is above the public's beyond some 800 Hz."""


def reference_level(table: tuple[tuple[float, float, int], ...], frequency: float) -> float:
    """Return a reference level [T], r.m.s., of `PUBLIC` or `WORKER` at a frequency from 1 to 3000 Hz."""
    for upper, factor, power in table:
        if frequency <= upper:
            return factor / frequency**power
    msg = f"frequency must lie within 1 and 3000 Hz, got {frequency!r}"
    raise ValueError(msg)


def field_reach(current: float, level: float, spacing: float = inf) -> float:
    """Return up to which distance [m] from the nearer of two leads' axes a flux density [T] is reached.

    Parameters
    ----------
    current
        R.m.s. [A].
    level
        The flux density, r.m.s. [T].
    spacing
        Centre to centre [m]; infinite for one lead by itself.

    Notes
    -----
    Of two long straight leads B = mu0 I/(2 pi) d/(r_1 r_2): their fields mu0 I/(2 pi r) add as vectors, at the angle
    under which the spacing d is seen. With r_1 = r the nearer, r_2 is at least r, and d - r between the leads:

        B <= mu0 I/(2 pi) d/(r max(r, d - r)),

    reached abreast of the pair (r >= d/2) or between the leads. Out of one lead's side in the leads' plane it is less,
    with r + d for r_2. Any text on electromagnetism; from memory.
    """
    alone = MU0 * current / (2 * pi * level)
    if spacing == inf:
        return alone
    if 4 * alone >= spacing:
        return sqrt(alone * spacing)
    return 0.5 * (spacing - sqrt(spacing * (spacing - 4 * alone)))


def near_leads(current: float, frequency: float, spacing: float | None = None) -> Iterator[Caution]:
    """Tell how far to keep from leads, or one where no spacing [m], of an r.m.s. current [A] at a frequency [Hz]."""
    apart = inf if spacing is None else spacing
    worker, public = reference_level(WORKER, frequency), reference_level(PUBLIC, frequency)
    implant = min(IMPLANT, public)
    leads = "a lead" if spacing is None else "the leads"
    text = (
        f"No pacemaker or other implant within {_metres(field_reach(current, implant, apart))} of {leads}. There "
        f"{brief(current)} A {'' if spacing is None else f'{brief(apart * 1e3, 2)} mm apart '}make "
        f"{brief(implant * 1e3, 2)} mT at {brief(frequency)} Hz, more where leads part; of a static part "
        f"{STATIC_IMPLANT * 1e3:g} mT counts."
    )
    yield Caution(
        about="magnetic field",
        text=text,
        danger=Danger.KILLS,
        source="Oak Ridge National Laboratory; ACGIH, from memory",
    )
    text = (
        f"Keep people {_metres(field_reach(current, public, apart))} from the leads, yourself "
        f"{_metres(field_reach(current, worker, apart))}. There it is at the "
        f"reference level of {brief(public * 1e3, 2)} mT, at work {brief(worker * 1e3, 2)} mT. Keep go and return "
        "together, the body out of their loop."
    )
    yield Caution(about="magnetic field", text=text, danger=Danger.DISTURBS, source="ICNIRP 2010")


def _metres(length: float) -> str:
    """Write a distance: centimetres below a metre."""
    return f"{brief(length, 2)} m" if length >= 1 else f"{brief(length * 100, 2)} cm"
