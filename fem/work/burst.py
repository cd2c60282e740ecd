"""What happens to work pieces in bursts, and what they settle at; `run` holds the answers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import not_negative, positive
from fem.work.chain import WorkPiece
from fem.work.course import Course, Failed, Plan
from fem.work.line import Lines, Source
from fem.work.paths import Paths
from fem.work.run import Ending, EnergyBalance, HeatingRun, Settled
from fem.work.step import March

_FOREVER = 1e7


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Burst(Plan):
    """Say what is followed, and how far.

    Parameters
    ----------
    piece
        The bodies between the lead ends.
    line
        What drives the current.
    start_temperature
        Of all bars [K].
    frequency
        Of the current, for the skin effect [Hz]; 0 leaves it out.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    piece: WorkPiece
    line: Source
    start_temperature: float
    frequency: float

    def __post_init__(self) -> None:
        """Refuse numbers that no burst can have."""
        positive(duration=self.duration, tolerance=self.tolerance)
        not_negative(frequency=self.frequency)
        positive(switch_off=self.on)

    @property
    def shape(self) -> object:
        """What bursts that are followed in one block have alike."""

        def chain(piece: WorkPiece) -> object:
            bars = tuple((bar.cells, bar.is_work) for bar in piece.bars)
            return bars, tuple(joint.constriction is None for joint in piece.contacts)

        beside = self.piece.beside
        second = None if beside is None else (beside.bar.cells, beside.bar.is_work, beside.contact.constriction is None)
        return chain(self.piece), second


def side_by_side(bursts: Sequence[Burst], lines: Lines | None = None) -> list[HeatingRun | Failed]:
    """Follow work pieces through their bursts and their cooling, all that are of one shape in one block.

    Parameters
    ----------
    bursts
        (m,).
    lines
        Of all of them; made of their sources where left out.

    Returns
    -------
    Of each its run, or what it failed by: one does not cost the others.

    Notes
    -----
    One-dimensional along the current, sections of one temperature: sound where a section evens out sooner than the
    burst lasts, in some half_depth^2 / (10 diffusivity), which is 0.2 s in a 10 mm rod of steel. `System` states the
    equations, `March` their steps. The current follows the hot resistance in the sinusoidal steady state; the
    inductance of the piece itself belongs to the leads.
    """
    lines = lines or Lines([burst.line for burst in bursts])
    found: list[HeatingRun | Failed | None] = [None] * len(bursts)
    shapes: dict[object, list[int]] = {}
    for place, burst in enumerate(bursts):
        shapes.setdefault(burst.shape, []).append(place)
    for places in shapes.values():
        block = [bursts[place] for place in places]
        paths = Paths([one.piece for one in block], np.array([one.frequency for one in block]))
        start = paths.start([one.start_temperature for one in block])
        courses = March(paths, lines, start, block, places).run()
        for row, (place, course) in enumerate(zip(places, courses, strict=True)):
            found[place] = _run(paths, row, course) if isinstance(course, Course) else course
    return [one for one in found if one is not None]


def settling(
    piece: WorkPiece,
    line: Source,
    *,
    start_temperature: float,
    frequency: float,
) -> Burst:
    """Return the burst that leaves the current on until nothing changes any more or a place has melted through."""
    return Burst(
        piece=piece,
        line=line,
        duration=_FOREVER,
        start_temperature=start_temperature,
        frequency=frequency,
        settles=True,
    )


def settled(run: HeatingRun) -> Settled:
    """Return what a run with the current left on comes to."""
    return Settled(
        temperature=None if run.ending is Ending.MELTED else float(run.hottest_temperature[-1]),
        time=float(run.time[-1]),
        current_rms=float(run.current_rms[-1]),
        run=run,
    )


def _run(paths: Paths, row: int, course: Course) -> HeatingRun:
    """Return the first path of a member with what lies between the lead ends, the second by itself beside it."""
    told = [_path(paths, place, row, course) for place in range(len(paths.systems))]
    if len(told) == 1:
        return told[0]
    first, second = told
    current = course.whole["current"]
    return replace(
        first,
        current_rms=current,
        voltage_rms=current * course.whole["impedance"],
        resistance=course.whole["resistance"],
        melt_progress=np.maximum(first.melt_progress, second.melt_progress),
        energy=first.energy + second.energy,
        beside=second,
    )


def _path(paths: Paths, place: int, row: int, course: Course) -> HeatingRun:
    """Return one path as if it were alone between the lead ends."""
    system, own, kept = paths.systems[place], paths.parts[place], course.paths[place]
    temperature, sides = kept["temperature"][:, 1:-1], kept["sides"]
    # A contact counts where work touches it, on that side only.
    bars = [bar.is_work for bar in system.pieces[row].bars]
    touching = np.array([[False, *bars], [*bars, False]]).T
    hot = np.concatenate(
        [np.where(system.is_work, temperature, -np.inf), np.where(touching, sides, -np.inf).max(axis=2)], axis=1
    )
    places = np.r_[system.position[row], system.contact_position[row]]
    electric, radiated, convected, through_sides, left, right = course.energies[place].tolist()
    arrays = {
        "time": course.whole["time"],
        "current_rms": kept["current"],
        "own_current_rms": kept["current"],
        "voltage_rms": kept["current"] * kept["resistance"],
        "resistance": kept["resistance"],
        "hottest_temperature": hot.max(axis=1),
        "hottest_position": places[hot.argmax(axis=1)],
        "melt_progress": kept["melting"],
        "position": system.position[row],
        "temperature": temperature,
        "contact_position": system.contact_position[row],
        "contact_temperature": sides.max(axis=2),
        "contact_resistance": kept["contacts"],
        "spot_temperature": kept["spots"],
        "bar_resistance": kept["bars"],
        "jaw_temperature": kept["temperature"][:, [0, -1]],
    }
    for array in (*arrays.values(), system.is_work):
        array.setflags(write=False)
    ending = Ending.MELTED if course.melted else Ending.SETTLED if course.settled else Ending.DURATION
    return HeatingRun(
        **arrays,
        is_work=system.is_work,
        energy=EnergyBalance(
            electric=electric,
            stored=float(system.volume[row] @ system.cells(course.gained[own])),
            radiated=radiated,
            convected=convected,
            through_sides=through_sides,
            into_jaws=left + right,
        ),
        ending=ending,
    )
