"""What fields say of the bases, brought into one form: those solved for them, and those of other tests' references.

`tests/physics/data/nonlinear3d.json` begins near 1.7 T. Below, the ratio of its flux to that of the magnetic circuit by
hand goes on such that the coenergy of the lowest state comes out; the leg's flux density and the loss are those of the
flux per turn in even iron there (0.5 % and some 3 % off).
"""

import json
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tests.truth.built import DATA, KEPT, Carrier, built, coil_in_air, own_field, specs
from tests.truth.ring import spread
from tests.truth.sheet import MU0, Floats, Sheet

OTHERS = Path(__file__).parents[1] / "physics" / "data"
GRADES = {"first": "M530-50A", "second": "M400-50A"}
"""Of which grades the other tests' tables were read off."""
STATE, BEHIND = 0.984, 0.003
"""Leakage with the lead ends joined over that of linear iron where it was not solved, and its doubt."""
USED = ("narrow", "wide window", "leg gap", "interleaved", "two-leg", "two cores", "a leg each")


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Fields:
    """A base's fields, from zero up; one core's worth of similarity away from each of its machines.

    Parameters
    ----------
    ampere_turns, flux, other
        (n,) of the primary alone [A], [Wb].
    leg
        (n,) mean flux density of its iron [T].
    hysteresis, eddy
        (n,) int b^a, int b^2 over the iron [m3].
    leakage, behind
        [H]; see `tests.truth.electric.Iron`.
    """

    ampere_turns: Floats
    flux: Floats
    other: Floats
    leg: Floats
    hysteresis: Floats
    eddy: Floats
    leakage: float
    behind: float


def above_the_knee() -> set[str]:
    """Return the bases whose states begin above the knee."""
    return set(USED) - kept("bases.json").keys()


def kept(name: str) -> dict[str, Any]:
    """Return a file of ours; empty where there is none yet."""
    path = DATA / name
    return dict(json.loads(path.read_text(encoding="utf-8"))) if path.exists() else {}


def others() -> dict[str, dict[str, Any]]:
    """Return the cores of the other tests' references by name."""
    found = json.loads((OTHERS / "nonlinear3d.json").read_text(encoding="utf-8"))["cores"]
    return {entry["name"]: entry for entry in found}


def shorted() -> dict[str, dict[str, Any]]:
    """Return the other tests' states with the lead ends joined by name."""
    return dict(json.loads((OTHERS / "shorted3d.json").read_text(encoding="utf-8"))["cores"])


def other_spec(entry: dict[str, Any]) -> dict[str, Any]:
    """Return a specification of one of them; its secondary is of many turns."""
    lengths = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "leg_gap")
    core = {"type": entry["type"], "joint": entry["joint"], "joint_gap": entry["joint_gap"]}
    core |= {key: entry[key] for key in lengths if key in entry}
    if "spacing" in entry:
        core["second"] = {"spacing": entry["spacing"], "primaries": "series"}
    first, second = entry["blocks"]
    apart = second["bottom"] - first["bottom"] - first["height"]
    windings: dict[str, Any] = {
        "arrangement": "side-by-side",
        "spacing": apart if "leg_axis" not in second else 3.0,
        "leg_clearance": first["leg_clearance"],
        "yoke_clearance": first["bottom"],
        "end_clearance": first["end_clearance"],
        "primary": {key: first[key] for key in ("height", "build")},
        "secondary": {"turns": 20, "wire": 2.5} | {key: second[key] for key in ("height", "build")},
    }
    windings |= {"legs": "each"} if "leg_axis" in second else {}
    return {
        "name": entry["name"],
        "grade": GRADES[entry["table"]],
        "stacking": entry["stacking_factor"],
        "fill": 0.58,
        "core": core,
        "windings": windings,
    }


