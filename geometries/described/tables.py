"""Tables that ship with the tool: CSV files beside the modules that read them."""

from __future__ import annotations

import csv
from importlib.resources import files


def table_rows(package: str, name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file of a package, by column; lines that start with # are comments.

    Parameters
    ----------
    package
        Dotted name of the package the file lies in.
    name
        Of the file.
    """
    text = (files(package) / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))
