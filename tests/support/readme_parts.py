"""What README prints of the tool: assumptions, the example's first screen; `python -m tests.support.readme_parts`."""

import re
from pathlib import Path

from rich.console import Console

from fem.assumptions import assumptions
from fem.report.text.lists import figure
from fem.report.text.verdict import WIDTH, verdict_screen
from fem.report.verdict.whole import verdict
from tests.support.kept import whole_example

README = Path(__file__).parents[2] / "README.md"
BETWEEN = re.compile(r"(?<=<!-- assumptions -->\n).*(?=\n<!-- end of assumptions -->)", re.DOTALL)
SCREEN = re.compile(r"(?<=<!-- screen -->\n```text\n).*(?=```\n<!-- end of screen -->)", re.DOTALL)


def as_markdown() -> str:
    """Return the rows of `fem/assumptions.csv`, a line each."""
    rows = (
        f"| {row.name} | {figure(row)} | {row.enters} | {': '.join(filter(None, (row.status, row.source)))} |"
        for row in assumptions().values()
    )
    return "\n".join(("| what | figure | where it enters | how sure |", "|---|---|---|---|", *rows))


def screen() -> str:
    """Return what `rewound estimate` prints of the example."""
    console = Console(width=WIDTH, color_system=None)
    with console.capture() as caught:
        console.print(verdict_screen(verdict(whole_example())))
    return "".join(f"{line.rstrip()}\n" for line in caught.get().splitlines())


if __name__ == "__main__":
    text = BETWEEN.sub(lambda _: as_markdown(), README.read_text(encoding="utf-8"))
    README.write_text(SCREEN.sub(lambda _: screen(), text), encoding="utf-8")
