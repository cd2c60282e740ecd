"""The steady cycle of a machine whose currents fall as it warms up."""

from dataclasses import dataclass

from fem.lumped.circuit import Circuit
from fem.lumped.errors import NotConverged
from fem.lumped.heat import Network, Phase
from fem.lumped.heat_cycle import SteadyCycle, steady_cycle
from fem.lumped.heat_machine import circuit_at, phase_loaded
from fem.lumped.heat_march import TOLERANCE
from fem.lumped.load import Loaded, loaded

_CLOSE = 1e-4
_PASSES = 30


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HotCycle:
    """Hold the steady cycle with the currents of the warm machine.

    Parameters
    ----------
    cycle : SteadyCycle
    circuit : Circuit
        At the mean of the temperatures at the beginning and at the peaks of the bursts.
    state : Loaded
        During bursts.
    cold : Loaded
        During the first burst of the cold machine: the highest currents.
    """

    cycle: SteadyCycle
    circuit: Circuit
    state: Loaded
    cold: Loaded


def hot_cycle(
    circuit: Circuit,
    network: Network,
    *,
    on_time: float,
    off: Phase,
    now: float,
    load_resistance: float | None = None,
    tolerance: float = TOLERANCE,
) -> HotCycle:
    """Find the steady cycle of bursts into a load, resistances and currents following the temperatures.

    Parameters
    ----------
    circuit : Circuit
    network : Network
        As `machine_network`.
    on_time : float
        Of each burst [s], > 0.
    off : Phase
        The pause, with its duration.
    now : float
        Temperature of the circuit's resistances [K].
    load_resistance : float, optional
        [ohm]; 0 is a short circuit; left out, the circuit's own.
    tolerance : float
        Error allowed per step of the march [K].

    Returns
    -------
    HotCycle

    Raises
    ------
    NotConverged
        If the current does not settle within 1e-4.
    OutOfRange, ValueError
        As `steady_cycle` and `loaded`.

    Notes
    -----
    Within a burst the current is held at its value for the mean of the temperatures at its beginning and its end. More
    heat means more resistance, which means less current, so plain repetition settles. The cold machine's currents, held
    throughout, give the bound to keep to.
    """
    cold = loaded(circuit_at(circuit, network, network.at_ambient(), now), load_resistance)
    state, guess, change, warm = cold, network.at_ambient(), 1.0, circuit
    for _ in range(_PASSES):
        cycle = steady_cycle(
            network, (phase_loaded(state, on_time), off), guess=guess, tolerance=tolerance, count=change < _CLOSE
        )
        if change < _CLOSE:
            return HotCycle(cycle=cycle, circuit=warm, state=state, cold=cold)
        guess = cycle.start
        warm = circuit_at(circuit, network, 0.5 * (cycle.start + cycle.peak), now)
        new = loaded(warm, load_resistance)
        change = abs(new.secondary_current_rms / state.secondary_current_rms - 1)
        state = new
    what, tried = "current of the warm machine", f"{_PASSES} passes"
    raise NotConverged(what, residual=change, tolerance=_CLOSE, tried=tried)
