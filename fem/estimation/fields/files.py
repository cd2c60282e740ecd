"""Computed dataclasses as `.npz` files: arrays beside a JSON tree, nothing in them that runs when it is read.

The last 32 bytes are the SHA-256 of the rest, so that a file that was damaged in any way gives no number.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterable, Mapping, Set
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

SCHEMA = 3
"""Of the file; a file of another is as good as none."""
_DIGEST = 32
_TREE = "tree"


class Unreadable(ValueError):
    """A file that does not hold what it should."""


def write_values(path: Path, values: Mapping[str, Any], kinds: Iterable[type], key: str) -> None:
    """Write values to a file.

    Parameters
    ----------
    path
        The file.
    values
        By name: numbers, texts, arrays, dataclasses of such, and mappings and tuples of them.
    kinds
        The dataclasses that may be among them.
    key
        What they belong to; read back with them.

    Raises
    ------
    TypeError
        If a value is of another kind.
    OSError
        If the file cannot be written.
    """
    known, arrays = {kind.__name__ for kind in kinds}, dict[str, np.ndarray[Any, Any]]()
    plain = {name: _plain(value, known, arrays) for name, value in values.items()}
    tree = {"schema": SCHEMA, "key": key, "values": plain}
    payload = io.BytesIO()
    np.savez(payload, allow_pickle=False, **{_TREE: np.array(json.dumps(tree))}, **arrays)
    path.write_bytes(payload.getvalue() + hashlib.sha256(payload.getvalue()).digest())


def read_values(path: Path, kinds: Iterable[type], key: str) -> dict[str, Any]:
    """Read values that `write_values` wrote.

    Parameters
    ----------
    path
        The file.
    kinds
        The dataclasses that may be among them: nothing else is ever called.
    key
        What they must belong to.

    Raises
    ------
    Unreadable
        If the file is damaged, of another schema, or belongs to another key.
    FileNotFoundError
        If there is none.
    OSError
        If it cannot be read.
    """
    payload = _opened(path)
    try:
        with np.load(io.BytesIO(payload), allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
        tree = json.loads(str(arrays.pop(_TREE)))
        if (tree["schema"], tree["key"]) != (SCHEMA, key):
            msg = f"{path.name} is of schema {tree['schema']} or belongs to something else"
            raise Unreadable(msg)
        known = {kind.__name__: kind for kind in kinds}
        return {name: _restored(value, known, arrays) for name, value in tree["values"].items()}
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, KeyError, TypeError, AttributeError) as error:
        msg = f"{path.name} is damaged ({type(error).__name__}: {error})"
        raise Unreadable(msg) from error


def _opened(path: Path) -> bytes:
    """Return what a file holds before its digest."""
    content = path.read_bytes()
    payload, digest = content[:-_DIGEST], content[-_DIGEST:]
    if hashlib.sha256(payload).digest() != digest:
        msg = f"{path.name} is damaged (its digest is another)"
        raise Unreadable(msg)
    return payload


def _plain(value: Any, known: Set[str], arrays: dict[str, np.ndarray[Any, Any]]) -> Any:
    """Return a value as JSON can hold it, its arrays put aside under a number; each object says what it stands for."""
    if value is None or isinstance(value, bool | int | float | str):
        return value.item() if isinstance(value, np.generic) else value
    if isinstance(value, np.ndarray):
        name = f"array{len(arrays)}"
        arrays[name] = value
        return {"array": name}
    if type(value).__name__ in known:
        inner = {item.name: _plain(getattr(value, item.name), known, arrays) for item in fields(value) if item.init}
        return {"kind": type(value).__name__, "fields": inner}
    if isinstance(value, Mapping):
        return {"mapping": {str(name): _plain(inner, known, arrays) for name, inner in value.items()}}
    if isinstance(value, tuple):
        return [_plain(inner, known, arrays) for inner in value]
    msg = f"a {type(value).__name__} cannot be kept"
    raise TypeError(msg)


def _restored(value: Any, known: Mapping[str, type], arrays: Mapping[str, np.ndarray[Any, Any]]) -> Any:
    """Return what `_plain` was given; tuples stay tuples, arrays are read-only."""
    if isinstance(value, list):
        return tuple(_restored(inner, known, arrays) for inner in value)
    if not isinstance(value, dict):
        return value
    if "array" in value:
        found = arrays[value["array"]]
        found.flags.writeable = False
        return found
    named = value["fields" if "kind" in value else "mapping"]
    inner = {name: _restored(item, known, arrays) for name, item in named.items()}
    return known[value["kind"]](**inner) if "kind" in value else inner
