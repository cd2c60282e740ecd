"""Which causes a machine may have, with the sizes they come in: common practice, no source, where no other is named."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fem.arrays import Floats, of_each
from fem.circuit.instruments import FORM_FACTOR, Meter
from fem.circuit.steady.half_period import first_half
from fem.constants import MU0
from fem.estimation.case import Case
from fem.estimation.inputs.joints import joints_of
from fem.fitting.causes.cause import Cause, Doubts
from fem.fitting.unknowns import PRIMARY
from fem.readings.conditions import Energised
from fem.readings.described import NoLoad
from fem.readings.reading import Reading
from fem.readings.states import no_load_state
from fem.trust.doubt import Doubt, Kind
from fem.trust.draws import Draws
from fem.trust.steel_curve import POOR

CLOSED, OPPOSING, GAP, JOINT, OPEN, CLAMP, OFFSET = (
    f"cause.{what}" for what in ("closed", "opposing", "gap", "joint", "open", "clamp", "offset")
)
_CURRENTS = ("current", "primary_current", "secondary_current")


def causes_of(case: Case, doubts: Doubts, readings: Sequence[Reading]) -> Iterator[Cause]:
    """Yield what may be wrong with a machine, or the meters it was read with, beyond what is in doubt of it anyway.

    Parameters
    ----------
    case
        The machine as it is described.
    doubts
        What is in doubt of it in the fit.
    readings
        What was read: where they cannot show a cause, it is none.
    """
    design, there = case.design, {doubt.name: doubt for doubt in doubts}
    if PRIMARY not in there:
        yield Cause(key="wrong count", unknowns=(_size(PRIMARY, 1 / 1.12, 1.0, 1.12, drawn="factor", key=PRIMARY),))
    yield _gap(case)
    yield Cause(key="sheets", unknowns=(_size("core.stacking_factor", 0.80, 0.90, 0.97),))
    yield _poor_steel(there)
    yield Cause(key="shorted turn", unknowns=(_closed(case),), changed=_with_closed_turn, mended=True)
    opposing = _size(OPPOSING, 0.01, 0.035, 0.12)
    yield Cause(key="opposing turns", unknowns=(opposing,), changed=_with_opposing_turns, mended=True)
    yield Cause(key="shunts", unknowns=(_leakage(case, 0.25, 1.2, 6.0),), mended=True)
    if design.windings.secondary.turns > 1:
        yield Cause(
            key="half turn", unknowns=(_leakage(case, 0.03, 0.2, 1.0),), changed=_without_half_a_turn, mended=True
        )
    if design.windings.secondary.wires_in_hand > 1:
        yield Cause(key="sharing", unknowns=(_size("secondary.resistance", 1.1, 1.3, 2.0),))
    yield _bad_joint(case)
    if design.leads is not None and design.leads.has_cable:
        length = design.leads.length
        longer = _size("leads.length", 0.03 * length, 0.2 * length, length)
        yield Cause(key="wide loop", unknowns=(_size("leads.spacing", 1.5, 4.0, 12.0), longer))
    yield Cause(key="weak mains", unknowns=(_size("mains.source_impedance", 1.6, 4.0, 12.0),))
    yield from _meters(readings)
    if any(_on_mains(reading) for reading in readings):
        yield Cause(key="half wave", unknowns=(_size(OFFSET, 0.03, 0.1, 0.3),), seen=_half_wave, mended=True)


def _size(
    name: str, low: float, typical: float, high: float, kind: Kind = "lognormal", drawn: Any = "value", key: str = ""
) -> Doubt:
    return Doubt(name=name, kind=kind, low=low, typical=typical, high=high, drawn=drawn, key=key, words=name)


def _gap(case: Case) -> Cause:
    """Return joints that are open by more than told: by their own key, or where sheets bridge them, by one more gap."""
    if "core.joint_gap" in case.slopes.keys:
        return Cause(key="gap", unknowns=(_size("core.joint_gap", 0.05e-3, 0.2e-3, 0.8e-3),))
    return Cause(key="gap", unknowns=(_size(GAP, 0.03e-3, 0.1e-3, 0.5e-3),), changed=_with_gap)


def _with_gap(case: Case, draws: Draws) -> Case:
    """Add a gap as wide as the leg, its fringes left out: ampere-turns in proportion to the flux."""
    given = case.given
    assert given is not None
    core, curve = (case.drawn_of or case).design.core, given.circuit.magnetising
    per_flux = draws[GAP] / (MU0 * core.leg_width * core.stack_depth)
    more = per_flux[:, None] * curve.flux_per_turn
    return _circuit(case, magnetising=replace(curve, ampere_turns=curve.ampere_turns + more))


def _poor_steel(there: dict[str, Doubt]) -> Cause:
    """Return steel of another grade: field, loss and what it saturates at; measured grades differ so much and more."""
    flux = _size("steel.flux", 0.92, 0.96, 1.0)
    loss = there["loss.grade"]
    lossy = _size("loss.grade", 1.1 * loss.typical, 1.6 * loss.typical, 2.5 * loss.typical)
    return Cause(key="poor steel", unknowns=(_size(POOR, 1.3, 1.9, 3.5), flux, lossy))


def _closed(case: Case) -> Doubt:
    """Return the ohms of a closed turn: from several of the primary's to one with a poor contact."""
    primary = case.design.windings.primary
    turn = case.windings.primary.resistance / primary.net_turns
    return _size(CLOSED, 0.5 * turn, 4 * turn, 30 * turn)


