"""The commands `list`, `schema` and `example`: what may stand in a job file, and what comes out."""

from __future__ import annotations

import json
from enum import Enum
from typing import Annotated

import typer

from fem.commands.terminal import put, show


class Listing(Enum):
    """What can be listed."""

    STEELS = "steels"
    CONDUCTORS = "conductors"
    LAMINATIONS = "laminations"
    METALS = "metals"
    WORK_PIECES = "work-pieces"
    RESULTS = "results"
    ASSUMPTIONS = "assumptions"


def list_names(what: Annotated[Listing, typer.Argument(help="What to list.")]) -> int:
    """List what a job file may call by its name, all results, or what is assumed.

    Example: rewound list steels
    """
    from fem.report.text import lists

    tables = {
        Listing.STEELS: lists.steels,
        Listing.CONDUCTORS: lists.conductors,
        Listing.LAMINATIONS: lists.laminations,
        Listing.METALS: lists.metals,
        Listing.WORK_PIECES: lists.work_pieces,
        Listing.RESULTS: lists.results,
        Listing.ASSUMPTIONS: lists.assumed_figures,
    }
    return show(tables[what]())


def schema() -> int:
    """Print the JSON schema of a job file for editors.

    Example: rewound schema > rewound.schema.json
    """
    from fem.design.schema import job_schema

    return put(json.dumps(job_schema(), indent=2, ensure_ascii=False) + "\n")


def example(
    name: Annotated[str, typer.Argument(help="Which example.")] = "bandsaw_brazing",
) -> int:
    """Print an example job file to begin with.

    Example: rewound example > my.toml
    """
    from fem.examples import example as job_file

    return put(job_file(name).read_text("utf-8"))
