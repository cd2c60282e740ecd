"""Steels, wire, conductor metals and heat: what the tool's tables and formulas say against printed ones."""

from __future__ import annotations

from dataclasses import replace
from math import pi

from fem.constants import ZERO_CELSIUS
from fem.heat.adiabatic import adiabatic_current
from fem.heat.cable import JointHeat, LeadHeat, cable
from fem.heat.duty import equivalent_current
from fem.heat.network import Network
from fem.heat.phases import Phase
from fem.heat.settled import settle
from fem.heat.surface import Lie, nusselt
from fem.mains.devices import Device, Type, points_of
from fem.materials.contact import constriction_resistance, spot_temperature, spot_voltage
from fem.materials.metals import metal
from fem.materials.steel import steel, steel_names
from fem.materials.work_metals import work_metal
from geometries.windings.conductors import Conductor
from geometries.windings.wire import COPPER_CONDUCTIVITY, awg_area, awg_diameter

INCH, FOOT = 0.0254, 0.3048
DIAMETERS = (-3, -2, -1, 0, 1, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 30, 36, 40)
RESISTANCES = (-3, -2, -1, 0, 1, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 28, 30)
CABLES = ("1.5", "2.5", "6", "10", "16", "25", "35", "50", "70", "95")


def steels() -> dict[str, float]:
    """Compute polarisation [T] and specific loss [W/kg] of each grade at the fields and flux densities guaranteed."""
    found = {}
    for name in steel_names():
        grade = steel(name)
        for field in (2500, 5000, 10000):
            found[f"steel_{name}_J{field}"] = float(grade.curve.polarisation(float(field)))
        for b in ("1.0", "1.5"):
            found[f"steel_{name}_P{b}"] = float(grade.loss.specific(float(b), 50.0))
    return found


def wire() -> dict[str, float]:
    """Compute diameters [in] and resistances [ohm/1000 ft] of gauges, and resistances of flexible cable [ohm/km]."""
    found = {f"awg_diameter_{n}": awg_diameter(n) / INCH for n in DIAMETERS}
    for n in RESISTANCES:
        found[f"awg_resistance_{n}"] = 1000 * FOOT / (COPPER_CONDUCTIVITY * awg_area(n))
    for area in CABLES:
        conductor = Conductor.model_validate({"cable": f"{area} mm2"})
        found[f"cable_{area}"] = 1e3 / (COPPER_CONDUCTIVITY * conductor.conducting_area)
    return found


def copper() -> dict[str, float]:
    """Compute the resistivity of copper [ohm mm2/m] and how a copper loss rises with temperature [W]."""
    found = metal("copper")
    at_20, at_75 = (float(found.resistivity(t + ZERO_CELSIUS)) for t in (20, 75))
    return {"copper": at_20 * 1e6, "copper_loss_75": 504 * at_75 / at_20}


def heat() -> dict[str, float]:
    """Compute short-time currents [A/mm2, kA], a film, a contact's temperature [K] and duties' currents [-]."""
    found = {}
    for name, start, end in (("copper", 30, 160), ("copper", 90, 250), ("aluminium", 70, 160)):
        found[f"adiabatic_{name}_{start}_{end}"] = float(
            adiabatic_current(metal(name), 1e-6, ZERO_CELSIUS + start, ZERO_CELSIUS + end, 1.0)
        )
    cable = float(adiabatic_current(metal("copper"), 95e-6, ZERO_CELSIUS + 90, ZERO_CELSIUS + 250, 1.0))
    return found | {
        "adiabatic_cable": cable / 1e3,
        "cylinder_nusselt": float(nusselt(Lie.HORIZONTAL_CYLINDER, 2.63e9 * 0.69, 0.69)),
        **_contacts(),
        **{f"duty_{duty}": float(equivalent_current(1.0, duty / 100)) for duty in (80, 50, 20)},
    }


def _contacts() -> dict[str, float]:
    melting = {name: work_metal(metal).solidus for name, metal in (("copper",) * 2, ("aluminium",) * 2)}
    melting["iron"] = 1811.0
    spots = {
        f"contact_copper_{force}N": constriction_resistance(1.724e-8, 1.724e-8, hardness=8e8, force=force)
        for force in (10, 100, 1000)
    }
    return spots | {
        "contact_copper": spot_temperature(0.415, 293.0),
        **{f"contact_melts_{name}": spot_voltage(kelvin, 293.0) for name, kelvin in melting.items()},
    }


def joints() -> dict[str, float]:
    """Compute the heat that a long rod leads away [W], as the cables of joints do."""
    rods = LeadHeat(
        length=2.0,
        metal=replace(metal("copper"), thermal_conductivity=398.0),
        conductor_area=pi * 0.0025**2,
        bare_diameter=0.005,
        outside_diameter=0.005,
        resistance=0.0,
        jacket_conductivity=1.0,
        emissivity=0.0,
    )
    pieces = cable([rods], [JointHeat(resistance=1.0, mass=0.001, surfaces=())], 1.0)
    nodes = [replace(n, surfaces=(), to_ambient=sum(100 * float(s.area) for s in n.surfaces)) for n in pieces.nodes]
    network = Network(nodes=tuple(nodes), links=pieces.links)
    settled = settle(network.lumps.block, Phase(duration=1.0, secondary_current=1.0).flow[:, None])[0][0]
    # half of 1 W into either rod, at the rise that takes; 75 K in the example
    return {"long_rod_copper": 75 / 2 / (settled[network.index("joints")] - network.ambient)}


def protection() -> dict[str, float]:
    """Compute the largest loop impedances [ohm] at which a breaker still opens at once on 0.95 of 230 V."""
    found = {}
    for kind in (Type.B, Type.C, Type.D):
        for rating in (16.0, 32.0):
            at_once = next(
                multiple for multiple, seconds in points_of(Device(type=kind, rating=rating)).opens if seconds <= 0.1
            )
            found[f"loop_{kind.value}{rating:g}"] = 0.95 * 230 / (float(at_once) * rating)
    return found
