"""Errors that reach the command line with an exit code of their own."""

from collections.abc import Iterable


class NotConverged(ArithmeticError):
    """An iteration did not reach its tolerance; the message says what was tried."""


class OutOfRange(ValueError):
    """A result would rest on data beyond their end; the message names the data and what to give."""


class DoesNotFit(ValueError):
    """The windings or shunts do not go into the window; `faults` has one (key, sentence) for each reason."""

    def __init__(self, faults: Iterable[tuple[str, str]]) -> None:
        self.faults = tuple((key, text) for key, text in faults)
        super().__init__("; ".join(f"{key}: {text}" for key, text in self.faults))