@cache
def bases() -> dict[str, dict[str, Any]]:
    """Return the specifications of all bases whose fields are there, by name."""
    found = {name: spec for name, spec in specs().items() if name in kept("bases.json")}
    lays = json.loads((OTHERS / "single_conductors3d.json").read_text(encoding="utf-8"))
    for core in [found.pop(name) for name in list(found) if "lays" in found[name]]:
        for lay in lays["lays"]:
            if "strip" in lay:
                continue
            second = {"turns": len(lay["places"]), "bare": lay["diameter"], "insulated": 11.0, "places": lay["places"]}
            name = f"{core['name']}, {lay['name']}"
            windings = {**core["windings"], "secondary": second}
            found[name] = {
                **core,
                "name": name,
                "of": core["name"],
                "leakage_H": lay["permeance_H"],
                "windings": windings,
            }
    entries, there = others(), kept("leakages.json").keys() | shorted().keys()
    return found | {name: other_spec(entries[name]) for name in USED if name in there}


def third(pair: list[float]) -> float:
    """Return what both orders say."""
    return pair[-1] - KEPT * (pair[0] - pair[-1]) if len(pair) > 1 else pair[0]


def corrected(states: list[dict[str, Any]], key: str) -> Floats:
    """Return a column of the states, what its order leaves extrapolated, in between by the logarithm of the field."""
    second = np.array([s[key][0] for s in states])
    at = [k for k, s in enumerate(states) if len(s[key]) > 1]
    logs = np.log([s["ampere_turns"] for s in states])
    share = [third(states[k][key]) / second[k] - 1 for k in at]
    return np.asarray(second * (1 + np.interp(logs, logs[at], share)))


def sheet_of(spec: dict[str, Any]) -> Sheet:
    """Return the sheet that a base was solved with; the grade's losses."""
    found = Sheet.of(spec["grade"])
    if spec["name"] not in USED:
        return found
    entry = others()[spec["name"]]
    table = json.loads((OTHERS / "nonlinear3d.json").read_text(encoding="utf-8"))["tables"][entry["table"]]
    H, B = (np.array(table[key], dtype=float) for key in ("H_A_per_m", "B_T"))
    return replace(found, H=H, J=B - MU0 * H, saturation=table["saturation_polarisation_T"])


def over(at: Floats, flux: Floats, values: Floats, power: float) -> Floats:
    """Return what goes nearly with a power of the flux, between and beyond states."""
    ratio = PchipInterpolator(flux, values / flux**power)(np.clip(at, flux[0], flux[-1]))
    return np.asarray(ratio * at**power)


