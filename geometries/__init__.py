"""What is built: cores, conductors, windings, their fit in the window, cross-sections and meshes."""

from geometries.blocks import Block
from geometries.conductors import Conductor
from geometries.cores import Joint, ShellCore
from geometries.errors import Description, Fault, faults
from geometries.fit import BlockFit, Fit, fit
from geometries.laminations import Lamination, lamination, standard_laminations
from geometries.quantities import format_quantity
from geometries.section import Cut, Region, Role, Section
from geometries.shell_section import shell_section
from geometries.windings import Arrangement, InsulationClass, Winding, Windings, place

__all__ = [
    "Arrangement",
    "Block",
    "BlockFit",
    "Conductor",
    "Cut",
    "Description",
    "Fault",
    "Fit",
    "InsulationClass",
    "Joint",
    "Lamination",
    "Region",
    "Role",
    "Section",
    "ShellCore",
    "Winding",
    "Windings",
    "faults",
    "fit",
    "format_quantity",
    "lamination",
    "place",
    "shell_section",
    "standard_laminations",
]
