"""How many turns of one welding cable drive most current through the blade?"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import fem


def main(*, turns: Iterable[int] = range(1, 7), load: float = 1.5e-3, picture: Path | None = None) -> tuple[int, float]:
    """Wind one cable on the space of the shop's transformer, once, twice, ...

    More turns give more volts, but leakage and resistance grow with their square: somewhere in between lies the most.

    Parameters
    ----------
    turns
        To try [-].
    load
        Of the blade between the lead ends [ohm].
    picture
        Where to draw current against turns.

    Returns
    -------
    int
        The turns [-].
    float
        The current they drive [A], r.m.s.
    """
    design = fem.example_design().vary("windings.secondary.wires_in_hand", 1).vary("load.resistance", load)
    # one space for all; a few conductors lie in it one by one, so each number of turns has a field of its own
    design = design.vary("windings.secondary.height", "36 mm").vary("windings.secondary.build", "22.6 mm")
    rows = fem.sweep(design, {"windings.secondary.turns": turns})
    found = [(int(row.point["windings.secondary.turns"]), float(row.results["load.current_rms_A"])) for row in rows]
    most = max(found, key=lambda one: one[1])
    if picture is not None:
        from fem.examples.drawing import draw

        draw(picture, found, most, across="turns", along="current through the blade [A]", mark="most current")
    return most


if __name__ == "__main__":
    print("{} turns drive {:.0f} A".format(*main()))
