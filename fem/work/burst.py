"""What happens to the work piece in a burst, and what it settles at; `run` holds the answers."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from math import inf

import numpy as np

from fem.arrays import not_negative, positive
from fem.constants import ZERO_CELSIUS
from fem.digits import brief
from fem.errors import NotConverged, OutOfRange
from fem.work.chain import WorkPiece
from fem.work.line import Source
from fem.work.paths import Paths
from fem.work.run import Ending, EnergyBalance, HeatingRun, Settled
from fem.work.step import Instant, march, off

TOLERANCE = 0.05
"""Estimated error of one time step [K]; whole runs then stay within 0.5 K of ten times finer ones (see the tests)."""

_SETTLED = 0.05
_FOREVER = 1e7


def heat(
    piece: WorkPiece,
    line: Source,
    *,
    duration: float,
    start_temperature: float,
    frequency: float,
    switch_off: float | None = None,
    tolerance: float = TOLERANCE,
    longest: float = inf,
    follow: Callable[[Instant], None] | None = None,
    until: tuple[float, float] = (inf, inf),
) -> HeatingRun:
    """Follow the work piece through a burst, and its cooling where the current is switched off before the end.

    Parameters
    ----------
    piece
        The bodies between the lead ends.
    line
        Current against the resistance between the lead ends.
    duration
        Of the whole run [s], > 0. It ends sooner once a place of the work has melted through.
    start_temperature
        Of all bars [K].
    frequency
        Of the current, for the skin effect [Hz]; 0 leaves it out.
    switch_off
        Time after which no current flows [s], > 0; left out, it flows to the end.
    tolerance
        Estimated error of one step [K].
    longest
        Step with current on [s].
    follow
        Told each instant with current on before the next is sought.
    until
        Time [s] and temperature of the work [K] past both of which the run may end.

    Raises
    ------
    ValueError
        If a number is out of range.
    OutOfRange
        If a carbon gets hotter than its table, or the resistance leaves the load line.
    NotConverged
        If the steps shrink to nothing.

    Notes
    -----
    One-dimensional along the current, sections of one temperature: sound where a section evens out sooner than the
    burst lasts, in some half_depth^2 / (10 diffusivity), which is 0.2 s in a 10 mm rod of steel. `System` states the
    equations, `march` their steps. The current follows the hot resistance in the sinusoidal steady state; the
    inductance of the piece itself belongs to the leads.
    """
    positive(duration=duration, tolerance=tolerance)
    not_negative(frequency=frequency)
    system = Paths(piece, frequency)
    on = duration if switch_off is None else min(switch_off, duration)
    positive(switch_off=on)
    start = system.start(start_temperature)
    steps = march(system, line.at, start, duration=on, tolerance=tolerance, longest=longest)
    enough = lambda one: one.time > until[0] and system.work_temperature(one.state) > until[1]  # noqa: E731
    instants = _until_melted(system, steps, follow, enough)
    if on < duration and instants[-1].time >= on:
        rest = march(
            system,
            off,
            instants[-1].unknowns,
            duration=duration - on,
            tolerance=tolerance,
            first_time=on,
            grown=instants[-1].grown,
        )
        so_far = instants[-1].energies
        instants += [replace(one, energies=one.energies + so_far) for one in _until_melted(system, rest)]
    melted = system.melt_progress(instants[-1].unknowns) >= 1
    return _run(system, instants, Ending.MELTED if melted else Ending.DURATION)


def settle(
    piece: WorkPiece,
    line: Source,
    *,
    start_temperature: float,
    frequency: float,
    tolerance: float = TOLERANCE,
) -> Settled:
    """Leave the current on until nothing changes any more or a place has melted through.

    Parameters
    ----------
    piece, line, start_temperature, frequency, tolerance
        As `heat`.

    Raises
    ------
    ValueError, OutOfRange, NotConverged
        As `heat`; also NotConverged where after 1e7 s something still changes.

    Notes
    -----
    Settled means t max |dT/dt| < 0.05 K: at its present rate no place would change by that in as long again.
    """
    positive(tolerance=tolerance)
    system = Paths(piece, frequency)
    start = system.start(start_temperature)
    instants: list[Instant] = []
    for instant in march(system, line.at, start, duration=_FOREVER, tolerance=tolerance):
        _check_range(system, instant)
        instants.append(instant)
        melted = system.melt_progress(instant.unknowns) >= 1
        quiet = instant.time * float(np.abs(instant.rate * system.kelvin).max()) < _SETTLED and instant.time > 0
        if melted or quiet:
            run = _run(system, instants, Ending.MELTED if melted else Ending.SETTLED)
            return Settled(
                temperature=None if melted else float(run.hottest_temperature[-1]),
                time=instant.time,
                current_rms=instant.current,
                run=run,
            )
    changing = float(np.abs(instants[-1].rate * system.kelvin).max()) * _FOREVER
    what = "lasting temperature of the work piece"
    raise NotConverged(what, residual=changing, tolerance=_SETTLED, tried=f"{_FOREVER:g} s")


def _until_melted(
    system: Paths,
    instants: Iterable[Instant],
    follow: Callable[[Instant], None] | None = None,
    enough: Callable[[Instant], bool] = lambda _: False,
) -> list[Instant]:
    taken: list[Instant] = []
    for instant in instants:
        _check_range(system, instant)
        taken.append(instant)
        if follow is not None:
            follow(instant)
        if system.melt_progress(instant.unknowns) >= 1 or enough(instant):
            break
    return taken


def _check_range(paths: Paths, instant: Instant) -> None:
    """Refuse to go on beyond a material's table: only what does not melt first gets there."""
    for system, own in zip(paths.systems, paths.parts, strict=True):
        for bar, part in zip(system.piece.bars, system.slices, strict=True):
            if system.cells(instant.unknowns[own])[part].max() > bar.material.enthalpy[-1]:
                kind = "work" if bar.is_work else "carbon"
                end = bar.material.temperature[-1] - ZERO_CELSIUS
                msg = f"the {kind} passes {end:.0f} degC after {brief(instant.time)} s: no data beyond"
                raise OutOfRange(msg)


