"""How long may one burst be, and how much of the time may the current flow when they are repeated all day?"""

from __future__ import annotations

from pathlib import Path

import fem


def main(*, on_time: float = 2.2, off_time: float = 75.0, picture: Path | None = None) -> tuple[float, float]:
    """Let the shop's transformer braze one blade after the other.

    Parameters
    ----------
    on_time, off_time
        Of each burst, and between two [s].
    picture
        Where to draw how long a burst may be against the resistance it works into, cold machine.

    Returns
    -------
    float
        Longest single burst into the load, working life kept [s].
    float
        Share of the time in which the current may flow into blades, bursts repeated at that period [-].

    Raises
    ------
    ValueError
        If either is not known.
    """
    design = fem.example_design().vary("work_piece.switch_off", on_time)
    design = design.vary("duty.on_time", on_time).vary("duty.off_time", off_time)
    kept = fem.Kept()

    def asked(one: fem.Design) -> tuple[float, float]:
        found = fem.estimate(one, wanted={fem.Part.HEATING}, characteristics=kept)
        heating = found.heating
        if heating and heating.loaded and heating.loaded.longest and heating.duty and heating.duty.allowed_share:
            return heating.loaded.longest, heating.duty.allowed_share
        raise ValueError("; ".join(f"{key}: {reason}" for key, reason in found.reasons.items() if "heating" in key))

    found = asked(design)
    if picture is not None:
        from fem.examples.drawing import draw

        # Without the work piece, which is long to follow and nothing to what another load allows.
        bare = design.vary("work_piece", None)
        loads = (0.5e-3, 1.0e-3, 1.6e-3, 2.2e-3)
        points = [(1e3 * load, asked(bare.vary("load.resistance", load))[0]) for load in loads]
        mark = (1.6, found[0])
        draw(picture, points, mark, across="load [mohm]", along="longest burst [s]", mark="the shop's load")
    return found


if __name__ == "__main__":
    print("{:.0f} s at once, {:.1%} of the time all day".format(*main()))
