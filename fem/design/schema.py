"""The JSON schema of a job file, for editors that complete and check while one types."""

from __future__ import annotations

import re
from inspect import getdoc
from typing import Any

from fem.design.told import takes_tolerance
from fem.design.transformer import Design
from geometries.cores.kinds import KINDS
from geometries.described.faults import Description, described
from geometries.described.quantities import Between, format_quantity
from geometries.described.tolerances import EXAMPLE

DIALECT = "https://json-schema.org/draft/2020-12/schema"

TOLERANCES = f"A number whose doubt enters a band may have its own tolerance behind it, {EXAMPLE}"
"""What is said of the whole, before the keys that take one."""


def job_schema() -> dict[str, Any]:
    """Return the JSON schema of a job file.

    Quantities are strings with a unit there, so what Python takes as plain SI numbers is left out. What follows from
    something else (the sizes of a lamination, one of steel and table) is an alternative, as its description says.
    """
    schema = Design.model_json_schema()
    tables = {**schema["$defs"], "Design": schema}
    models = dict.fromkeys(described(Design))
    summaries = {model.__name__: (getdoc(model) or "").split("\n\n")[0].replace("`", "") for model in models}
    for model in models:
        table, texts = tables[model.__name__], _texts(model)
        table["description"] = summaries[model.__name__]
        for name, key in table["properties"].items():
            _describe(key, "" if "oneOf" in key else texts.get(name, ""), model.model_fields[name].metadata)
            if (table_name := key.get("$ref", "").rpartition("/")[2]) in summaries:
                key["description"] = summaries[table_name]
    for kind in list(KINDS.values())[1:]:  # without a type it is of the first kind
        tables[kind.__name__]["required"].append("type")
    schema["description"] = f"{schema['description']}. {TOLERANCES}: {', '.join(sorted(takes_tolerance()))}"
    return {"$schema": DIALECT, **schema, "title": "Job file"}


def _texts(model: type[Description]) -> dict[str, str]:
    """Return what docstrings say of a description's keys: its own before those of what it builds on."""
    texts: dict[str, str] = {}
    for kind in reversed(model.__mro__):
        if issubclass(kind, Description):
            texts |= _parameter_texts(getdoc(kind) or "")
    return texts


def _describe(key: dict[str, Any], meaning: str, metadata: list[Any]) -> None:
    """Put one key's meaning first, and leave out what a job file cannot say: plain numbers with a unit, and null."""
    options = [option for option in key.pop("anyOf", []) if option.get("type") != "null"]
    if any(option.get("type") == "string" for option in options):
        options = [option for option in options if option.get("type") == "string" or "$ref" in option]
    if len(options) == 1:
        key.update(options[0])
    elif options:
        key["anyOf"] = options
    for pair in key.get("prefixItems", []):
        pair.pop("title", None)
    if "prefixItems" in key:
        # One text stands for left and right.
        alternatives = [dict(key["prefixItems"][0]), {k: key.pop(k) for k in list(key)}]
        key["anyOf"] = alternatives
    if isinstance(key.get("type"), list) and len(key["type"]) == 1:
        key["type"] = key["type"][0]
    default = key.get("default")
    if default is None or isinstance(default, dict):
        key.pop("default", None)
    elif isinstance(default, float) and key.get("type") == "string":
        unit = next(mark.unit for mark in metadata if isinstance(mark, Between))
        key["default"] = format_quantity(default, unit, digits=6)
    key.pop("title", None)
    key["description"] = ": ".join(filter(None, (meaning, key.get("description", ""))))


def _parameter_texts(docstring: str) -> dict[str, str]:
    """Return what a docstring says of each parameter, without the SI units meant for Python."""
    _, _, listed = docstring.partition("----------\n")
    texts: dict[str, str] = {}
    for names, text in re.findall(r"^(\w[\w, ]*)\n((?: {4}.*\n?)+)", listed, re.MULTILINE):
        plain = re.sub(r"\s*(?:\(or [^()]*\[[^]]*\]\)|\[[^]]*\],?)", "", " ".join(text.split())).replace("`", "")
        texts |= {name.strip(): plain.strip(" .") for name in names.split(",")}
    return texts
