"""The table of assumptions as README has it; `python -m tests.support.readme_table` writes it there anew."""

import re
from pathlib import Path

from fem.assumptions import assumptions
from fem.report.text.lists import figure

README = Path(__file__).parents[2] / "README.md"
BETWEEN = re.compile(r"(?<=<!-- assumptions -->\n).*(?=\n<!-- end of assumptions -->)", re.DOTALL)


def as_markdown() -> str:
    """Return the rows of `fem/assumptions.csv`, a line each."""
    rows = (
        f"| {row.name} | {figure(row)} | {row.enters} | {': '.join(filter(None, (row.status, row.source)))} |"
        for row in assumptions().values()
    )
    return "\n".join(("| what | figure | where it enters | how sure |", "|---|---|---|---|", *rows))


if __name__ == "__main__":
    text = BETWEEN.sub(lambda _: as_markdown(), README.read_text(encoding="utf-8"))
    README.write_text(text, encoding="utf-8")
