"""Errors that reach the command line with an exit code of their own."""


class NotConverged(ArithmeticError):
    """An iteration did not reach its tolerance; the message says what was tried."""


class OutOfRange(ValueError):
    """A result would rest on data beyond their end; the message names the data and what to give."""
