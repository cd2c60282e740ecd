"""The benches: `tests/truth/data/benches.json`, each with the job that is told, what meters showed, and the truth.

    python -m tests.truth.benches [COUNT]

draws and computes them anew. What a job leaves in doubt is drawn from the distributions of `fem/assumptions.csv`;
about half of the benches have one cause besides that no such distribution has. Nothing of the package's circuits,
readings or fits is used.
"""

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp, log, pi, sqrt
from typing import Any

import numpy as np

from tests.truth.built import DATA, built, mm
from tests.truth.causes import CAUSES, Odd, beside, changed, wound_wrong
from tests.truth.electric import OMEGA, OPEN, Loop
from tests.truth.fields import bases
from tests.truth.machines import ALPHA, Machine, eddies, goes_in, iron_of, loop_of, shortened, told_of
from tests.truth.meters import Meters, range_of, seen
from tests.truth.sheet import Floats
from tests.truth.shop import VOLTS, assumption, drawn, read
from tests.truth.stepped import Waves, joined_volts, mean_square, slope, waves_of

FILE = DATA / "benches.json"
COUNT = 200
Z90 = 1.6448536
CLAMPS = (40.0, 200.0, 400.0, 1000.0, 2000.0)
"""Full scales of clamps [A]."""
COIL = 10
"""Turns of the search coil."""
LEAST_DROP = 5e-3
"""Volts that are worth reading on a range of 200 mV."""
UNUSED = ("remanence", "load_share", "design_T", "beside_H")


@dataclass(frozen=True, kw_only=True, slots=True)
class Bench:
    """One bench.

    Parameters
    ----------
    name, base
        Its own, and that of its base.
    cause
        What besides is wrong; empty where nothing is.
    shared
        Whether the readings of one meter share its error.
    counted
        Whether the job's turns of the primary are told as counted; else they are a guess.
    job
        Tables of the job.
    readings
        Tables of the file of readings.
    true
        What was drawn, and what follows from it.
    outcomes
        By the keys of an estimate.
    """

    name: str
    base: str
    cause: str
    shared: bool
    counted: bool
    job: dict[str, Any]
    readings: dict[str, Any]
    true: dict[str, Any]
    outcomes: dict[str, float]

    @property
    def unknowns(self) -> dict[str, float]:
        """What a fit looks for, by names of its doubts [SI]."""
        return unknowns_of(bases()[self.base], self.true, self.job)


def benches() -> Iterator[Bench]:
    """Yield all benches."""
    for entry in json.loads(FILE.read_text(encoding="utf-8"))["benches"]:
        yield Bench(**entry)


def from_row(rng: np.random.Generator, name: str, kind: str = "lognormal") -> float:
    """Return a draw from a row of the assumptions: two halves that meet at the median, a triangle, or even."""
    low, typical, high = assumption(name)
    if kind == "rectangular":
        return float(rng.uniform(low, high))
    if kind == "log-uniform":
        return float(np.exp(rng.uniform(log(low), log(high))))
    if kind == "triangular":
        return float(rng.triangular(low, typical, high))
    z = float(rng.standard_normal()) / Z90
    if kind == "normal":
        return typical + z * (typical - low if z < 0 else high - typical)
    return typical * (typical / low if z < 0 else high / typical) ** z


def truth(rng: np.random.Generator, spec: dict[str, Any]) -> dict[str, Any]:
    """Return the truth of a bench without a cause: a machine's, what is in doubt as the assumptions have it."""
    true = drawn(rng, spec)
    joint, grade = spec["core"]["joint"], from_row(rng, "loss of a sheet", "rectangular")
    building = from_row(rng, f"building factor, {joint}", "rectangular")
    source = from_row(rng, "doubt of an assumed supply", "log-uniform")
    true |= {
        "steel": from_row(rng, "doubt of the steel", "normal"),
        "field": from_row(rng, "field of a named grade"),
        "stacking": min(from_row(rng, "stacking factor", "normal"), 0.99),
        "joint_gap_m": from_row(rng, f"{joint} joint"),
        "loss_factor": grade * building,
        "volts": VOLTS * from_row(rng, "doubt of the mains", "triangular"),
        "source_ohm": 0.40 * source,
        "source_H": 0.25 * source / OMEGA,
        "joints_ohm": [from_row(rng, f"{how} joint") for how, n in true["joints"].items() for _ in range(n)],
        "load_share": None,
    }
    return true


