"""The machines: `tests/truth/data/machines.json`, each with its truths and the job that a shop would write of it.

    python -m tests.truth.machines [NAME ...]

draws and computes all machines of solved bases (or the named ones) anew. Exact similarity makes several of one base:
all lengths times c give c^2 times the flux at c times the ampere-turns, a sheet with J'(H) = s J(H / s) gives s times
both; leakage goes with c. Nothing of the package's fields, circuits, heat or work is used; its rules of lays are.
"""

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import asinh, exp, hypot, pi, sqrt
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from geometries.cores.kinds import read_core
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import Windings, place
from geometries.windings.fit import fit
from tests.truth.bench import LOADS, copper_mass, drawn_work, source_of, told_work, work_truths
from tests.truth.built import built, core_tables, mm, winding_tables
from tests.truth.electric import OMEGA, POINTS, Iron, Loop, electric, loaded_states
from tests.truth.fields import USED, bases, fields_of, poorer, sheet_of
from tests.truth.sheet import MU0, Floats, field_of
from tests.truth.shop import VOLTS, assumption, drawn, misread_lengths, read, scaled_lengths

DATA = Path(__file__).parent / "data" / "machines.json"
EACH = {True: 6, False: 2}
"""Machines of a base of other tests' references, and of one of the lays or of our own."""
RHO, ALPHA = 1 / 58e6, 0.00393
"""Copper at 20 degC [ohm m], [1/K]: IEC 60028."""
ERRORS = {
    "saturation.peak_flux_density_T": 0.004,
    "saturation.knee_voltage_V": 0.007,
    "idle.current_rms_A": 0.025,
    "idle.current_peak_A": 0.035,
    "idle.core_loss_W": 0.01,
    "leakage.permeance_H": 0.005,
    "leakage.inductance_secondary_H": 0.005,
    "open_circuit.secondary_voltage_rms_V": 0.008,
    "short_circuit.input_power_W": 0.015,
    "load.power_W": 0.015,
    "load.input_power_W": 0.015,
    "switch_on.primary_first_peak_A": 0.09,
    "work_piece.hottest_temperature_K": 0.04,
    "work_piece.time_to_target_s": 0.08,
    "work_piece.hot_current_rms_A": 0.02,
}
"""Relative errors of truths: of fields, of what lies between states, of the leakage's own state, of coupling where the
gap is not the base's, of time steps. Others 0.7 %."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Machine:
    """One machine.

    Parameters
    ----------
    name, base
        Its own, and that of its base.
    true
        What was drawn, and what follows from it.
    told, tolerances
        The job of the misread machine, and by dotted keys what its shop says that its readings are off by at most.
    truths
        By the keys of an estimate.
    """

    name: str
    base: str
    true: dict[str, Any]
    told: dict[str, Any]
    tolerances: dict[str, str]
    truths: dict[str, float]

    def job(self, *, tolerances: bool = False) -> dict[str, Any]:
        """Return the tables of the job, with or without tolerances."""
        found: dict[str, Any] = json.loads(json.dumps(self.told))
        for key, words in self.tolerances.items() if tolerances else ():
            *path, last = key.split(".")
            table = found
            for name in path:
                table = table[name]
            table[last] = f"{table[last]} {words}"
        return found

    def error(self, key: str) -> float:
        """Return a truth's own relative error."""
        return ERRORS.get(key, 0.007)


def machines() -> Iterator[Machine]:
    """Yield all machines."""
    for entry in json.loads(DATA.read_text(encoding="utf-8"))["machines"]:
        yield Machine(**entry)


def iron_of(name: str, true: dict[str, Any]) -> Iron:
    """Return a machine's iron and leakage from its base's fields.

    A sheet of which q J(H / s) is known, stacked to a share k, fills its stack as J(H / s) s does that of the base if
    s = q k / k_base. Another gap d of the joints adds what their fill takes along d more than iron. Where the sheet
    takes `field` times the ampere-turns, s of it is there already, the rest by the circuit by hand.
    """
    spec, fields = bases()[name], fields_of(name)
    sheet, c, q = sheet_of(spec), true["scale"], true["steel"]
    k = true["stacking"] / spec["stacking"]
    s = q * k
    step = 2.2 * float(np.interp(1.9, fields.leg, fields.flux)) / POINTS
    at = step * np.arange(POINTS)

    def read_at(values: Floats) -> Floats:
        return np.asarray(PchipInterpolator(fields.flux, values)(at))

    more = poorer(name, true.get("field", s) / s, at)
    own = c * s * more * read_at(fields.ampere_turns)
    wider = true["joint_gap_m"] - c * 1e-3 * spec["core"]["joint_gap"]
    b = read_at(fields.leg) * spec["stacking"]
    # joints on top, beyond the secondary, have less flux than the primary: ampere-turns go with its square, as energy
    top = (1 - 1.4 * (1 - read_at(fields.other)[1:] / at[1:])) ** 2
    top = np.r_[top[0], top]
    if spec["core"]["joint"] == "interleaved":
        fill, iron = (field_of(sheet.stacked(share * spec["stacking"]))(b) for share in (0.5, 1.0))
        own = own + 2 * (1 + top) * wider * s * (fill - iron)
    else:
        own = own + 2 * top * wider * s * b / MU0
    loss = sheet.hysteresis * q**sheet.exponent * read_at(fields.hysteresis) + sheet.eddy * q**2 * read_at(fields.eddy)
    wide = step * c * c * s

    return Iron(
        end=wide * (POINTS - 1),
        ampere_turns=own,
        other=c * c * s * (at - more * (at - read_at(fields.other))),
        loss=loss * c**3 * k * sheet.density,
        leg=q * read_at(fields.leg),
        leakage=fields.leakage * c,
        behind=fields.behind * c,
    )


