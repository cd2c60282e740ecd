"""What is built: cores, conductors, windings, their fit in the window, cross-sections and meshes."""

from geometries.blocks import Block
from geometries.coils import Coil, coils_of
from geometries.conductors import Conductor
from geometries.core_types import AnyCore, Core
from geometries.cores import Joint, ShellCore
from geometries.errors import Description, Fault, faults
from geometries.fit import BlockFit, Fit, fit
from geometries.frame import Box, Frame, Leg, Part
from geometries.laminations import Lamination, lamination, standard_laminations
from geometries.quantities import format_quantity
from geometries.section import Cut, Region, Role, Section
from geometries.shell_section import shell_section
from geometries.shunt import Shunt
from geometries.stack import Primaries, SecondCore
from geometries.two_leg import TwoLegCore
from geometries.winding import ExtraTurns, InsulationClass, Sense, Winding
from geometries.windings import Arrangement, Legs, Windings, place

__all__ = [
    "AnyCore",
    "Arrangement",
    "Block",
    "BlockFit",
    "Box",
    "Coil",
    "Conductor",
    "Core",
    "Cut",
    "Description",
    "ExtraTurns",
    "Fault",
    "Fit",
    "Frame",
    "InsulationClass",
    "Joint",
    "Lamination",
    "Leg",
    "Legs",
    "Part",
    "Primaries",
    "Region",
    "Role",
    "SecondCore",
    "Section",
    "Sense",
    "ShellCore",
    "Shunt",
    "TwoLegCore",
    "Winding",
    "Windings",
    "coils_of",
    "faults",
    "fit",
    "format_quantity",
    "lamination",
    "place",
    "shell_section",
    "standard_laminations",
]
