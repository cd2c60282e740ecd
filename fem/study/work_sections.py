"""The section of an estimate about the work piece: the burst, and what it would settle at."""

from __future__ import annotations

import numpy as np

from fem.lumped.work_piece import heat, settle, work_piece_line
from fem.lumped.work_piece_results import HeatingRun, milestones
from fem.study import results_bench
from fem.study.sections import Case


def work_piece(case: Case) -> tuple[results_bench.WorkPieceState, HeatingRun] | tuple[None, None]:
    """Return the work in a burst and the run behind it; None without a work piece."""
    given = case.design.work_piece
    if given is None:
        return None, None
    chain, frequency = given.chain(), case.circuit.frequency
    line = work_piece_line(chain, case.circuit)
    run = heat(
        chain,
        line,
        duration=given.duration,
        start_temperature=given.ambient,
        frequency=frequency,
        switch_off=given.switch_off,
    )
    reached = milestones(run, given.target_temperature)
    lasting = settle(chain, line, start_temperature=given.ambient, frequency=frequency)
    end = int(np.flatnonzero(run.current_rms > 0)[-1])
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
        settles_at=lasting.temperature,
        energy=energy.electric,
        energy_stored_share=energy.stored / energy.electric,
        energy_imbalance=energy.imbalance,
    ), run


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
    if state.settles_at is None:
        reasons["work_piece.settles_at_K"] = "it melts through before it settles"
    return reasons
