"""What repeated bursts allow: the duty of a current, the steady current that heats as much."""

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, positive
from fem.errors import NotConverged
from fem.heat.lumps import Lumps
from fem.heat.share import Duty, Flows, Search


def allowed_duties(
    lumps: Lumps,
    flows: Flows,
    *,
    period: ArrayLike | None = None,
    on_time: ArrayLike | None = None,
    off: Floats,
    resolution: float = 1e-3,
) -> list[Duty | NotConverged]:
    """Find the largest share of on-time at which no insulated part passes its limit, of m machines side by side.

    Parameters
    ----------
    lumps
        With a leading axis; some node must have insulation.
    flows
        During bursts; see `Flows`.
    period
        Of one burst and one pause [s], > 0; the burst is longer or shorter. Of all, or of each (m,), not a number where
        the other is given.
    on_time
        Likewise of a burst that keeps its length [s], > 0, in place of a period: the pause is longer or shorter.
    off
        (3, 1) or (3, m) between bursts.
    resolution
        Of the share, relative [-], within 1e-6 and 0.1.

    Returns
    -------
    list
        Of each machine; where its share is not found, that: the others stand.

    Raises
    ------
    NotConverged
        If temperatures at which a state settles are not found.
    ValueError
        If not one of period and on_time is given, or not above 0, or no node has insulation.

    Notes
    -----
    One Newton step from cycle to cycle for both the beginning's temperatures T and the share x: a pass from T tells, by
    its own derivatives, where the cycle would settle at this share and how far its peaks would be over their limits;
    the secant through the last two shares, T going with x in proportion, gives the next. Peaks rise with the share, so
    that what was too hot and what was not encloses it. Currents follow from the mean of the temperatures at beginning
    and peak. A cycle that passes the data's end, or whose modes grow, counts as too hot. The share told keeps to the
    limits, by no more than half the resolution.
    """
    shape = (lumps.members,)
    whole, keeps = (
        np.broadcast_to(np.nan if t is None else np.asarray(t, dtype=float), shape) for t in (period, on_time)
    )
    if np.any(np.isnan(whole) == np.isnan(keeps)):
        msg = f"one of period and on_time is needed, got {period!r} and {on_time!r}"
        raise ValueError(msg)
    given = np.where(np.isnan(keeps), whole, keeps)
    positive(time=given)
    if not 1e-6 <= resolution <= 0.1:
        msg = f"resolution must lie within 1e-6 and 0.1, got {resolution!r}"
        raise ValueError(msg)
    if np.isinf(lumps.limits).all():
        msg = f"none of {', '.join(lumps.parts)} has insulation to be held against"
        raise ValueError(msg)
    off = np.broadcast_to(off, (3, *shape))
    return Search(lumps, flows, given, off, ~np.isnan(keeps), resolution).run()


def equivalent_current(current: ArrayLike, share: ArrayLike, idle_current: ArrayLike = 0.0) -> Floats:
    """Return the steady current (...,) [A] that heats as much as bursts far shorter than the time constant.

    Parameters
    ----------
    current
        (...,) during bursts, r.m.s. [A].
    share
        (...,) on-time over period x [-], within 0 and 1.
    idle_current
        (...,) between bursts, r.m.s. [A].

    Raises
    ------
    ValueError
        If a share is out of range.

    Notes
    -----
    sqrt(I1^2 x + I0^2 (1 - x)): the square law of duty, IEC 60974-1 (from memory). It says nothing of how hot one burst
    gets.
    """
    on, off, x = (np.asarray(given, dtype=np.float64) for given in (current, idle_current, share))
    fits = (x >= 0) & (x <= 1)
    if not fits.all():
        msg = f"share must lie within 0 and 1, got {float(x.flat[int(np.argmin(fits))])!r}"
        raise ValueError(msg)
    return np.asarray(np.sqrt(on**2 * x + off**2 * (1 - x)))