def lead_inductance(length: float, radius: float, spacing: float) -> float:
    """Return the inductance of a rectangle of round wire [H] by filaments' mutual inductances (Neumann).

    Each side is a filament; its own inductance is that of two filaments a disc's mean distance apart.
    """

    def mutual(side: float, apart: float) -> float:
        return MU0 / (2 * pi) * (side * asinh(side / apart) - hypot(side, apart) + apart)

    a, b, own = length / 2, spacing, radius * exp(-0.25)
    return 2 * (mutual(a, own) + mutual(b, own) - mutual(a, b) - mutual(b, a))


def strands(ohms_per_m: float, diameter: float, spacing: float) -> float:
    """Return a.c. over d.c. resistance of a pair of stranded leads: IEC 60287-1-1, 2.1, k_s = k_p = 1."""
    x4 = (8e-7 * pi * 50 / ohms_per_m) ** 2
    own = x4 / (192 + 0.8 * x4)
    return 1 + own * (1 + 2.9 * (diameter / spacing) ** 2)


def eddies(turns: float, diameter: float, across: float, rho: float) -> float:
    """Return a.c. over d.c. resistance of round wires in their block's own leakage field, rising evenly through it."""
    return 1 + (pi * OMEGA * MU0 * turns / rho / across) ** 2 * diameter**6 / 768


def first_winding(spec: dict[str, Any], true: dict[str, Any]) -> tuple[int, float]:
    """Return turns and bare diameter [mm] of the primary: a flux density at 230 V, and what its block holds."""
    core, _ = built(spec)
    area = true["stacking"] * true["scale"] ** 2 * core.frame.wound_leg.width * core.frame.iron_depth
    turns = round(sqrt(2) * VOLTS / (OMEGA * true["design_T"] * area))
    block = spec["windings"]["primary"]
    outside = sqrt(0.76 * block["height"] * block["build"] / turns) * true["scale"]
    return turns, max(round(outside * 0.92 / 0.05) * 0.05, 0.2)


def loop_of(spec: dict[str, Any], iron: Iron, true: dict[str, Any]) -> Loop:
    """Return a machine's circuit, and write down what follows on the way."""
    core, blocks = built(spec)
    c, rho = true["scale"], RHO * true["copper"] * (1 + ALPHA * (true["temperature_C"] - 20))

    def turn(name: str) -> float:
        return c * core.frame.mean_turn([b for b in blocks if b.winding == name])

    second, (N1, wire) = spec["windings"]["secondary"], first_winding(spec, true)
    N2 = second["turns"]
    window = c * (core.window_height if spec["windings"]["arrangement"] == "concentric" else core.window_width)
    area = pi / 4 * (1e-3 * wire) ** 2
    primary = rho * N1 * turn("primary") / area * core.count * eddies(N1, 1e-3 * wire, window, rho)
    if "bare" in second:
        copper = spec["fill"] * pi / 4 * (1e-3 * c * second["bare"]) ** 2
        secondary = rho * true["stranding"][0] * N2 * turn("secondary") / copper
    else:
        copper = pi / 4 * (1e-3 * c * second["wire"]) ** 2
        secondary = rho * N2 * turn("secondary") / copper * eddies(N2, 1e-3 * c * second["wire"], window, rho)
    lead_area = 1e-6 * true["lead_area_mm2"]
    per_m, bare = rho * true["stranding"][1] / lead_area, sqrt(4 * lead_area / pi / true["lead_fill"])
    leads = per_m * true["lead_length_m"] * strands(per_m, bare, true["lead_spacing_m"])
    true |= {"primary_turns": N1, "wire_mm": wire, "secondary_area_mm2": 1e6 * copper}
    true |= {"primary_ohm": primary, "secondary_ohm": secondary, "leads_ohm": leads}
    return Loop(
        volts=true["volts"],
        turns=(N1, N2),
        source=(true["source_ohm"], true["source_H"]),
        primary=primary,
        secondary=secondary + leads + sum(true["joints_ohm"]),
        lead_inductance=lead_inductance(true["lead_length_m"], bare / 2, true["lead_spacing_m"]),
        loss_factor=true["loss_factor"],
        iron=iron,
    )


