"""Every type of core there is, told apart by its `type`."""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Discriminator, Tag

from geometries.cores.shell import ShellCore
from geometries.cores.two_leg import TwoLegCore

AnyCore = ShellCore | TwoLegCore
"""For annotations."""


def _kind(value: Any) -> Any:
    """Return the `type` of what is to become a core: a shell core where nothing says otherwise."""
    found = value.get("type", "shell") if isinstance(value, Mapping) else getattr(value, "type", "shell")
    return found if isinstance(found, str) else "shell"


Core = Annotated[Annotated[ShellCore, Tag("shell")] | Annotated[TwoLegCore, Tag("two-leg")], Discriminator(_kind)]
"""For fields of descriptions: `type` says which."""