@cache
def fields_of(name: str) -> Fields:
    """Return a base's fields."""
    spec = bases()[name]
    core, blocks = built(spec)
    sheet = sheet_of(spec)
    carrier = Carrier(core, blocks, sheet.stacked(spec["stacking"]))
    found = others()[name] if name in USED else kept("bases.json")[spec.get("of", name)]
    states = found["points"] if name in USED else found["states"]
    if name in USED:
        states = [{**s, "flux_Wb": s["flux_per_turn_Wb"], "other_flux_Wb": s["other_flux_per_turn_Wb"]} for s in states]
    F = np.array([s["ampere_turns"] for s in states])
    psi, other = corrected(states, "flux_Wb"), corrected(states, "other_flux_Wb")
    along = np.unique(np.r_[0.0, np.geomspace(1e-3 * F[0], F[-1], 3000), F[-1] * np.geomspace(1.01, 30, 60)])
    at, ratio = np.log(F), psi / carrier(F)

    air, area = coil_in_air(core, blocks)
    H_last = float(np.interp(F[-1], carrier.F, carrier.H))
    H = H_last + np.maximum(along - F[-1], 0.0) * air / MU0 / area / core.frame.stacks
    grown = sheet.polarisation(H) / float(sheet.polarisation(np.array([H_last]))[0])

    def curve(lowest: float) -> Floats:
        low = np.log(F[0]) - 1.5
        logs, each = (np.r_[low, at], np.r_[lowest, ratio]) if len(states) < 6 else (at, ratio)
        flux = carrier(along) * PchipInterpolator(logs, each)(np.log(np.clip(along, np.exp(logs[0]), F[-1])))
        return np.where(along > F[-1], air * along + (psi[-1] - air * F[-1]) * grown, flux)

    lowest = ratio[0]
    if name in USED:
        energy = third(states[0]["coenergy_J"])
        part = along <= F[0]

        def missing(lowest: float) -> float:
            return float(np.trapezoid(curve(lowest)[part], along[part])) / energy - 1

        low, high = 0.9 * ratio[0], 1.1 * ratio[0]
        lowest = brentq(missing, low, high) if missing(low) * missing(high) < 0 else ratio[0]
    flux = curve(lowest)
    apart = PchipInterpolator(at, (psi - other) / F)(np.log(np.clip(along, F[0], F[-1])))
    linked = flux - apart * along  # leakage flux goes with ampere-turns
    if name in USED:
        inside = np.maximum(flux - carrier.air * along, 0.0) / carrier.area / spec["stacking"]
        law, levels = sheet.stacked(spec["stacking"]), np.array([0.5, 1.0, 1.3, 1.5, 1.7])
        means = np.array([spread(core, law, b * spec["stacking"], (sheet.exponent, 2.0)) for b in levels])
        shares = [np.interp(inside, levels, mean) for mean in means.T]
        volume, leg = volume_of(core), inside
        hysteresis, eddy = (volume * m * inside**p for m, p in zip(shares, (sheet.exponent, 2.0), strict=True))
    else:
        second = np.array([s["flux_Wb"][0] for s in states])
        hysteresis, eddy, leg = (
            over(flux, psi, np.array([s[key] for s in states]) * (psi / second) ** power, power)
            for key, power in (("hysteresis_m3", sheet.exponent), ("eddy_m3", 2), ("leg_T", 1))
        )
    leakage, behind = leakage_of(name, spec, found, psi, other, F)
    return Fields(
        ampere_turns=along,
        flux=flux,
        other=linked,
        leg=leg,
        hysteresis=hysteresis,
        eddy=eddy,
        leakage=leakage,
        behind=behind,
    )


def volume_of(core: Any) -> float:
    """Return the iron's volume, without what lies between sheets [m3]."""
    frame = core.frame
    legs = sum(leg.width for leg in frame.legs) * frame.window_height
    yokes = 2 * frame.yoke_height * (frame.right_edge - frame.left_edge)
    return float((legs + yokes) * frame.iron_depth * core.stacking_factor)


def leakage_of(
    name: str, spec: dict[str, Any], found: dict[str, Any], psi: Floats, other: Floats, F: Floats
) -> tuple[float, float]:
    """Return a base's leakage with linear iron, and what lies behind the secondary with the lead ends joined [H]."""
    core, blocks = built(spec)
    if name not in USED:
        P, Q = np.array(found["shorted_H"]), np.array(found["linear_H"])
        leakage = third(spec.get("leakage_H") or found["leakage_H"])
        ratio = (P[1, 1] - P[0, 1] ** 2 / P[0, 0]) / (Q[0, 0] - 2 * Q[0, 1] + Q[1, 1])
    else:
        joined = shorted().get(name)
        solved = kept("leakages.json").get(name)
        k, own = other[0] / psi[0], psi[0] / F[0]
        if joined:
            P = third([np.array(p) for p in joined["permeances_H"]])  # type: ignore[arg-type,list-item]
            whole, back = P[0, 0] - 2 * P[0, 1] + P[1, 1], P[1, 1] - P[0, 1] ** 2 / P[0, 0]
            leakage = third(solved) if solved else whole / STATE
        else:
            leakage = third(solved)
            whole = STATE * leakage
            back = whole - (1 - k) ** 2 * own
        ratio = back / leakage
    second = spec["windings"]["secondary"]
    if "wire" in second:
        leakage += own_field(core, blocks, "secondary", second["turns"], 1e-3 * second["wire"])
    return float(leakage), float(ratio * leakage)