def _run(paths: Paths, instants: list[Instant], ending: Ending) -> HeatingRun:
    """Return the first path with what lies between the lead ends, the second by itself beside it."""
    told = [_path(paths, place, instants, ending) for place in range(len(paths.systems))]
    if len(told) == 1:
        return told[0]
    first, second = told
    current = np.array([i.current for i in instants])
    return replace(
        first,
        current_rms=current,
        voltage_rms=current * np.array([i.state.impedance for i in instants]),
        resistance=np.array([i.state.resistance for i in instants]),
        melt_progress=np.maximum(first.melt_progress, second.melt_progress),
        energy=first.energy + second.energy,
        beside=second,
    )


def _path(paths: Paths, place: int, instants: list[Instant], ending: Ending) -> HeatingRun:
    """Return one path as if it were alone between the lead ends."""
    system, own = paths.systems[place], paths.parts[place]
    states = [i.state.paths[place] for i in instants]
    current = np.array([float(i.currents[place]) for i in instants])
    resistance = np.array([state.resistance for state in states])
    temperature = np.array([state.temperature[1:-1] for state in states])
    sides = np.array([system.contact_temperature(state) for state in states])
    # A contact counts where work touches it, on that side only.
    bars = [bar.is_work for bar in system.piece.bars]
    touching = np.array([[False, *bars], [*bars, False]]).T
    hot = np.concatenate(
        [np.where(system.is_work, temperature, -np.inf), np.where(touching, sides, -np.inf).max(axis=2)], axis=1
    )
    places = np.r_[system.position, system.contact_position]
    electric, radiated, convected, through_sides, left, right = instants[-1].energies[place].tolist()
    gained = system.cells((instants[-1].unknowns - instants[0].unknowns)[own])
    arrays = {
        "time": np.array([i.time for i in instants]),
        "current_rms": current,
        "own_current_rms": current,
        "voltage_rms": current * resistance,
        "resistance": resistance,
        "hottest_temperature": hot.max(axis=1),
        "hottest_position": places[hot.argmax(axis=1)],
        "melt_progress": np.array([system.melt_progress(i.unknowns[own]) for i in instants]),
        "position": system.position,
        "temperature": temperature,
        "contact_position": system.contact_position,
        "contact_temperature": sides.max(axis=2),
        "contact_resistance": np.array([(state.at.left + state.at.right)[system.contact_faces] for state in states]),
        "spot_temperature": np.array([system.spot_temperature(state) for state in states]),
        "bar_resistance": np.array([[state.ohms[part].sum() for part in system.slices] for state in states]),
        "jaw_temperature": np.array([state.temperature[[0, -1]] for state in states]),
    }
    for array in (*arrays.values(), system.is_work):
        array.setflags(write=False)
    return HeatingRun(
        **arrays,
        is_work=system.is_work,
        energy=EnergyBalance(
            electric=electric,
            stored=float(system.volume @ gained),
            radiated=radiated,
            convected=convected,
            through_sides=through_sides,
            into_jaws=left + right,
        ),
        ending=ending,
    )
