"""Metals of work pieces against standards, data sheets and tables, the source named beside each."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from fem.constants import MU0
from fem.materials.work_metals import (
    colour_temperature,
    reduced_polarisation,
    steel_heat_capacity,
    work_metal,
    work_metal_names,
)
from geometries.described.tables import table_rows

CELSIUS = 273.15


@pytest.mark.parametrize(("celsius", "printed"), [(20, 439.8), (600, 760.2), (735, 5000.0), (800, 803.3), (900, 650.0)])
def test_heat_capacity_of_steel(celsius: float, printed: float) -> None:
    # EN 1993-1-2:2005, cl. 3.4.1.2, its formulas worked at these temperatures; 5000 is the standard's own remark.
    assert steel_heat_capacity(celsius + CELSIUS) == pytest.approx(printed, rel=2e-4)


@pytest.mark.parametrize(
    ("celsius", "printed"), [(600, 335.7), (800, 561.6), (900, 632.1), (1000, 697.1), (1200, 827.1)]
)
def test_enthalpy_of_steel(celsius: float, printed: float) -> None:
    # EN 1993-1-2:2005, cl. 3.4.1.2, integrated from 20 degC by adaptive quadrature [kJ/kg], printed to 0.1.
    pieces = [20, 600, 735, 900, 1200]
    bounds = [b for b in pieces if b < celsius] + [celsius]
    exact = sum(
        quad(lambda t: float(steel_heat_capacity(t + CELSIUS)), a, b, limit=200)[0] for a, b in pairwise(bounds)
    )
    found = work_metal("carbon steel").enthalpy_at(celsius + CELSIUS)
    assert found / 1e3 == pytest.approx(printed, abs=0.06)
    # Integrated in steps of 0.05 K, straight between points 2 K apart.
    assert found == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "mean"),
    [(100, 486), (200, 498), (300, 514), (400, 533), (500, 555), (600, 584), (700, 636), (800, 703)],
)
def test_mean_heat_of_steel(celsius: float, mean: float) -> None:
    # Steel handbooks, GOST 1050 steel 20, heat capacity "range 20 to t" [J/(kg K)]: another steel than the
    # standard's, which puts more of the transformation below 800 degC; steels of one class differ by 5 %.
    found = work_metal("carbon steel").enthalpy_at(celsius + CELSIUS)
    assert found / (celsius - 20) == pytest.approx(mean, rel=0.05)


def test_heat_to_liquid_iron() -> None:
    # NIST WebBook C7439896 (Chase 1998): liquid at 1809 K less solid at 298 K = 72.45 kJ/mol, molar mass 55.845 g.
    # Mild steel is liquid at 1520 degC, 16 K sooner, and its transformation differs a little: 3 %.
    steel = work_metal("carbon steel")
    found = steel.enthalpy_at(steel.liquidus) - steel.enthalpy_at(298.15)
    assert found == pytest.approx(72.45e3 / 0.055845, rel=0.03)


@pytest.mark.parametrize(
    ("celsius", "printed"),
    [(100, 0.219), (200, 0.292), (300, 0.381), (400, 0.487), (500, 0.601), (600, 0.758), (700, 0.925), (800, 1.094)],
)
def test_resistivity_of_steel(celsius: float, printed: float) -> None:
    # Steel handbooks, GOST 1050 steel 20 [uohm m]. Points 2 K apart cut a corner of at most 0.001.
    assert work_metal("carbon steel").resistivity_at(celsius + CELSIUS) * 1e6 == pytest.approx(printed, abs=0.001)


def test_resistivity_of_low_carbon_steels_near_room_temperature() -> None:
    # AISI 1010 at 20 degC: 0.143 uohm m (ASM Metals Handbook, from memory); AISI 1008 0.130 from memory. 0.20 %
    # carbon lies above both.
    found = float(work_metal("carbon steel").resistivity_at(293.15)) * 1e6
    assert 0.143 < found < 1.3 * 0.143


def test_resistivity_of_stainless_steel() -> None:
    # A. Cincotti et al., AIChE J. 53 (2007) 703: cubic, 297 to 1029 K. Points 100 K apart
    # cut its bend by 4 nohm m, 0.6 %. AISI 304 as printed for the grade: 0.72 at 20 degC, 1.16 uohm m at 650
    # degC, 3 % between sources.
    steel = work_metal("stainless steel")
    kelvin = np.linspace(300.0, 1029.0, 60)
    cubic = 1.575e-15 * kelvin**3 - 3.236e-12 * kelvin**2 + 2.724e-9 * kelvin + 1.364e-7
    np.testing.assert_allclose(steel.resistivity_at(kelvin), cubic, rtol=6e-3)
    assert steel.resistivity_at(293.15) == pytest.approx(0.72e-6, rel=0.03)
    assert steel.resistivity_at(923.15) == pytest.approx(1.16e-6, rel=0.03)
    assert (steel.solidus, steel.liquidus) == pytest.approx((1400 + CELSIUS, 1455 + CELSIUS), abs=6)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(100, 1.006), (500, 1.026), (800, 1.008), (1000, 1.014), (1200, 1.025)]
)
def test_resistivity_of_nichrome(celsius: float, factor: float) -> None:
    # Temperature factor of 80/20 wire, GB/T 1234 (from memory), three decimals.
    alloy = work_metal("nichrome")
    found = alloy.resistivity_at(celsius + CELSIUS) / alloy.resistivity_at(293.15)
    assert found == pytest.approx(factor, abs=0.0006)


@pytest.mark.parametrize(("name", "kilojoules"), [("copper", 206), ("aluminium", 396), ("nickel", 293)])
def test_heat_of_fusion(name: str, kilojoules: float) -> None:
    # Older CRC Handbooks, as reprinted [kJ/kg]: the jump of the enthalpy at the melting point, printed to 1.
    metal = work_metal(name)
    jump = metal.enthalpy_at(metal.solidus + 1e-3) - metal.enthalpy_at(metal.solidus)
    assert jump / 1e3 == pytest.approx(kilojoules, abs=0.5)


def test_copper_and_aluminium_agree_with_the_wires_of_windings() -> None:
    # IEC 60028: annealed copper 0.00393 1/K; CRC Handbook, from memory: aluminium 2.65 at 20 degC, below hard wire.
    copper = work_metal("copper")
    assert copper.resistivity_at(300.0) == pytest.approx(1.72414e-8 * (1 + 0.00393 * 6.85), rel=0.03)
    assert copper.resistivity_at(400.0) == pytest.approx(1.72414e-8 * (1 + 0.00393 * 106.85), rel=0.02)


@pytest.mark.parametrize(
    ("field", "density"),
    [(4000, 1.413), (8010, 1.594), (16010, 1.751), (32030, 1.896), (64050, 2.008), (160000, 2.174), (304260, 2.361)],
)
def test_magnetisation_of_steel(field: float, density: float) -> None:
    # TEAM workshop problem 24, table I: EN9 medium-carbon steel (160 kA/m between two of its points). Two figures stand
    # for the whole curve: 3.5 %, the scatter among steels is larger.
    steel = work_metal("carbon steel")
    js = float(np.interp(293.15, steel.temperature, steel.polarisation))
    found = js * field / (field + steel.half_polarisation_field) + MU0 * field
    assert found == pytest.approx(density, rel=0.035)


@pytest.mark.parametrize(
    ("field", "density"), [(4993, 1.70), (7189, 1.75), (9423, 1.80), (20000, 2.010), (40000, 2.201)]
)
def test_magnetisation_of_mild_steel(field: float, density: float) -> None:
    # TEAM workshop problem 13, its plate to 1.8 T and its formula beyond, J = -2.822e-10 H^2 + 2.529e-5 H + 1.591 (from
    # memory). Two figures stand for the whole curve: 5 %, the scatter among steels is larger.
    steel = work_metal("mild steel")
    js = float(np.interp(293.15, steel.temperature, steel.polarisation))
    found = js * field / (field + steel.half_polarisation_field) + MU0 * field
    assert found == pytest.approx(density, rel=0.05)


@pytest.mark.parametrize(
    ("name", "microhm_metres", "tolerance"),
    [
        # ASTM B36, UNS C26000 annealed: 28 % of 58 MS/m, the per cent to half a unit.
        ("brass", 1 / (0.28 * 58), 0.5 / 28),
        # UNS C51000, CuSn5: 15 % of 58 MS/m.
        ("bronze", 1 / (0.15 * 58), 0.5 / 15),
        # CRC Handbook, electrical resistivity of pure metals at 293 K, from memory; wire of lamps is not quite so pure.
        ("silver", 0.01587, 0.01),
        ("molybdenum", 0.0534, 0.01),
        ("tungsten", 0.0528, 0.05),
        # Printed for the alloys Sn99.3Cu0.7 and Sn60Pb40.
        ("tin solder", 0.126, 0.01),
        ("tin-lead solder", 0.153, 0.01),
        # Grade 2, ASM Metals Handbook, from memory: 0.52 to 0.56.
        ("titanium", 0.54, 0.04),
        # AISI 1008 and 0.80 % carbon, Smithells, from memory: other books differ by 5 %.
        ("mild steel", 0.130, 0.05),
        ("spring steel", 0.180, 0.06),
    ],
)
def test_resistivity_at_20_degrees(name: str, microhm_metres: float, tolerance: float) -> None:
    assert float(work_metal(name).resistivity_at(293.15)) * 1e6 == pytest.approx(microhm_metres, rel=tolerance)


@pytest.mark.parametrize(
    ("name", "solidus", "liquidus", "kelvin"),
    [
        # ASTM B36, UNS C26000: 1680 and 1750 degF; ASTM B103, UNS C51000: 1750 and 1920 degF (from memory).
        ("brass", (1680 - 32) / 1.8, (1750 - 32) / 1.8, 1.0),
        ("bronze", (1750 - 32) / 1.8, (1920 - 32) / 1.8, 1.0),
        # ITS-90, fixed points of silver and copper.
        ("silver", 961.78, 961.78, 0.01),
        ("copper", 1084.62, 1084.62, 0.01),
        # ISO 17672, Ag 145 and Ag 155 (seen as printed for the alloys); ISO 9453 (Sn60Pb40 from memory).
        ("silver solder Ag 145", 640.0, 680.0, 0.5),
        ("silver solder Ag 155", 630.0, 660.0, 0.5),
        ("tin solder", 227.0, 227.0, 0.5),
        ("tin-lead solder", 183.0, 190.0, 1.5),
        # CRC Handbook, from memory; titanium of commerce is not quite so pure.
        ("titanium", 1668.0, 1668.0, 10.0),
        ("molybdenum", 2623.0, 2623.0, 1.0),
        ("tungsten", 3422.0, 3422.0, 1.0),
    ],
)
def test_melting_range(name: str, solidus: float, liquidus: float, kelvin: float) -> None:
    found = work_metal(name)
    assert (found.solidus, found.liquidus) == pytest.approx((solidus + CELSIUS, liquidus + CELSIUS), abs=kelvin)


@pytest.mark.parametrize("name", [name for name in work_metal_names() if name not in {"carbon", "graphite"}])
def test_heat_and_current_are_carried_by_the_same_electrons(name: str) -> None:
    # Wiedemann and Franz: k rho/T = 2.44e-8 V2/K2 of Sommerfeld's theory. Good metals keep to it within a fifth above
    # room temperature; in poor ones (nichrome, titanium, stainless steel) the lattice carries up to as much again
    # when cold.
    found = work_metal(name)
    for kelvin in (300.0, 0.5 * (300.0 + found.solidus), found.solidus - 5.0):
        k, rho = (np.interp(kelvin, found.temperature, y) for y in (found.thermal_conductivity, found.resistivity))
        cold_lattice = 1.8 if rho > 0.4e-6 or kelvin < 400.0 else 1.35
        assert 0.78 < k * rho / kelvin / 2.44e-8 < cold_lattice


@pytest.mark.parametrize("column", ["resistivity", "conductivity", "heat_capacity"])
@pytest.mark.parametrize("name", work_metal_names())
def test_tables_go_from_room_temperature_into_the_melt(name: str, column: str) -> None:
    # Beyond its rows a property stays level: that must be in the melt, or be said in a row of its own.
    rows = [row for row in table_rows("fem.materials", f"work_metals_{column}.csv") if row["metal"] == name]
    if not rows:
        (row,) = (row for row in table_rows("fem.materials", "work_metals.csv") if row["metal"] == name)
        assert (column, row["heat_capacity"]) == ("heat_capacity", "EN 1993-1-2")
        return
    celsius = [float(row["temperature_degC"]) for row in rows]
    found = work_metal(name)
    assert celsius == sorted(celsius)
    assert celsius[0] <= 27.0
    assert celsius[-1] >= min(found.solidus, found.temperature[-1] - 2.0) - CELSIUS - 1.0
    assert all(row["source"].strip() for row in rows)


@pytest.mark.parametrize(("name", "heat"), [("copper", 3.45e6), ("aluminium", 2.5e6)])
def test_heat_per_volume_is_that_of_windings(name: str, heat: float) -> None:
    # IEC 60949, table 1 [J/(K m3)], aluminium from memory, as for windings (test_materials_metals.py): 2.5 %.
    found = work_metal(name)
    slope = np.interp(303.15, found.temperature, found.enthalpy) - np.interp(293.15, found.temperature, found.enthalpy)
    assert slope / 10 == pytest.approx(heat, rel=0.025)


def test_polarisation_of_iron() -> None:
    # Crangle and Goodman, Proc. R. Soc. A 321 (1971) 477, from memory: 217.6 at 293 K over 221.7 A m2/kg at 0 K;
    # nothing is left at the Curie point. The law's own misfit is 0.5 %.
    assert reduced_polarisation(293.0, 1044.0, 0.35, 4.0) == pytest.approx(217.6 / 221.7, abs=5e-3)
    assert reduced_polarisation(1044.0, 1044.0, 0.35, 4.0) == 0.0
    assert reduced_polarisation(1500.0, 1044.0, 0.35, 4.0) == 0.0


def test_heat_colours() -> None:
    # Workshop Technology Part 1 (1972) and A Book of Steam for Engineers (1905): 815 degC begins cherry red.
    assert colour_temperature("red just visible") == pytest.approx(525 + CELSIUS)
