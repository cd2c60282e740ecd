"""The job file a command is told of, or the built-in example."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fem.commands.terminal import PROGRAM, Refused, say

if TYPE_CHECKING:
    from fem.design.transformer import Design


def read(job: Path | None, quiet: bool) -> Design:
    """Read a job; without one the built-in example, which is said unless `quiet`.

    Raises
    ------
    Refused
        With a line for each fault.
    """
    from fem.design.job import read_job
    from fem.design.tables import JobError
    from fem.examples import example_design

    try:
        if job is not None:
            return read_job(job)
        if not quiet:
            say(f"{PROGRAM}: no job file given, so the built-in example is estimated; rewound example prints it")
        return example_design()
    except JobError as error:
        raise Refused(str(error)) from None