def told(rng: np.random.Generator, spec: dict[str, Any], true: dict[str, Any], turns: int) -> dict[str, Any]:
    """Return a misread job with its tolerances, the primary of so many turns."""
    for _ in range(400):
        job, tolerances = told_of(rng, spec, {**true, "primary_turns": turns})
        job["windings"]["primary"]["conductor"] = {"round": mm(read(rng, true["wire_mm"], 0.01, 0.01))}
        tolerances.pop("mains.source_inductance", None)  # no band has a doubt of it by itself
        if goes_in(job):
            machine = Machine(name="", base="", true={}, told=job, tolerances=tolerances, truths={})
            return machine.job(tolerances=True)
    msg = f"{spec['name']}: no reading goes in"
    raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Set:
    """What is done on one bench: circuits and loads of its tests by name."""

    loops: dict[str, Loop]
    loads: dict[str, float]


def tests_of(rng: np.random.Generator, loop: Loop, true: dict[str, Any]) -> Set:
    """Return the tests: idle at two voltages of a variable transformer and on the mains, lead ends joined twice."""
    supply = float(rng.uniform(0.1, 0.8)), 0.0
    volts = [float(rng.uniform(*part)) * VOLTS for part in ((0.28, 0.42), (0.6, 0.8))]
    current = float(rng.uniform(1.5, 3.0)) * pi / 4 * true["wire_mm"] ** 2
    low = min(joined_volts(loop, current), 0.6 * VOLTS)
    by_hand = replace(loop, source=supply, direct=0.0)  # its winding keeps direct current away
    loops = {f"idle {k}": replace(by_hand, volts=v) for k, v in enumerate(volts)}
    loops |= {"idle mains": loop, "joined": replace(by_hand, volts=low), "joined mains": loop}
    return Set(loops=loops, loads={name: 0.0 if "joined" in name else OPEN for name in loops})


