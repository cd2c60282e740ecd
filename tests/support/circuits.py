"""Invented circuits and curves for relations that hold for any."""

from math import pi

import numpy as np

from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.loss_curve import CoreLossCurve


def saturating_curve() -> MagnetisingCurve:
    """Return an invented curve: any odd rising one serves these relations."""
    ampere_turns = np.concatenate([[0.0], np.geomspace(2.0, 1e5, 28)])
    flux = 4e-3 * np.arctan(ampere_turns / 40.0) + 2.5e-8 * ampere_turns
    return MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=flux)


def sheet_curve() -> MagnetisingCurve:
    """Return an invented curve with a knee, 60 um of joints and air beyond 2 T, such as a core of sheet has."""
    field = np.geomspace(8, 3e5, 30)
    density = 2.05 * (2 / pi) * (0.72 * np.arctan(pi / 2 * field / 60) + 0.28 * np.arctan(field / 6000))
    density += 4e-7 * pi * field
    excitation = 0.32 * field + density / (4e-7 * pi) * 6e-5
    return MagnetisingCurve(ampere_turns=np.r_[0, excitation], flux_per_turn=np.r_[0, 3e-3 * density])


def square_loss(conductance: float, frequency: float = 50.0) -> CoreLossCurve:
    """Return a loss whose conductance per turn squared [S] is the same at every flux."""
    flux = np.array([1e-3, 2e-3])
    return CoreLossCurve(flux_per_turn=flux, loss=conductance * (2 * pi * frequency * flux) ** 2 / 2)


def straight_curve(permeance: float = 4e-5) -> MagnetisingCurve:
    """Return a curve without saturation, of this many henries per turn squared."""
    ampere_turns = np.array([0.0, 50.0, 100.0])
    return MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=permeance * ampere_turns)


def circuit(**changes: object) -> Circuit:
    """Return an invented circuit, saturating unless `magnetising` says otherwise."""
    numbers: dict[str, object] = {
        "voltage_rms": 230.0,
        "frequency": 50.0,
        "source_resistance": 0.4,
        "source_inductance": 3e-4,
        "primary_turns": 200,
        "secondary_turns": 3,
        "primary_resistance": 1.2,
        "secondary_resistance": 4e-4,
        "lead_resistance": 6e-4,
        "lead_inductance": 4e-7,
        "leakage_permeance": 1.5e-7,
        "magnetising": saturating_curve(),
        "core_loss": CoreLossCurve(flux_per_turn=[1e-3, 6e-3], loss=[1.0, 36.0]),
    }
    return Circuit(**(numbers | changes))


def straight_circuit(permeance: float = 4e-5, **changes: object) -> Circuit:
    """Return the same with a straight magnetising curve."""
    return circuit(magnetising=straight_curve(permeance), **changes)
