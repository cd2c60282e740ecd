"""A teaching transformer of 60 VA: loaded volts and watts by a fit to its own readings open and with its ends joined.

120 V to 60 V, 60 Hz; from a laboratory report of a technical university's course on power conversion (public notes): on
the 60 V side open, 15 V to 75 V; with the other side's ends joined, five currents up to the rated one; open 59.6 V at
120 V; then six resistances on the 60 V side, volts, amperes and watts read. Of digital meters of three digits half of
the last, some 0.3 % of any, and 1 % of watts; 0.1 % of volts near 59. At no load the watts go with a power of the volts
that lies between 1.6 and 2.0 from point to point: some 3 % of each, 5 % at most, and 2 % of the amperes.

Neither core nor turns are told, so what is fitted is a circuit alone: resistances, leakage, ratio, the steel's whole
curve at a guess of its flux density, loss as a power of the flux, all of them by factors that any transformer of its
size lies in. Readings on the 60 V side are those of the 120 V side by the ratio of the open volts. No loaded reading
goes in.
"""

from math import inf, pi, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fem.arrays import Floats
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.loss_curve import CoreLossCurve
from fem.fitting.fit import robust
from fem.fitting.measured import Measured
from fem.fitting.sampled import sample
from fem.materials.steel import steel
from fem.readings.described import Readings
from fem.readings.predict import predict
from fem.readings.reading import Reading, readings_of
from fem.trust.steel_curve import KNOTS, weights

OPEN = ((15, 0.0227, 0.248), (30, 0.0339, 0.771), (45, 0.0458, 1.576), (60, 0.0600, 2.50), (75, 0.0829, 3.92))
JOINED = (
    (4.26, 0.125, 0.362),
    (8.59, 0.250, 1.463),
    (12.73, 0.375, 3.17),
    (15.25, 0.450, 4.63),
    (17.09, 0.500, 5.75),
)
LOADED = (
    (0.0492, 59.3, 5.49),
    (0.0951, 59.1, 8.31),
    (0.1428, 58.7, 11.2),
    (0.1996, 58.6, 14.62),
    (0.2463, 58.3, 17.43),
    (0.2903, 57.9, 20.04),
)
"""Amperes and volts of the 60 V side, watts of the 120 V side, on 120 V."""
RATIO = 59.6 / 120
OMEGA, TURNS = 2 * pi * 60, 120.0
RATED = sqrt(2) * 120 / OMEGA / TURNS
"""Peak flux per turn at 120 V [Wb]."""


def taken(tests: dict[str, Any]) -> tuple[Reading, ...]:
    bench = {"meter": "true r.m.s.", "voltmeter": "true r.m.s."}
    return readings_of(Readings.model_validate({"bench": bench, **tests}, context={"job_file": True}))


def members(scores: Floats) -> Any:
    """Return what `predict` takes of a case: usual shares of 120 V and 0.5 A (from memory), each times e to a score.

    Resistances of both sides 5 % each, leakage 5 %, 10 % of the current and 5 % of the watts at no load.
    """
    factor = np.exp(np.asarray(scores, dtype=float))
    ratio, base = RATIO * factor[:, 3] ** 0.02, 120 / 0.5
    x = np.linspace(0.0, 1.6, 81)
    B = 1.2 * factor[:, 6, None] ** 0.15 * x
    by_knot = weights(B.ravel()).reshape(-1, *B.shape)
    H = steel("M530-50A").curve.field_strength(B) * np.exp(0.6 * np.einsum("nk,knx->nx", scores[:, 7:], by_knot))
    rising = np.maximum.accumulate(H, axis=1) + 1e-3 * x
    ampere_turns = sqrt(2) * TURNS * 0.05 * rising / steel("M530-50A").curve.field_strength(1.2)
    flux, ones = RATED * x, np.ones(len(factor))
    loss = 3.0 * factor[:, 4, None] * x[1:] ** (1.8 * factor[:, 5, None] ** 0.1)
    circuit = Circuit(
        voltage_rms=120.0 * ones,
        frequency=60.0,
        source_resistance=0.0,
        source_inductance=0.0,
        primary_turns=TURNS * ones,
        secondary_turns=TURNS * ratio,
        primary_resistance=0.05 * base * factor[:, 0],
        secondary_resistance=0.05 * base * factor[:, 1] * RATIO**2,
        lead_resistance=0.0 * ones,
        lead_inductance=0.0,
        leakage_permeance=0.05 * base * factor[:, 2] / OMEGA / TURNS**2,
        magnetising=MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=flux + 0 * ampere_turns),
        core_loss=CoreLossCurve(flux_per_turn=flux[1:] + 0 * loss, loss=loss),
    )
    found = SimpleNamespace(magnetising=SimpleNamespace(other_flux=lambda half: half, valid_to=inf))
    design = SimpleNamespace(fitted_shunt=None, load=None)
    return SimpleNamespace(alone=circuit, found=found, members=len(factor), given=None, design=design)


@pytest.mark.slow
def test_six_loads_by_readings_open_and_joined() -> None:
    to_120 = 1 / RATIO
    readings = taken(
        {
            "no_load": [
                {"primary_voltage": f"{v * to_120} V", "current": f"{i / to_120} A +-2 %", "power": f"{p} W +-5 %"}
                for v, i, p in OPEN
            ],
            "joined": [
                {"primary_voltage": f"{v} V", "primary_current": f"{i} A +-0.5 %", "power": f"{p} W +-1 %"}
                for v, i, p in JOINED
            ],
            "secondary_volts": [{"primary_voltage": "120 V", "voltage": "59.6 V +-0.1 %"}],
        }
    )
    values = np.array([reading.value for reading in readings])
    measured = Measured(values=values, covariance=np.diag([reading.uncertainty**2 for reading in readings]))

    def model(scores: Floats) -> Floats:
        return predict(members(scores), readings).T

    fitted = robust(model, measured, np.zeros((1, 7 + len(KNOTS))))
    found = sample(model, fitted.measured, fitted.modes)
    loads = taken(
        {
            "loaded": [
                {"primary_voltage": "120 V", "current": f"{i} A", "voltage": f"{v} V", "power": f"{p} W"}
                for i, v, p in LOADED
            ]
        }
    )
    shows, told = predict(members(found.scores[:256]), loads), np.array([reading.value for reading in loads])
    middle = np.median(shows, axis=1)
    volts, watts = (np.array([reading.quantity == name for reading in loads]) for name in ("voltage", "power"))
    # printed to three digits, 0.1 %; the impedance is constant to 2 %, 0.05 % of the volts at the largest load
    assert middle[volts] == pytest.approx(told[volts], rel=3e-3)
    # watts by 1 % of meters open and joined, 1 % loaded, and 0.5 % of the amperes that the load is told by
    assert middle[watts] == pytest.approx(told[watts], rel=0.025)
    assert np.all(shows.std(axis=1) < 0.01 * told)  # the draws say so themselves
    assert not fitted.measured.left_out