def read_all(
    rng: np.random.Generator, waves: dict[str, Waves], true: dict[str, Any], odd: Odd, meters: Meters
) -> dict[str, Any]:
    """Return the file of readings."""
    kind = "true r.m.s." if odd.clamp or rng.random() < 0.5 else "averaging"
    real = "averaging" if odd.clamp else kind
    warm = f"{true['temperature_C'] + rng.uniform(-3, 3):.0f} degC"
    found: dict[str, Any] = {"bench": {"temperature": warm, "meter": kind, "voltmeter": kind}}
    ohms = true["primary_direct_ohm"]
    if rng.random() < 0.5:
        found["resistance"] = [{"resistance": meters.read(ohms, "ohmmeter", "ohm"), "method": "four-wire"}]
    else:
        probes = float(rng.uniform(0.1, 0.3))
        shown = meters.read(ohms + probes, "ohmmeter", "ohm")
        found["resistance"] = [{"resistance": shown, "leads_together": f"{round(probes / 0.1) * 0.1:.1f} ohm"}]

    def volts(wave: Floats) -> str:
        return meters.read(seen(kind, wave), "voltmeter", "V")

    def amperes(wave: Floats) -> str:
        return meters.read(seen(real, wave), f"{kind} ammeter", "A")

    mains = waves["idle mains"]
    found["search_coil"] = [
        {
            "turns": COIL,
            "primary_voltage": volts(mains.volts),
            "voltage": volts(COIL * slope(mains.flux)),
            "supply": "mains",
        }
    ]
    watts = rng.random() < 0.7
    found["no_load"] = []
    for name in ("idle 0", "idle 1", "idle mains"):
        wave = waves[name]
        row = {"primary_voltage": volts(wave.volts), "current": amperes(wave.first)}
        row |= {"power": meters.read(wave.power, "wattmeter", "W")} if watts else {}
        row["supply"] = "mains" if name == "idle mains" else "variable transformer"
        found["no_load"].append(row)

    def clamp(wave: Floats) -> tuple[str, str] | None:
        amps = seen(real, wave)
        full = next((each for each in CLAMPS if each > 1.1 * amps), None)
        if full is None:
            return None
        if odd.clamp:  # its iron gives way
            amps *= (1 + (amps / (odd.clamp * amps)) ** 4) ** -0.25
        return meters.read(amps, "clamp", "A", full), f"{full:.0f} A"

    wave = waves["joined"]
    row = {
        "primary_voltage": volts(wave.volts),
        "primary_current": amperes(wave.first),
        "supply": "variable transformer",
    }
    row |= {"power": meters.read(wave.power, "wattmeter", "W")} if watts else {}
    found["joined"] = [row]
    if (shown := clamp(wave.second)) is not None:
        if meters.told:
            row["secondary_current"] = shown[0]
        else:
            again = {"primary_voltage": row["primary_voltage"], "supply": row["supply"]}
            found["joined"].append({**again, "secondary_current": shown[0], "clamp_range": shown[1]})
    if rng.random() < 0.5 and (shown := clamp(waves["joined mains"].second)) is not None:
        found["joined"].append({"secondary_current": shown[0], "clamp_range": shown[1], "supply": "mains"})
    current = sqrt(mean_square(wave.second))
    if rng.random() < 0.7 and (fall := current * sum(true["joints_ohm"])) > LEAST_DROP:
        full = max(range_of(1e3 * fall), 200.0)
        drop = meters.read(1e3 * fall, "voltmeter", "mV", full)
        found["joint_drop"] = [{"voltage": drop, "current": meters.read(current, "clamp", "A")}]
    return found


def unknowns_of(spec: dict[str, Any], true: dict[str, Any], job: dict[str, Any]) -> dict[str, float]:
    """Return what a fit looks for: resistances at the temperature that the job tells, direct."""
    told_C = float(job["temperature"].split()[0])
    cooler = (1 + ALPHA * (told_C - 20)) / (1 + ALPHA * (true["temperature_C"] - 20))
    found = {
        "windings.primary.turns": true["primary_turns"],
        "core.stacking_factor": true["stacking"],
        "steel.flux": true["steel"],
        "steel.field": true["field"],
        "loss": true["loss_factor"],
        "primary.resistance": true["primary_direct_ohm"] * cooler,
        "mains.voltage": true["volts"],
        "mains.source_impedance": true["source_ohm"],
        "temperature": true["temperature_C"] + 273.15,
        "leads.length": true["lead_length_m"],
        "leads.spacing": true["lead_spacing_m"],
        "joints": sum(true["joints_ohm"]),
    }
    if "joint_gap" in spec["core"]:
        found["core.joint_gap"] = true["joint_gap_m"]
    lengths = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "leg_gap")
    return found | {f"core.{key}": 1e-3 * true["scale"] * spec["core"][key] for key in lengths if key in spec["core"]}


def outcomes_of(loop: Loop, waves: dict[str, Waves]) -> dict[str, float]:
    """Return results on the mains by the keys of an estimate."""
    idle, joined = waves["idle mains"], waves["joined mains"]

    def rms(wave: Floats) -> float:
        return sqrt(mean_square(wave))

    return {
        "idle.current_rms_A": rms(idle.first),
        "open_circuit.secondary_voltage_rms_V": loop.turns[1] * rms(slope(idle.other)),
        "short_circuit.secondary_current_rms_A": rms(joined.second),
        "short_circuit.primary_current_rms_A": rms(joined.first),
        "leakage.inductance_secondary_H": loop.turns[1] ** 2 * loop.iron.leakage + loop.lead_inductance,
    }


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Drawn:
    """A bench before its states are known."""

    base: str
    rng: np.random.Generator
    true: dict[str, Any]
    odd: Odd
    loop: Loop
    tests: Set


