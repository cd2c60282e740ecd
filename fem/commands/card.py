"""The command `card`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.terminal import BAD_INPUT, Refused, finishing, put, say, show
from fem.report.files.whole import write_text


def card(
    job: Annotated[Path, typer.Argument(help="Job file, or - for standard input; its turns play no part.")],
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write the card as JSON; - writes only that.")
    ] = None,
    lengths: Annotated[
        bool, typer.Option("--lengths", help="Also tell what a little more of each length does.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Say what the field tells of a core and its arrangement, without turns: any secondary follows on paper.

    Example: rewound card my.toml
    """
    from fem.design.tables import told_as
    from fem.estimation.card import NotTurnFree
    from fem.estimation.card import card as compute
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.report.text.card import card_json, card_table

    design, file, kept = read(job, quiet), json_place(json_file), Kept(folder=default_folder())
    check_places({"--json": file}, inputs_of(job, {"core": {"bh_table": design.core.bh_table}}))
    try:
        found = compute(design, characteristics=kept, progress=None if quiet else say, lengths=lengths)
    except NotTurnFree as error:
        msg = f"{told_as(job)}: {error}"
        raise Refused(msg) from error
    with finishing():
        printed = put(card_json(found)) if json_file == "-" else show(card_table(found))
        written = file is None or write_output(file, lambda path: write_text(path, card_json(found)), quiet)
    return printed if written else BAD_INPUT
