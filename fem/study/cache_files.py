"""Computed dataclasses as `.npz` files: arrays beside a JSON tree, nothing in them that runs when it is read.

The last 32 bytes are the SHA-256 of the rest, so that a file that was damaged in any way gives no number.
"""

from __future__ import annotations

import hashlib
import io
import json
import types
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

import numpy as np

SCHEMA = 2
"""Of the file; a file of another is as good as none."""
_DIGEST = 32
_TREE = "tree"
_PLAIN = (bool, int, float, str)


class Unreadable(ValueError):
    """A file that does not hold what it should."""


def write_values(path: Path, values: Mapping[str, Any], key: str) -> None:
    """Write values to a file.

    Parameters
    ----------
    path
        The file.
    values
        By name: numbers, texts, arrays, dataclasses of such, and mappings and tuples of them.
    key
        What they belong to; read back with them.

    Raises
    ------
    TypeError
        If a value is of another kind.
    OSError
        If the file cannot be written.
    """
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    tree = {"schema": SCHEMA, "key": key, "values": {name: _plain(value, arrays) for name, value in values.items()}}
    payload = io.BytesIO()
    np.savez(payload, allow_pickle=False, **{_TREE: np.array(json.dumps(tree))}, **arrays)
    path.write_bytes(payload.getvalue() + hashlib.sha256(payload.getvalue()).digest())


def read_values(path: Path, kinds: Mapping[str, Any], key: str) -> dict[str, Any]:
    """Read values that `write_values` wrote.

    Parameters
    ----------
    path
        The file.
    kinds
        The type of each value, by its name.
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
        return {name: _typed(tree["values"][name], kind, arrays) for name, kind in kinds.items()}
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, KeyError, TypeError, IndexError) as error:
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


def _plain(value: Any, arrays: dict[str, np.ndarray[Any, Any]]) -> Any:
    """Return a value as JSON can hold it, its arrays put aside under a number."""
    if value is None or isinstance(value, _PLAIN):
        return value.item() if isinstance(value, np.generic) else value
    if isinstance(value, np.ndarray):
        name = f"array{len(arrays)}"
        arrays[name] = value
        return name
    if is_dataclass(value):
        return {item.name: _plain(getattr(value, item.name), arrays) for item in fields(value) if item.init}
    if isinstance(value, Mapping):
        return {str(name): _plain(inner, arrays) for name, inner in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(inner, arrays) for inner in value]
    msg = f"a {type(value).__name__} cannot be kept"
    raise TypeError(msg)


def _typed(value: Any, kind: Any, arrays: Mapping[str, np.ndarray[Any, Any]]) -> Any:
    """Return a value of the JSON tree as the type it had."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin in (types.UnionType, Union):
        if value is None and type(None) in inner:
            return None
        return _typed(value, next(k for k in inner if k is not type(None)), arrays)
    if kind is np.ndarray or origin is np.ndarray:
        found = arrays[value]
        found.flags.writeable = False
        return found
    if is_dataclass(kind) and isinstance(kind, type):
        hints = get_type_hints(kind)
        return kind(**{f.name: _typed(value[f.name], hints[f.name], arrays) for f in fields(kind) if f.init})
    if origin is not None and issubclass(origin, Mapping):
        return {name: _typed(item, inner[1], arrays) for name, item in value.items()}
    if origin is tuple:
        each = [inner[0]] * len(value) if inner[-1] is Ellipsis else list(inner)
        return tuple(_typed(item, k, arrays) for item, k in zip(value, each, strict=True))
    if kind in _PLAIN and (isinstance(value, kind) or (kind is float and isinstance(value, int))):
        return kind(value)
    msg = f"expected {kind}, got {value!r}"
    raise TypeError(msg)
