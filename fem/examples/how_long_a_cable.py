"""How far from the bench may the transformer stand, and the blade still be hot enough when the burst ends?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import fem


def main(
    *,
    lengths: Sequence[float] = (0.8, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2),
    burst: float = 2.5,
    target: str = "700 degC",
    picture: Path | None = None,
) -> float:
    """Lengthen the cables of the shop's transformer until the blade stays too cold.

    Parameters
    ----------
    lengths
        Of the cables, go plus return [m], from the shortest.
    burst
        How long the current flows [s].
    target
        Temperature at which the solder flows.
    picture
        Where to draw the time it takes against the length.

    Returns
    -------
    float
        The greatest length that serves [m]; 0 if none does.
    """
    design = fem.example_design().vary("work_piece.switch_off", burst).vary("work_piece.target_temperature", target)
    rows = fem.sweep(design, {"leads.length": lengths}, wanted={fem.Part.WORK_PIECE})
    times = [(float(row.point["leads.length"]), row.results["work_piece.time_to_target_s"]) for row in rows]
    served = [(length, time) for length, time in times if time is not None]
    if picture is not None and served:
        from fem.examples.drawing import draw

        draw(picture, served, served[-1], across="cable [m]", along=f"time to {target} [s]", mark="longest cable")
    return max((length for length, _ in served), default=0.0)


if __name__ == "__main__":
    print(f"up to {main():.1f} m of cable")
