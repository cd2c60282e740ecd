"""Libraries that only tests use, to compare with."""

from importlib import import_module
from types import ModuleType

import pytest


def needed(name: str) -> ModuleType:
    """Import a library, or skip what needs it and say why: not installed, or short of a library of the system."""
    try:
        return import_module(name)
    except (ImportError, OSError) as error:
        pytest.skip(f"{name} does not load: {error}", allow_module_level=True)
