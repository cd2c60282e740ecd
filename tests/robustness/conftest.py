"""The estimate with round numbers, for what is done with estimates here too."""

from tests.unit.conftest import hand_made

__all__ = ["hand_made"]
