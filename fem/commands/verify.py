"""The command `verify`."""

from __future__ import annotations

from typing import Annotated

import typer

from fem.commands.output import check_places, json_place, write_output
from fem.commands.terminal import BAD_INPUT, CHECK_FAILED, finishing, put, say, show
from fem.report.files.whole import write_text


def verify(
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all checks as JSON; - writes only that.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Check this installation against published values; exit code 1 if one is missed.

    Fields, circuits, tables and formulas against worked examples, standards and closed forms: half a minute.

    Example: rewound verify --json checks.json
    """
    from fem.report.text.verify import verify_json, verify_table
    from fem.verification.run import verify as check

    file = json_place(json_file)
    check_places({"--json": file}, ())
    found = check(None if quiet else say)
    with finishing():
        printed = put(verify_json(found)) if json_file == "-" else show(verify_table(found))
        written = file is None or write_output(file, lambda path: write_text(path, verify_json(found)), quiet)
    if not written:
        return BAD_INPUT
    return printed or (0 if found.passed else CHECK_FAILED)
