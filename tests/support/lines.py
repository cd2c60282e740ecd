"""Load lines that need no warming machine: a current that stays, an e.m.f. behind an impedance, a cold circuit."""

import numpy as np

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.work.chain import WorkPiece
from fem.work.line import LoadLine
from fem.work.volumes import System


def steady_current(amperes: float) -> LoadLine:
    return LoadLine(resistance=[0.0, 1.0, 10.0, 100.0], current=[amperes] * 4)


def thevenin(emf: float, resistance: float, reactance: float) -> LoadLine:
    """Return the line of an e.m.f. behind an impedance, where 1/I^2 is a quadratic that the spline holds exactly."""
    load = np.linspace(0.0, 0.05, 12)
    return LoadLine(resistance=load, current=emf / np.hypot(resistance + load, reactance))


def load_line(circuit: Circuit, highest_resistance: float) -> LoadLine:
    """Tabulate a circuit's secondary current up to a highest resistance [ohm], dense near a short circuit."""
    resistance = highest_resistance * np.linspace(0.0, 1.0, 40) ** 2
    current = np.array([loaded(circuit, float(value)).secondary_current_rms for value in resistance])
    return LoadLine(resistance=resistance, current=current)


def work_piece_line(piece: WorkPiece, circuit: Circuit) -> LoadLine:
    return load_line(circuit, float(System([piece], np.array([circuit.frequency])).highest_resistance()[0]))