def _with_closed_turn(case: Case, draws: Draws) -> Case:
    """Add its loss to the core's, as a conductance: its own leakage is a hundredth of its ohms."""
    assert case.given is not None
    circuit = case.given.circuit
    curve = circuit.core_loss
    volts = np.asarray(circuit.angular_frequency / np.sqrt(2)) * curve.flux_per_turn
    return _circuit(case, core_loss=replace(curve, loss=curve.loss + volts**2 / draws[CLOSED][:, None]))


def _with_opposing_turns(case: Case, draws: Draws) -> Case:
    assert case.given is not None
    return _circuit(case, primary_turns=case.given.circuit.primary_turns * (1 - 2 * draws[OPPOSING]))


def _leakage(case: Case, low: float, typical: float, high: float) -> Doubt:
    """Return leakage beyond that of the fields, as shares of it."""
    band = case.found.leakage.band
    return _size("model.leakage", low / band, typical / band, high / band)


def _without_half_a_turn(case: Case, draws: Draws) -> Case:
    assert case.given is not None
    return _circuit(case, secondary_turns=case.given.circuit.secondary_turns - 0.5)


def _bad_joint(case: Case) -> Cause:
    """Return a joint of milliohms: in the kind of joints of which there are most, or as one of its own."""
    groups = [group for group in joints_of(case.design).groups if group.kind]
    if not groups:
        return Cause(key="bad joint", unknowns=(_size(JOINT, 0.3e-3, 1.5e-3, 8e-3),), changed=_with_joint)
    most = max(groups, key=lambda group: group.count)
    ohms = sum(group.resistance.typical for group in groups if group.kind == most.kind)
    low, typical, high = (1 + each / ohms for each in (0.3e-3, 1.5e-3, 8e-3))
    return Cause(key="bad joint", unknowns=(_size(f"joints.{most.kind}", low, typical, high),))


def _with_joint(case: Case, draws: Draws) -> Case:
    given = case.given
    assert given is not None
    circuit = replace(given.circuit, lead_resistance=given.circuit.lead_resistance + draws[JOINT])
    return replace(case, given=replace(given, circuit=circuit, joints=given.joints + draws[JOINT]))


