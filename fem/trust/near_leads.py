"""The magnetic field beside the leads, against the reference levels for people."""

from __future__ import annotations

from math import inf, pi, sqrt

from fem.constants import MU0
from fem.digits import brief
from fem.trust.caution import Caution, Danger

PUBLIC = ((8.0, 0.04, 2), (25.0, 5e-3, 1), (400.0, 0.2e-3, 0), (3000.0, 0.08, 1))
"""Reference levels of the public, r.m.s.: up to which frequency [Hz] they are c/f^n, c in T Hz^n, and n. ICNIRP 2010,
Health Phys. 99:818-836, as reprinted in Bioelectromagnetism, table 7.3."""
WORKER = ((8.0, 0.2, 2), (25.0, 25e-3, 1), (300.0, 1e-3, 0), (3000.0, 0.3, 1))
"""The same at work."""
FIELD_DISTANCES = (0.1, 0.2, 0.5)
"""From the nearer lead's axis to the body [m]."""


def reference_level(table: tuple[tuple[float, float, int], ...], frequency: float) -> float:
    """Return a reference level [T], r.m.s., of `PUBLIC` or `WORKER` at a frequency from 1 to 3000 Hz."""
    for upper, factor, power in table:
        if frequency <= upper:
            return factor / frequency**power
    msg = f"frequency must lie within 1 and 3000 Hz, got {frequency!r}"
    raise ValueError(msg)


def lead_field(current: float, distance: float, spacing: float = inf) -> float:
    """Return the largest flux density [T] at a distance from the nearer of two leads, go and return.

    Parameters
    ----------
    current
        R.m.s. [A].
    distance
        From the nearer lead's axis [m], > 0; inside its cable the formula tells too much.
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
    share = 1.0 if spacing == inf else spacing / max(distance, spacing - distance)
    return MU0 * current / (2 * pi * distance) * share


def field_reach(current: float, level: float, spacing: float = inf) -> float:
    """Return up to which distance [m] from the nearer lead's axis a flux density [T] is reached; as `lead_field`."""
    alone = MU0 * current / (2 * pi * level)
    if spacing == inf:
        return alone
    if 4 * alone >= spacing:
        return sqrt(alone * spacing)
    return 0.5 * (spacing - sqrt(spacing * (spacing - 4 * alone)))


def near_leads(current: float, frequency: float, spacing: float | None = None) -> Caution:
    """Tell the field of the leads that carry an r.m.s. current [A] at a frequency [Hz]; of one where no spacing [m]."""
    apart = inf if spacing is None else spacing
    worker, public = reference_level(WORKER, frequency), reference_level(PUBLIC, frequency)
    beside = ", ".join(
        f"{brief(lead_field(current, r, apart) * 1e3, 2)} mT at {r * 100:.0f} cm" for r in FIELD_DISTANCES
    )
    pair = "one lead by itself makes" if spacing is None else f"the leads, {brief(apart * 1e3, 2)} mm apart, make"
    parted = (
        ""
        if spacing is None
        else (
            f" Where go and return part, as round the work, it is near that of one lead by itself: to "
            f"{_metres(field_reach(current, worker))} and {_metres(field_reach(current, public))}."
        )
    )
    text = (
        f"Shorted, {pair} up to {beside} from the nearer one's axis. Reference levels at {brief(frequency)} Hz are "
        f"{brief(worker * 1e3, 2)} mT at work, reached up to {_metres(field_reach(current, worker, apart))} away, and "
        f"{brief(public * 1e3, 2)} mT for the public, up to {_metres(field_reach(current, public, apart))} "
        f"(ICNIRP 2010).{parted} Keep go and return together and the body out of their loop; nobody with a pacemaker "
        "or other implant near."
    )
    return Caution(about="magnetic field", text=text, danger=Danger.KILLS)


def _metres(length: float) -> str:
    """Write a distance: centimetres below a metre."""
    return f"{brief(length, 2)} m" if length >= 1 else f"{brief(length * 100, 2)} cm"
