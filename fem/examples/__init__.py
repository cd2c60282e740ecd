"""Job files and short scripts of a shop that brazes bandsaw blades: invented, and free to start from."""

from __future__ import annotations

from importlib.resources import as_file, files
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fem.design.transformer import Design

BUILT_IN = "bandsaw_brazing"
"""The job that is estimated where none is given."""


class UnknownExample(ValueError):
    """There is no example of that name."""


def example_names() -> tuple[str, ...]:
    """Return the names of the job files."""
    return tuple(sorted(file.name[:-5] for file in files("fem.examples").iterdir() if file.name.endswith(".toml")))


def example(name: str = BUILT_IN) -> Traversable:
    """Return a job file by its name.

    Raises
    ------
    UnknownExample
        If there is none of that name; the message lists the names.
    """
    if name not in example_names():
        msg = f'no example "{name}"; there is {", ".join(example_names())}'
        raise UnknownExample(msg)
    return files("fem.examples") / f"{name}.toml"


def example_design(name: str = BUILT_IN) -> Design:
    """Read an example's job.

    Raises
    ------
    UnknownExample
        If there is none of that name; the message lists the names.
    """
    from fem.design.job import read_job

    with as_file(example(name)) as path:
        return read_job(path)