def _circuit(case: Case, **numbers: Any) -> Case:
    assert case.given is not None
    return replace(case, given=replace(case.given, circuit=replace(case.given.circuit, **numbers)))


def _meters(readings: Sequence[Reading]) -> Iterator[Cause]:
    true = any(r.meter is Meter.TRUE_RMS and r.quantity in _CURRENTS for r in readings)
    if true:
        yield Cause(key="meter", read=_averaged, mended=True)
    if clamped := [reading.value for reading in readings if _by_clamp(reading)]:
        most = max(clamped)
        unknowns = (_size(OPEN, 0.70, 0.88, 0.98), _size(CLAMP, 0.8 * most, 3 * most, 10 * most))
        yield Cause(key="clamp", unknowns=unknowns, read=_averaged, seen=_given_way, mended=True)


def _by_clamp(reading: Reading) -> bool:
    test = reading.test
    return reading.quantity in _CURRENTS and (
        reading.quantity == "secondary_current" or (isinstance(test, Energised) and test.clamp_range is not None)
    )


def _averaged(readings: Sequence[Reading]) -> Sequence[Reading]:
    return [
        replace(r, meter=Meter.AVERAGING) if r.meter is Meter.TRUE_RMS and r.quantity in _CURRENTS else r
        for r in readings
    ]


def _given_way(case: Case, draws: Draws, readings: Sequence[Reading], shown: Floats) -> Floats:
    """Let clamps show less: all alike where their jaws do not close, and more so the more amperes saturate their iron.

    Iron that gives way passes what is small and holds what is great at its limit: a fourth power joins both.
    """
    clamped = np.array([_by_clamp(reading) for reading in readings])
    low = draws[OPEN] * shown * (1 + (shown / draws[CLAMP]) ** 4) ** -0.25
    return np.where(clamped[:, None], low, shown)


def _on_mains(reading: Reading) -> bool:
    test = reading.test
    if isinstance(test, NoLoad):
        return test.on_mains and test.lamp is None and reading.quantity in ("current", "power")
    return False


def _half_wave(case: Case, draws: Draws, readings: Sequence[Reading], shown: Floats) -> Floats:
    """Shift the flux of no-load runs on the mains: meters of alternating current and watts see what that adds.

    The flux swings as before about another middle. What the shift adds to the drop along source and winding is left
    out: below a hundredth of the volts.
    """
    shown = shown.copy()
    for place, reading in enumerate(readings):
        if not (_on_mains(reading) and isinstance(reading.test, NoLoad)):
            continue
        circuit, state, _ = no_load_state(case, reading.test)
        flux = np.concatenate([half := first_half(state.flux_per_turn), -half], axis=-1)
        before = np.concatenate([half := first_half(state.current), -half], axis=-1)
        curve = circuit.magnetising
        shift = (draws[OFFSET] * np.asarray(state.peak_flux_per_turn))[:, None]
        more = curve.ampere_turns_at(flux + shift) - curve.ampere_turns_at(flux)
        after = before + more / np.asarray(circuit.primary_turns)[..., None]
        after = after - after.mean(axis=-1, keepdims=True)
        if reading.quantity == "power":
            squares = np.mean(after**2, axis=-1) - np.mean(before**2, axis=-1)
            shown[place] += circuit.primary_resistance * squares
        else:
            shown[place] = np.where(np.isnan(shown[place]), np.nan, _shown(reading.meter, after))
    return shown


def _shown(meter: Meter | None, wave: Floats) -> Any:
    """Return what a meter shows of whole periods without their mean (members, n)."""
    if meter is Meter.AVERAGING:
        return of_each(FORM_FACTOR * np.mean(np.abs(wave), axis=-1))
    if meter in (Meter.PEAK, Meter.PEAK_AS_RMS):
        return np.abs(wave).max(axis=-1) / (np.sqrt(2) if meter is Meter.PEAK_AS_RMS else 1.0)
    return np.sqrt(np.mean(wave**2, axis=-1))
