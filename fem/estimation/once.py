"""Values that are solved when first asked for, and failures that are remembered like them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, Self, TypeVar, overload

from fem.errors import NotConverged, OutOfRange
from fem.quantity import Unknown

Value = TypeVar("Value")

FAILURES = (NotConverged, OutOfRange)
"""What the parts of an estimate declare to raise; anything else is a fault of the program and goes through."""


class once(Generic[Value]):
    """A property computed once for each object; where that failed, the failure is raised again and not tried again."""

    def __init__(self, compute: Callable[[Any], Value]) -> None:
        self.compute = compute
        self.__doc__ = compute.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        """Keep the name under which the value is found."""
        self.name = f"_{name}_once"

    @overload
    def __get__(self, instance: None, owner: type) -> Self: ...
    @overload
    def __get__(self, instance: object, owner: type) -> Value: ...
    def __get__(self, instance: object | None, owner: type) -> Self | Value:
        """Return the value, or raise what its computation raised."""
        if instance is None:
            return self
        kept = vars(instance)
        if self.name not in kept:
            try:
                kept[self.name] = self.compute(instance)
            except FAILURES as error:
                kept[self.name] = error
        found: Value | Exception = kept[self.name]
        if isinstance(found, Exception):
            raise found
        return found


def attempt(compute: Callable[[], Value]) -> Value | Unknown:
    """Return what is computed; where that fails, a gap with its reason."""
    try:
        return compute()
    except FAILURES as error:
        return Unknown(f"no convergence: {error}" if isinstance(error, NotConverged) else str(error), gap=True)