def masses(spec: dict[str, Any], true: dict[str, Any]) -> tuple[float, float, float]:
    """Return the copper's masses of primary, secondary and leads [kg]."""
    rho = RHO * true["copper"] * (1 + ALPHA * (true["temperature_C"] - 20))
    first, last = (rho * r for r in true["stranding"])
    first = first if "bare" in spec["windings"]["secondary"] else rho
    return (
        copper_mass(true["primary_ohm"], pi / 4 * (1e-3 * true["wire_mm"]) ** 2, rho),
        copper_mass(true["secondary_ohm"], 1e-6 * true["secondary_area_mm2"], first),
        copper_mass(true["leads_ohm"], 1e-6 * true["lead_area_mm2"], last),
    )


def told_of(
    rng: np.random.Generator, spec: dict[str, Any], true: dict[str, Any]
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return a misread job and what its shop says that readings are off by."""
    tolerances: dict[str, str] = {}
    lengths = misread_lengths(rng, scaled_lengths(spec, true["scale"]))
    second = spec["windings"]["secondary"]
    wire = read(rng, true["wire_mm"], 0.02, 0.01)
    primary = {"turns": true["primary_turns"], "conductor": {"round": f"{wire:.2f} mm"}}
    secondary: dict[str, Any] = {"turns": second["turns"]}
    if "bare" in second:
        area = true["secondary_area_mm2"] * (1 + rng.uniform(-0.02, 0.02))
        outside = lengths["windings"]["secondary"]["insulated"]
        secondary["conductor"] = {"cable": f"{area:.3g} mm2", "insulated": f"{outside:.1f} mm"}
        secondary |= lying(rng, name_of(spec), lengths["windings"]["secondary"])
    else:
        secondary["conductor"] = {"round": f"{read(rng, true['scale'] * second['wire'], 0.02, 0.01):.2f} mm"}
    mains = {"voltage": f"{VOLTS:.0f} V", "frequency": "50 Hz"}
    if rng.random() < 0.4:
        mains["voltage"] = f"{true['volts'] * (1 + rng.uniform(-0.015, 0.015)):.0f} V"
        tolerances["mains.voltage"] = "+-1.5 %"
    if rng.random() < 0.4:
        mains["source_resistance"] = f"{true['source_ohm'] * (1 + 0.1 * rng.standard_normal()):.2f} ohm"
        mains["source_inductance"] = f"{1e3 * true['source_H'] * (1 + 0.1 * rng.standard_normal()):.2f} mH"
        tolerances |= {"mains.source_resistance": "+-20 %", "mains.source_inductance": "+-20 %"}
    length = max(round(true["lead_length_m"] * (1 + 0.03 * rng.standard_normal()) / 0.05) * 0.05, 0.3)
    leads: dict[str, Any] = {
        "length": f"{length:.2f} m",
        "area": f"{true['lead_area_mm2']:.0f} mm2",
        "spacing": f"{max(round(1e3 * true['lead_spacing_m'] * rng.uniform(0.8, 1.2) / 5) * 5, 20):.0f} mm",
        "joints": {key: n for key, n in true["joints"].items() if n},
    }
    told: dict[str, Any] = {
        "temperature": f"{true['temperature_C'] + rng.uniform(-5, 5):.0f} degC",
        "mains": mains,
        "core": {**core_tables(lengths["core"]), "steel": spec["grade"]},
        "windings": winding_tables(lengths["windings"], primary, secondary),
        "leads": leads,
    }
    if "leg_gap" in spec["core"]:
        tolerances["core.leg_gap"] = "+-0.03 mm"
    if true["load_share"] is not None:
        told["load"] = {"resistance": f"{1e3 * true['load_ohm'] * (1 + rng.uniform(-0.02, 0.02)):.3g} mohm"}
        tolerances["load.resistance"] = "+-2 %"
    return told, tolerances


LAID = {
    "2 cables along": "along",
    "3 cables along": "along",
    "3 cables 2+1": "2 + 1",
    "4 cables square": "2 + 2",
    "5 cables 3+2": "3 + 2",
    "6 cables 3+3": "3 + 3",
}
"""Lays of other tests' references that words say as well as places."""


def name_of(spec: dict[str, Any]) -> str:
    """Return the lay's name of a base that has one."""
    return str(spec["name"]).partition(", ")[2]


def lying(rng: np.random.Generator, name: str, read_of: dict[str, Any]) -> dict[str, Any]:
    """Return what is told of how the secondary lies: places where nothing else says so, words, or nothing."""
    told = rng.random()
    if "places" in read_of:
        if name not in LAID or told < 0.25:
            return {"places": [[mm(v) for v in place] for place in read_of["places"]]}
        return {"lay": LAID[name]} if told < 0.7 else {}
    return {key: read_of[key] for key in ("lay", "against") if key in read_of} if told < 0.6 else {}


def goes_in(told: dict[str, Any]) -> bool:
    """Return whether windings go into the window as they are told."""
    core, windings = read_core(told["core"]), Windings.model_validate(told["windings"])
    blocks: tuple[Block, ...] = place(core, windings)
    return fit(core, windings, blocks).fits


def made(asked: Sequence[tuple[str, int]], *, worst: bool = False) -> list[Machine]:
    """Draw and compute machines of bases, by number; with the worst remanence, which is the tool's own choice."""
    draws = []
    for name, number in asked:
        spec, rng = bases()[name], np.random.default_rng([sum(map(ord, name)), number])
        true = drawn(rng, spec)
        if worst:
            kind = "leg gap" if "leg_gap" in spec["core"] else spec["core"]["joint"]
            true["remanence"] = assumption(f"remanence, {kind}")[2]
        loop = loop_of(spec, iron_of(name, true), true)
        if true["load_share"] is not None:
            inductance = loop.turns[1] ** 2 * loop.iron.leakage + loop.lead_inductance
            true["load_ohm"] = float(true["load_share"] * hypot(loop.secondary, OMEGA * inductance))
        draws.append((name, number, spec, rng, true, loop))
    loops = [d[5] for d in draws]
    truths = electric(loops, loads=[d[4].get("load_ohm") for d in draws], remanence=[d[4]["remanence"] for d in draws])
    for d, truth in zip(draws, truths, strict=True):
        if d[2]["core"]["joint"] == "interleaved":  # its joints' own knee comes near the threshold: several per cent
            del truth["saturation.knee_voltage_V"]
    found = []
    works = work_of([(d[5], d[4], d[3], masses(d[2], d[4]), t) for d, t in zip(draws, truths, strict=True)])
    for (name, number, spec, rng, true, _), truth, work in zip(draws, truths, works, strict=True):
        for _ in range(200):
            told, tolerances = told_of(rng, spec, true)
            if goes_in(told):
                break
        else:
            msg = f"{name} {number}: no reading goes in"
            raise ValueError(msg)
        if work is not None:
            told["work_piece"] = told_work(rng, *work)
            tolerances["work_piece.section.strip"] = "+-0.05 mm"
        found.append(
            Machine(
                name=f"{name} {number}",
                base=name,
                true=shortened(true),
                told=told,
                tolerances=tolerances,
                truths=shortened(truth),
            )
        )
    return found


def work_of(
    each: Sequence[tuple[Loop, dict[str, Any], np.random.Generator, tuple[float, float, float], dict[str, float]]],
) -> list[tuple[dict[str, Any], float] | None]:
    """Return a strip and the length of its burst for each machine without a load; its truths join the machine's."""
    found: list[tuple[dict[str, Any], float] | None] = [None] * len(each)
    without = [k for k, (_, true, *_) in enumerate(each) if true["load_share"] is None]
    if not without:
        return found
    loops = [each[k][0] for k in without]
    shorts = [each[k][4]["short_circuit.secondary_current_rms_A"] for k in without]
    reach = [p.volts * p.turns[1] / p.turns[0] / short for p, short in zip(loops, shorts, strict=True)]
    low, high = (loaded_states(loops, [share * r for r in reach]) for share in LOADS)
    for j, k in enumerate(without):
        loop, true, rng, copper, truth = each[k]
        source = source_of(loop, true, reach[j], (shorts[j], low[j]["secondary"], high[j]["secondary"]), copper)
        for _ in range(6):
            work = drawn_work(rng, source)
            if (burst := work_truths(source, work)) is not None:
                true |= work
                truth |= burst[0]
                found[k] = work, burst[1]
                break
    return found


def shortened(value: Any) -> Any:
    """Return the same with six digits."""
    if isinstance(value, dict):
        return {key: shortened(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [shortened(inner) for inner in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value


def main(names: list[str]) -> None:
    """Compute machines and write them down."""
    kept = {m.name: m for m in machines()} if names and DATA.exists() else {}
    asked = [(name, k) for name in names or list(bases()) for k in range(1, EACH[name in USED] + 1)]
    kept |= {m.name: m for m in made(asked)}
    lines = ["  " + json.dumps({key: getattr(m, key) for key in Machine.__slots__}) for _, m in sorted(kept.items())]
    DATA.write_text('{\n "machines": [\n' + ",\n".join(lines) + "\n ]\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
