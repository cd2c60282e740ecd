"""A design with all that has been solved for it; what only some sections need is solved once, when first asked for."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from fem.characteristics.characterise import Characteristics
from fem.circuit.equivalent import Circuit
from fem.circuit.knee import Knee
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded
from fem.circuit.time.periodic import Periodic
from fem.design.sheet import Sheet
from fem.design.transformer import Design
from fem.estimation.gaps import FAILURES, Gaps
from fem.estimation.network import Windings
from fem.estimation.work_of import work_of
from fem.estimation.working import Working, working_of
from fem.work.burst import heat, work_piece_line
from fem.work.line import LoadLine
from fem.work.run import HeatingRun
from geometries.windings.fit import Fit


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """A design with all that has been solved for it.

    Parameters
    ----------
    design, fitted, sheet
        What is described, and how it goes together.
    found
        What the field says.
    windings
        Lengths, resistances and masses.
    circuit
        The circuit.
    at_idle, knee, shorted
        States that several sections read.
    gaps
        What could not be computed.
    """

    design: Design
    fitted: Fit
    sheet: Sheet
    found: Characteristics
    windings: Windings
    circuit: Circuit
    at_idle: Idle
    knee: Knee
    shorted: Loaded
    gaps: Gaps = field(default_factory=Gaps)

    @property
    def burst(self) -> HeatingRun | None:
        """The work piece in its burst; None where none is described.

        Raises
        ------
        NotConverged, OutOfRange
            As `fem.work.burst.heat`, again whenever it is asked for.
        """
        found = self._burst
        if isinstance(found, Exception):
            raise found
        return found

    @property
    def working(self) -> Working | None:
        """What the machine works into: the load, else the hot work piece, else None.

        Raises
        ------
        NotConverged, OutOfRange
            As `burst`.
        """
        if self.design.load is not None:
            return working_of(self.design.load)
        run = self.burst
        return None if run is None else Working(resistance=float(run.resistance[last_loaded(run)]))

    @cached_property
    def rectified(self) -> Periodic:
        """The periodic state with the load that is described.

        Raises
        ------
        NotConverged
            As `fem.circuit.time.periodic.periodic`.
        """
        assert self.design.load is not None
        return working_of(self.design.load).periodic(self.circuit)

    @cached_property
    def work_line(self) -> LoadLine:
        """Current against the resistance between the lead ends, for the work piece described."""
        assert self.design.work_piece is not None
        return work_piece_line(work_of(self.design.work_piece), self.circuit)

    @cached_property
    def _burst(self) -> HeatingRun | Exception | None:
        given = self.design.work_piece
        if given is None:
            return None
        try:
            return heat(
                work_of(given),
                self.work_line,
                duration=given.duration,
                start_temperature=given.ambient,
                frequency=self.circuit.frequency,
                switch_off=given.switch_off,
            )
        except FAILURES as error:
            return error


def last_loaded(run: HeatingRun) -> int:
    """Return the place of the last moment of a run at which current flows."""
    return int(np.flatnonzero(run.current_rms > 0)[-1])
