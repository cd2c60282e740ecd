"""The command `explain`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.terminal import Refused, finishing, show


def explain(
    job: Annotated[Path, typer.Argument(help="Job file, or - for standard input.")],
    key: Annotated[str, typer.Argument(help="Key of a result, as the JSON and `rewound list results` have it.")],
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Explain one result: what it is, its value and band, the formula and what goes in, what drives the band.

    The beginning of keys, such as idle or heating.duty, lists what lies below.

    Example: rewound explain my.toml short_circuit.secondary_current_rms_A
    """
    from fem.estimation.explained import NoSuchResult, check

    try:
        check(key)
        design = read(job, quiet)
        from fem.estimation.fields.kept import Kept, default_folder
        from fem.estimation.one_design import estimate
        from fem.estimation.parts import Part
        from fem.report.text.explain import explanation

        wanted = {part for part in Part if part is not Part.PICTURES}
        found = estimate(design, wanted=wanted, characteristics=Kept(folder=default_folder()))
        said = found.explain(key)
    except NoSuchResult as error:
        msg = f"rewound explain: {error}"
        raise Refused(msg) from error
    with finishing():
        return show(explanation(said))