def drawn_bench(number: int) -> Drawn:
    """Draw one bench; every second one has a cause, in turn."""
    rng = np.random.default_rng([20, number])
    base = str(rng.choice(sorted(bases())))
    spec = bases()[base]
    cause = CAUSES[number // 2 % len(CAUSES)] if number % 2 else ""
    true = truth(rng, spec)
    odd = changed(rng, cause, true, spec)
    loop = loop_of(spec, iron_of(base, true), true)
    core, blocks = built(spec)
    windings = spec["windings"]
    across = true["scale"] * (core.window_height if windings["arrangement"] == "concentric" else core.window_width)
    rho = 1 / 58e6 * true["copper"] * (1 + ALPHA * (true["temperature_C"] - 20))
    true["primary_direct_ohm"] = true["primary_ohm"] / eddies(loop.turns[0], 1e-3 * true["wire_mm"], across, rho)
    true["beside_H"] = beside(spec, true["scale"])
    turn = true["scale"] * core.frame.mean_turn([b for b in blocks if b.winding == "primary"])
    loop = wound_wrong(rng, cause, loop, true, rho * turn / (pi / 4 * (1e-3 * true["wire_mm"]) ** 2))
    return Drawn(base=base, rng=rng, true=true, odd=odd, loop=loop, tests=tests_of(rng, loop, true))


def finished(number: int, each: Drawn, waves: dict[str, Waves]) -> Bench:
    """Return a bench with what its meters showed."""
    rng, true, spec = each.rng, each.true, bases()[each.base]
    turns, cause = each.true["primary_turns"], each.odd.cause
    counted = cause == "wrong turns" or bool(rng.random() < 0.4)
    off = exp(rng.uniform(log(0.87), log(1.15)))
    if cause == "wrong turns":
        off = 1 + float(rng.choice([-1, 1]) * rng.uniform(0.05, 0.13))
    shared = bool(rng.random() < 0.5)
    meters = Meters(rng, better=float(rng.choice([0.5, 1.0])), shared=shared, told=bool(rng.random() < 0.5))
    if not meters.told:
        meters.better = 1.0
    readings = read_all(rng, waves, true, each.odd, meters)
    believed = turns if counted and cause != "wrong turns" else round(turns * off)
    job = told(rng, spec, {**true, **each.odd.told}, believed)
    if each.odd.mains_untold:
        job["mains"] = {"voltage": f"{VOLTS:.0f} V", "frequency": "50 Hz"}
    job.pop("load", None)
    return Bench(
        name=f"{number:03d}",
        base=each.base,
        cause=cause,
        shared=shared,
        counted=counted,
        job=job,
        readings=readings,
        true=shortened({key: value for key, value in true.items() if key not in UNUSED}),
        outcomes=shortened(outcomes_of(each.loop, waves)),
    )


def made(numbers: Sequence[int]) -> list[Bench]:
    """Draw and compute benches by number."""
    draws = [drawn_bench(number) for number in numbers]
    keys = [(k, name) for k, each in enumerate(draws) for name in each.tests.loops]
    waves = waves_of([draws[k].tests.loops[name] for k, name in keys], [draws[k].tests.loads[name] for k, name in keys])
    by = dict(zip(keys, waves, strict=True))
    return [
        finished(number, each, {name: by[k, name] for name in each.tests.loops})
        for k, (number, each) in enumerate(zip(numbers, draws, strict=True))
    ]


def main(words: Sequence[str]) -> None:
    """Compute all benches and write them down."""
    found = made(range(int(words[0]) if words else COUNT))
    lines = ["  " + json.dumps({key: getattr(b, key) for key in Bench.__slots__}) for b in found]
    FILE.write_text('{\n "benches": [\n' + ",\n".join(lines) + "\n ]\n}\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
