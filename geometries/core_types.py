"""Every type of core there is, told apart by its `type`."""

from typing import Annotated

from pydantic import Discriminator

from geometries.cores import ShellCore
from geometries.two_leg import TwoLegCore

AnyCore = ShellCore | TwoLegCore
"""For annotations."""
Core = Annotated[AnyCore, Discriminator("type")]
"""For fields of descriptions: `type` says which."""
