"""The section of an estimate about the work piece: the burst, and what it would settle at."""

from __future__ import annotations

import numpy as np

from fem.estimation.case import Case, last_loaded
from fem.estimation.stations import results_bench
from fem.estimation.work_of import work_of
from fem.quantity import Band
from fem.work.burst import heat, settle, work_piece_line
from fem.work.run import milestones

CONTACTS = (0.5, 2.0)
"""What a contact closed anew may have of the resistance it had before [-]: common practice, no source."""
LONGER = 3.0
"""How much longer than the burst the current is left on to find when the target is reached."""
BAND_TOLERANCE = 0.5
"""Estimated error of one time step [K] where a band is looked for."""


def work_piece(case: Case) -> results_bench.WorkPieceState | None:
    """Return the work in a burst; None without a work piece."""
    given, run = case.design.work_piece, case.burst
    if given is None or run is None:
        return None
    reached = milestones(run, given.target_temperature)
    lasting = case.gaps.attempt(
        "work_piece.settles_at_K",
        lambda: settle(
            work_of(given), case.work_line, start_temperature=given.ambient, frequency=case.circuit.frequency
        ),
    )
    end = last_loaded(run)
    energy = run.energy
    return results_bench.WorkPieceState(
        cold_current_rms=float(run.current_rms[0]),
        hot_current_rms=float(run.current_rms[end]),
        cold_resistance=float(run.resistance[0]),
        hot_resistance=float(run.resistance[end]),
        hot_voltage_rms=float(run.voltage_rms[end]),
        hottest_temperature=float(run.hottest_temperature[end]),
        hottest_position=float(run.hottest_position[end]),
        jaw_temperature=float(run.jaw_temperature[end].max()),
        time_to_target=reached.target,
        time_to_visible_red=reached.visible_red,
        time_to_dull_red=reached.dull_red,
        time_to_melting=reached.melting_begins,
        settles_at=None if lasting is None else lasting.temperature,
        energy=energy.electric,
        # Where hot jaws or a hot piece give or take more than the current, the one is no part of the other.
        energy_stored_share=energy.stored / energy.electric if 0 <= energy.stored < 1.01 * energy.electric else None,
        energy_imbalance=energy.imbalance,
    )


def work_piece_bands(case: Case, state: results_bench.WorkPieceState | None) -> dict[str, Band]:
    """Return what better and worse contacts make of the burst: all of them half and twice what was given.

    To tell how long the target takes, the current is left on for longer than the burst.
    """
    given = case.design.work_piece
    if given is None or state is None or not given.has_contacts:
        return {}
    on = given.switch_off or given.duration
    hottest, currents, times = [state.hottest_temperature], [state.hot_current_rms], [state.time_to_target]
    for contacts in CONTACTS:
        chain = work_of(given, contacts=contacts)
        run = heat(
            chain,
            work_piece_line(chain, case.circuit),
            duration=LONGER * on,
            start_temperature=given.ambient,
            frequency=case.circuit.frequency,
            tolerance=BAND_TOLERANCE,
        )
        hottest.append(float(np.interp(on, run.time, run.hottest_temperature)))
        currents.append(float(np.interp(on, run.time, run.current_rms)))
        times.append(milestones(run, given.target_temperature).target)
    why = f"contacts {CONTACTS[0]:g} to {CONTACTS[1]:g} times what was given, common practice"
    found = {
        "work_piece.hottest_temperature_K": Band(low=min(hottest), high=max(hottest), why=why),
        "work_piece.hot_current_rms_A": Band(low=min(currents), high=max(currents), why=why),
    }
    reached = [time for time in times if time is not None]
    if state.time_to_target is not None and len(reached) == len(times):
        found["work_piece.time_to_target_s"] = Band(low=min(reached), high=max(reached), why=why)
    return found


def work_piece_reasons(case: Case, state: results_bench.WorkPieceState | None) -> dict[str, str]:
    """Return why results about the work are None."""
    given = case.design.work_piece
    if given is None or state is None:
        return {"work_piece": "no [work_piece] is described"}
    burst = f"not in the burst of {given.switch_off or given.duration:g} s"
    reasons = {
        f"work_piece.{name}_s": burst
        for name in ("time_to_target", "time_to_visible_red", "time_to_dull_red", "time_to_melting")
        if getattr(state, name) is None
    }
    if given.target_temperature is None:
        reasons["work_piece.time_to_target_s"] = "no work_piece.target_temperature is given"
    if state.energy_stored_share is None:
        reasons["work_piece.energy_stored_share"] = "the current is not what warms it"
    if state.settles_at is None:
        reasons["work_piece.settles_at_K"] = "it melts through before it settles"
    return reasons
