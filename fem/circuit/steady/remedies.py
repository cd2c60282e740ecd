"""How many primary turns bring the no-load current or the flux down to a wanted value."""

from dataclasses import dataclass, replace
from math import inf

from fem.arrays import positive
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import first_half, rms
from fem.circuit.steady.idle import Idle, idle

_MOST_TURNS = 1_000_000

LEAST_INDUCED = 0.9
"""Least r.m.s. e.m.f. of the primary, idle, over that of the mains [-]. With hopelessly few turns resistance takes the
voltage instead of the flux: the core then stays unsaturated while the wire burns. Down to this share the flux is
voltage over turns to within a tenth, the tolerance of the mains itself, and every turn more lowers it: behind a
resistance, a reactance that goes with the square of the turns would raise its flux again only below 0.71."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Remedy:
    """The fewest primary turns that meet a wish, whether wound anew or added in series.

    Parameters
    ----------
    primary_turns
        In all, of each of primaries in parallel [-].
    extra_turns
        More than now, in series and aiding; negative if fewer would do [-].
    idle
        The no-load state with them.
    """

    primary_turns: int
    extra_turns: int
    idle: Idle


def with_primary_turns(circuit: Circuit, turns: float) -> Circuit:
    """Return the circuit with another number of primary turns of the same wire [-].

    Raises
    ------
    ValueError
        If `turns` is not above 0.

    Notes
    -----
    Magnetising curve and leakage per turn squared stay: whether the turns fit, and where, is the caller's business.
    """
    per_turn = circuit.primary_resistance / circuit.primary_turns
    return replace(circuit, primary_turns=turns, primary_resistance=turns * per_turn)


def fewest_turns(
    circuit: Circuit,
    *,
    current_rms: float = inf,
    peak_flux_per_turn: float = inf,
    in_parallel: int = 1,
    known: Idle | None = None,
) -> Remedy:
    """Find the fewest primary turns that carry the mains with no-load current and peak flux within wanted values.

    Parameters
    ----------
    circuit
        Of one design.
    current_rms
        R.m.s. no-load current [A], > 0.
    peak_flux_per_turn
        At no-load [Wb], > 0.
    in_parallel
        Like primaries in parallel, each on a core of its own; the circuit's turns are one's over their number [-].
    known
        The circuit's own no-load state, where it has been solved.

    Raises
    ------
    ValueError
        If a wanted value is not above 0 or takes more than a million turns.
    NotConverged
        As `idle`.

    Notes
    -----
    Turns that induce less than `LEAST_INDUCED` of the mains voltage are no remedy, whatever they draw. With the others
    flux and current fall with every turn more, so halving between too few and enough finds the fewest; each no-load
    state starts from the last one's flux over turns.
    """
    wanted = {"current_rms": current_rms, "peak_flux_per_turn": peak_flux_per_turn}
    positive(**{name: value for name, value in wanted.items() if value != inf})
    now = round(circuit.primary_turns * in_parallel)
    last = None if known is None else (now, known)

    def state(turns: int) -> Idle:
        nonlocal last
        other = with_primary_turns(circuit, turns / in_parallel)
        start = None if last is None else last[0] / turns * first_half(last[1].flux_per_turn)
        found = idle(other, start=start)
        last = turns, found
        return found

    def meets(state: Idle) -> bool:
        within = state.current_rms <= current_rms and state.peak_flux_per_turn <= peak_flux_per_turn
        return within and carries_mains(circuit, state)

    enough, best = now, state(now) if known is None else known
    short = 0
    while not meets(best):
        short, enough = enough, 2 * enough
        if enough > _MOST_TURNS:
            msg = f"more than {_MOST_TURNS} primary turns would be needed"
            raise ValueError(msg)
        best = state(enough)
    if short == 0:
        # The wish is met already: come down by halves, so that hopelessly few turns are never tried.
        step = max(enough // 2, 1)
        while enough > 1:
            trial = max(enough - step, 1)
            found = state(trial)
            if not meets(found):
                short = trial
                break
            enough, best = trial, found
            step = max(enough // 2, 1)
    while enough - short > 1:
        middle = (short + enough) // 2
        found = state(middle)
        if meets(found):
            enough, best = middle, found
        else:
            short = middle
    return Remedy(primary_turns=enough, extra_turns=enough - now, idle=best)


def carries_mains(circuit: Circuit, state: Idle) -> bool:
    """Return whether flux, not resistance, decides an idle state; see `LEAST_INDUCED`."""
    return bool(rms(state.induced_voltage) >= LEAST_INDUCED * circuit.voltage_rms)
