"""The magnetic field beside the leads, against the reference levels for people."""

from __future__ import annotations

from math import pi

from fem.constants import MU0
from fem.digits import brief
from fem.trust.caution import Caution

PUBLIC_FIELD, WORKER_FIELD = 0.2e-3, 1e-3
"""Reference levels of magnetic flux density at 50 and 60 Hz, r.m.s. [T]: ICNIRP 2010, Health Phys. 99:818-836."""
FIELD_DISTANCES = (0.1, 0.2, 0.5)
"""From the lead's axis to the body [m]."""


def lead_field(current: float, distance: float) -> float:
    """Return the flux density [T] beside one long straight conductor: mu0 I/(2 pi r).

    Parameters
    ----------
    current
        R.m.s. [A].
    distance
        From its axis [m], > 0.
    """
    return MU0 * current / (2 * pi * distance)


def near_leads(current: float) -> Caution:
    """Tell the field of one lead by itself that carries an r.m.s. current [A]."""
    beside = ", ".join(f"{brief(lead_field(current, r) * 1e3, 2)} mT at {r * 100:.0f} cm" for r in FIELD_DISTANCES)
    reach = [lead_field(current, 1.0) / level for level in (WORKER_FIELD, PUBLIC_FIELD)]
    text = (
        f"Shorted, one lead by itself makes {beside}. Reference levels are 1 mT at work, reached at "
        f"{brief(reach[0] * 100, 2)} cm, and 0.2 mT for the public, at {brief(reach[1], 2)} m (ICNIRP 2010). Keep go "
        "and return together and the body out of their loop; nobody with a pacemaker or other implant near."
    )
    return Caution(about="magnetic field", text=text)
