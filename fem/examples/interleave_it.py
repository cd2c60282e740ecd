"""What does it bring to part the primary in halves below and above the new winding, before any of it is wound?"""

from __future__ import annotations

from pathlib import Path

import fem


def main(*, picture: Path | None = None) -> tuple[float, float]:
    """Compare the leakage of the shop's windings, one above the other, with that of the same ones interleaved.

    Parameters
    ----------
    picture
        Where to draw current against load resistance, interleaved, and the short circuit of the windings as they are.

    Returns
    -------
    side_by_side, interleaved : float
        Leakage reactance of the windings, seen from the secondary [ohm].
    """
    design = fem.example_design()
    parted = {**design.windings.model_dump(exclude_unset=True), "arrangement": "interleaved", "ends": "primary"}
    kept = fem.Kept()
    as_it_is = fem.estimate(design, wanted=set(), characteristics=kept)
    interleaved = fem.estimate(design.vary("windings", parted), wanted=set(), characteristics=kept)
    before, after = (
        found.leakage.window_reactance_secondary + found.leakage.end_turn_reactance_secondary
        for found in (as_it_is, interleaved)
    )
    if picture is not None:
        from fem.examples.drawing import draw

        loads = [0.1e-3 * 1.5**step for step in range(10)]
        states = [
            fem.estimate(
                design.vary("windings", parted).vary("load.resistance", load), wanted=set(), characteristics=kept
            ).load
            for load in loads
        ]
        points = [(1e3 * load, state.current_rms) for load, state in zip(loads, states, strict=True) if state]
        shorted = (0.0, as_it_is.short_circuit.secondary_current_rms)
        draw(picture, points, shorted, across="load [mohm]", along="current [A]", mark="shorted, one above the other")
    return before, after


if __name__ == "__main__":
    print("{:.2e} ohm one above the other, {:.2e} ohm interleaved".format(*main()))
