"""Does the core saturate at mains voltage, and with how many turns more in the primary does it not?"""

from __future__ import annotations

from pathlib import Path

import fem


def main(*, voltage: float = 230.0, limit: float = 1.4, picture: Path | None = None) -> tuple[float, int]:
    """Plug the shop's transformer in, with nothing on its lead ends.

    Parameters
    ----------
    voltage
        Of the mains [V], r.m.s.
    limit
        Peak flux density to keep to [T].
    picture
        Where to draw idle current against mains voltage: beyond the knee it shoots up.

    Returns
    -------
    float
        Peak flux density in the centre leg's iron [T].
    int
        Turns to add in series with the primary [-]; 0 where it keeps to the limit as it is.

    Raises
    ------
    ValueError
        If no number of turns can be found.
    """
    design = fem.example_design().vary("mains.voltage", voltage).vary("limits.flux_density", limit)
    kept = fem.Kept()
    found = fem.estimate(design, wanted={fem.Part.REMEDIES}, characteristics=kept)
    extra = found.saturation.extra_turns
    if isinstance(extra, fem.Unknown):
        raise ValueError(extra.reason)
    if picture is not None:
        from fem.examples.drawing import draw

        volts = [share / 100 * voltage for share in range(60, 115, 5)]
        idle = [fem.estimate(design.vary("mains.voltage", v), wanted=set(), characteristics=kept).idle for v in volts]
        points = [(v, state.current_rms) for v, state in zip(volts, idle, strict=True)]
        draw(
            picture,
            points,
            (voltage, found.idle.current_rms),
            across="mains [V]",
            along="idle current [A]",
            mark="the shop's mains",
        )
    return found.saturation.peak_flux_density, extra


if __name__ == "__main__":
    print("{:.2f} T in the leg; {} turns more keep to 1.4 T".format(*main()))
