"""Results of many rows as columns, and one row of them as a mapping."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from pydantic_core import to_json

Cell = float | int | str | None


class Columns:
    """Results of the rows of a block.

    Parameters
    ----------
    told
        By dotted JSON key what all rows have in common, or an array (n,) of numbers, or of texts and None.
    """

    __slots__ = ("_numbers", "_order", "_others", "apart", "told")

    def __init__(self, told: Mapping[str, Any]) -> None:
        columns = {key: value for key, value in told.items() if isinstance(value, np.ndarray)}
        numbers = {key: np.asarray(value, np.float64) for key, value in columns.items() if value.dtype != object}
        others = {key: value for key, value in columns.items() if value.dtype == object}
        self._numbers, self._others = np.array([*numbers.values()]).T.copy(), list(others.values())
        self.told = {**told, **dict(zip(numbers, self._numbers.T, strict=True))}
        self.apart = tuple(columns)
        places = {key: place for place, key in enumerate((*numbers, *others))}
        self._order = [places[key] for key in columns]

    def __reduce__(self) -> tuple[Any, ...]:
        return Columns, (self.told,)

    def texts(self, place: int, write: Callable[[object], str]) -> list[str]:
        """Return what is not in common of one row in the order of `apart`: numbers as JSON, texts and None written."""
        found = [write(other[place]) for other in self._others]
        if self._numbers.size:
            found = [*to_json(self._numbers[place].tolist()).decode()[1:-1].split(","), *found]
        return [found[place] for place in self._order]


class Cells(Mapping[str, Cell]):
    """The results of one row of a block, looked up when asked for.

    Parameters
    ----------
    columns, place
        Whose, and which row of them.
    """

    __slots__ = ("columns", "place")

    def __init__(self, columns: Columns, place: int) -> None:
        self.columns, self.place = columns, place

    def __getitem__(self, key: str) -> Cell:
        """Return one result."""
        value = self.columns.told[key]
        if not isinstance(value, np.ndarray):
            return value  # type: ignore[no-any-return]
        one = value[self.place]
        return one.item() if isinstance(one, np.generic) else one  # type: ignore[no-any-return]

    def __iter__(self) -> Iterator[str]:
        return iter(self.columns.told)

    def __len__(self) -> int:
        return len(self.columns.told)

    def __contains__(self, key: object) -> bool:
        return key in self.columns.told

    def __repr__(self) -> str:
        return repr(dict(self))


class Parted(Mapping[str, Cell]):
    """The results of one row as a store has them: what rows of its block have in common, and its own.

    Parameters
    ----------
    common
        By key; a row's own are there too, as anything.
    places
        Of its own results, by key.
    own
        At these places.
    """

    __slots__ = ("common", "own", "places")

    def __init__(self, common: Mapping[str, Any], places: Mapping[str, int], own: Sequence[Cell]) -> None:
        self.common, self.places, self.own = common, places, own

    def __getitem__(self, key: str) -> Cell:
        """Return one result."""
        place = self.places.get(key)
        return self.common[key] if place is None else self.own[place]

    def __iter__(self) -> Iterator[str]:
        return iter(self.common)

    def __len__(self) -> int:
        return len(self.common)

    def __repr__(self) -> str:
        return repr(dict(self))


def keys_of(results: Iterable[Mapping[str, Any]]) -> dict[str, None]:
    """Return the keys of all rows' results in their order; those of a block are looked at once."""
    found: dict[str, None] = {}
    seen: set[Columns] = set()
    for one in results:
        if not isinstance(one, Cells):
            found.update(dict.fromkeys(one))
        elif one.columns not in seen:
            seen.add(one.columns)
            found.update(dict.fromkeys(one))
    return found
