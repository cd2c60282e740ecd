"""Random mains, leads, loads, work pieces, duties and limits, of the size that goes with a secondary."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

from fem.materials.insulation import insulations
from fem.materials.work_metals import surface_names, work_metal_names
from tests.campaign.drawing import Draw, quantity
from tests.campaign.random_windings import SIZES

Table = dict[str, Any]
CARBONS = ("carbon", "graphite")


def random_mains(draw: Draw, *, edge: bool) -> Table:
    """Return the table [mains]."""
    volts, hertz = draw.weighted(
        {(230, 50): 6.0, (120, 60): 2.0, (240, 50): 1.0, (220, 60): 1.0, (110, 50): 1.0, (400, 50): 0.5}
    )
    if edge:
        volts, hertz = round(draw.ratio(1, 1000), 1), round(draw.ratio(10, 1000), 1)
    mains: Table = {"voltage": f"{volts:g} V", "frequency": f"{hertz:g} Hz"}
    source = draw.weighted({"assumed": 4.0, "given": 3.0, "dip": 2.0})
    small = volts / 16
    if source == "given":
        mains["source_resistance"] = draw.resistance(min(small * draw.ratio(1e-3, 0.1), 99))
        if draw.chance(0.5):
            mains["source_inductance"] = quantity(min(small * draw.ratio(1e-3, 0.03) / (2 * pi * hertz), 0.09), "H")
    elif source == "dip":
        mains["dip_voltage"] = f"{volts * draw.even(0.93, 0.995):.5g} V"
        mains["dip_current"] = f"{draw.ratio(0.3, 16):.3g} A"
    if draw.chance(0.25):
        mains["run_length"] = f"{draw.ratio(1, 60):.3g} m"
        mains["run_area"] = f"{draw.of([0.75, 1, 1.5, 2.5, 4, 6]):g} mm2"
    if draw.chance(0.7):
        mains["breaker"] = draw.of(["B6", "B10", "B13", "B16", "C10", "C16", "D20", "16 A", "20 A", "32 A"])
    if draw.chance(0.25):
        mains["plug_fuse"] = f"{draw.of([3, 5, 13])} A"
    if draw.chance(0.3):
        mains["rated_current"] = f"{draw.ratio(0.05, 20):.3g} A"
    return mains


def random_bench(draw: Draw, volts: float, area: float, *, edge: bool) -> Table:
    """Return the tables that hang on a secondary of so many volts idle and so much copper [mm2]."""
    amperes = area * draw.ratio(0.1, 100) if edge else area * draw.ratio(2, 25)
    tables: Table = {}
    if draw.chance(0.85):
        tables["leads"] = _leads(draw, area, edge=edge)
    if draw.chance(0.6):
        tables["load"] = _load(draw, volts, amperes, edge=edge)
    if draw.chance(0.55):
        tables["work_piece"] = _work_piece(draw, amperes, edge=edge)
    if draw.chance(0.5):
        tables["duty"] = {
            "on_time": quantity(draw.ratio(0.011, 3500) if edge else draw.ratio(0.3, 120), "s"),
            "off_time": quantity(draw.ratio(0.011, 80_000) if edge else draw.ratio(1, 600), "s"),
            "ambient": draw.celsius(-29, 59) if edge else draw.celsius(5, 40),
            "plugged_in": draw.chance(0.6),
        }
    if draw.chance(0.3):
        tables["pulses"] = _pulses(draw, edge=edge)
    if draw.chance(0.5):
        tables["limits"] = {"flux_density": quantity(draw.even(0.3, 2.0) if edge else draw.even(1.1, 1.7), "T")}
        if draw.chance(0.4):
            tables["limits"]["idle_current"] = quantity(draw.ratio(0.02, 5), "A")
    return tables


def _leads(draw: Draw, area: float, *, edge: bool) -> Table:
    wanted = area * draw.ratio(0.1, 10) if edge else area * draw.ratio(0.5, 3)
    size = min(SIZES, key=lambda known: abs(known - wanted))
    bare = sqrt(size / 0.58 * 4 / pi) * 1e-3
    leads: Table = {
        "length": draw.length(draw.of([0.0, 50.0, draw.ratio(0.02, 50)]) if edge else draw.ratio(0.3, 6)),
        "area": draw.weighted({f"{size:g} mm2": 5.0, f"{draw.whole(1, 12)} AWG": 1.0, f"{wanted:.3g} mm2": 1.0}),
        "spacing": draw.length(max(1.45 * max(bare, sqrt(wanted / 0.58 * 4 / pi) * 1e-3), 0.012) * draw.ratio(1, 6)),
    }
    if draw.chance(0.15):
        leads["material"] = "aluminium"
    if draw.chance(0.4):
        leads["joint_resistance"] = draw.resistance(draw.of([0.0, draw.ratio(1e-5, 1e-3)]))
    if draw.chance(0.5):
        qualities = draw.some(["bolted", "clamped", "dirty"], draw.whole(1, 3))
        leads["joints"] = {name: draw.whole(0, 100 if edge else 4) for name in qualities}
    if draw.chance(0.4):
        leads["jacket"] = draw.of([name for name in insulations() if not name.startswith("class")])
    return leads


def _load(draw: Draw, volts: float, amperes: float, *, edge: bool) -> Table:
    ohms = draw.of([0.0, 1e4, draw.ratio(1e-5, 1e3)]) if edge else volts / amperes * draw.ratio(0.3, 3)
    load: Table = {"resistance": draw.resistance(min(ohms, 1e4))}
    if draw.chance(0.35):
        load["rectifier"] = draw.of(["none", "half-wave", "full-wave"])
        load["forward_drop"] = quantity(min(draw.even(0.0, 0.5) * volts, 2.0 if not edge else 10.0), "V")
    return load


def _section(draw: Draw, amperes: float, *, edge: bool) -> Table:
    """Of a piece that such a current makes hot within seconds: 10 to 300 A/mm2."""
    square = amperes / draw.ratio(10, 300) * 1e-6
    size = min(max(sqrt(square), 0.12e-3), 0.09)
    size = draw.ratio(0.11e-3, 0.099) if edge and draw.chance(0.3) else size
    if draw.chance(0.5):
        return {"round": draw.length(max(size, 0.11e-3))}
    wide = draw.ratio(1, 8)
    thick = max(size / sqrt(wide), 0.06e-3)
    return {"strip": f"{min(size * sqrt(wide), 0.099) * 1e3:.4g} mm x {thick * 1e3:.4g} mm"}


def _work_piece(draw: Draw, amperes: float, *, edge: bool) -> Table:
    metal = draw.of([name for name in work_metal_names() if name not in CARBONS])
    seconds = draw.ratio(0.011, 3500) if edge else draw.ratio(0.2, 40)
    work: Table = {
        "metal": metal,
        "section": _section(draw, amperes, edge=edge),
        "length": draw.length(draw.ratio(0.25e-3, 1.9) if edge else draw.ratio(3e-3, 0.2)),
        "duration": quantity(seconds, "s"),
        "surface": draw.of([name for name in surface_names(metal) if name in {"bright", "oxidised"}]),
    }
    if draw.chance(0.5):
        work["switch_off"] = quantity(max(seconds * draw.even(0.1, 0.95), 0.001), "s")
    if draw.chance(0.5):
        work["target_temperature"] = draw.celsius(150, 1300)
    if draw.chance(0.3):
        work["ambient"] = draw.celsius(-10, 45)
    if draw.chance(0.7):
        work["jaws"] = {"contact_resistance": draw.resistance(draw.of([0.0, draw.ratio(3e-6, 1e-3)]))}
        if draw.chance(0.5):
            work["jaws"] |= {"heat_capacity": f"{draw.ratio(1, 1000):.3g} J/K"}
            work["jaws"] |= {"sink_conductance": f"{draw.ratio(0.1, 20):.3g} W/K"}
    if draw.chance(0.3):
        work["second_path"] = {"length": draw.length(draw.ratio(0.25e-3, 49) if edge else draw.ratio(10e-3, 5))}
        if draw.chance(0.3):
            work["second_path"]["section"] = _section(draw, amperes, edge=edge)
    between = draw.weighted({"nothing": 4.0, "joint": 3.0, "carbons": 2.0})
    if between == "joint":
        work["joint"] = {"resistance": draw.resistance(draw.ratio(3e-6, 1e-3))}
        if draw.chance(0.4):
            work["joint"]["conductance"] = f"{draw.ratio(0.01, 100):.3g} W/K"
    elif between == "carbons" and "second_path" not in work:
        work["carbons"] = {
            "grade": draw.of(CARBONS),
            "section": {"round": draw.length(draw.ratio(3e-3, 30e-3))},
            "length": draw.length(draw.ratio(3e-3, 60e-3)),
            "contact_resistance": draw.resistance(draw.ratio(3e-5, 5e-3)),
        }
    return work


def _pulses(draw: Draw, *, edge: bool) -> Table:
    pulses: Table = {
        "weld_cycles": draw.whole(1, 10_000 if edge else 60),
        "pause_cycles": draw.whole(1, 10_000 if edge else 60),
        "count": draw.whole(1, 1000 if edge else 20),
    }
    if draw.chance(0.5):
        pulses["rest"] = quantity(draw.ratio(0.11, 80_000) if edge else draw.ratio(1, 120), "s")
    return pulses
