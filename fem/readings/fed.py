"""A state of a machine at what was measured: volts at its terminals, a lamp before it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Protocol, TypeVar

import numpy as np

from fem.arrays import Number
from fem.circuit.equivalent import Circuit
from fem.errors import NotConverged

_STEPS, _CLOSE = 40, 1e-7


class _State(Protocol):
    @property
    def terminal_voltage_rms(self) -> float: ...


State = TypeVar("State", bound=_State)


def fed(
    solve: Callable[[Circuit], State],
    circuit: Circuit,
    *,
    volts: float | None,
    lamp: Callable[[State], Number] | None,
) -> tuple[Circuit, State]:
    """Return the circuit and its state in which so many volts lie at the primary's terminals, behind a lamp if any.

    Parameters
    ----------
    solve
        Returns the state of a circuit.
    circuit
        Of one design or of many members.
    volts
        [V]; left out, the circuit's own voltage drives it.
    lamp
        Returns the resistance that a state warms the lamp to, (...,) [ohm].

    Raises
    ------
    NotConverged
        If no e.m.f. or resistance is found.

    Notes
    -----
    Secants in the logarithms, every member for itself: of the e.m.f. against the terminals' volts, whose power it goes
    with is at most 1; of the lamp's resistance against that which the state makes, which falls by the resistance.
    """
    if volts is not None:
        circuit = circuit.with_voltage(volts + np.zeros(np.shape(circuit.voltage_rms)))
    if lamp is None and (volts is None or not np.any(circuit.source_resistance + circuit.source_inductance)):
        return circuit, solve(circuit)
    emf, own = np.log(circuit.voltage_rms), circuit.source_resistance
    ohms: Any = np.log(1.0 if lamp is None else lamp(solve(circuit)))  # brightest at first: it sees all of the current
    by_emf, by_lamp = _Secant(0.02, 1.0), _Secant(1.0, 2.0)
    for _ in range(_STEPS):
        at = replace(circuit, voltage_rms=np.exp(emf), source_resistance=own + (0.0 if lamp is None else np.exp(ohms)))
        state = solve(at)
        short: Any = 0.0 if volts is None else np.log(volts / state.terminal_voltage_rms)
        more: Any = 0.0 if lamp is None else np.log(lamp(state)) - ohms
        left = float(np.maximum(np.abs(short), np.abs(more)).max())
        if left <= _CLOSE:
            return at, state
        emf, ohms = emf + by_emf(emf, short), ohms + by_lamp(ohms, more)
    what = "state at the volts or behind the lamp that were told"
    raise NotConverged(what, residual=left, tolerance=_CLOSE, tried=f"{_STEPS} secants")


class _Secant:
    """Steps towards where what is missed is 0, that falling with x by between `low` and `high`."""

    def __init__(self, low: float, high: float) -> None:
        self._low, self._high = low, high
        self._before: tuple[Any, Any] | None = None

    def __call__(self, x: Any, missed: Any) -> Any:
        """Return by how much x is to rise."""
        fall: Any = self._high
        if self._before is not None:
            apart = x - self._before[0]
            still = np.abs(apart) < 1e-12
            fall = np.where(still, self._high, (self._before[1] - missed) / np.where(still, 1.0, apart))
        self._before = x, missed
        return missed / np.clip(fall, self._low, self._high)
