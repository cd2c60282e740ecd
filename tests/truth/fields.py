"""What fields say of the bases, brought into one form: those solved for them, and those of other tests' references.

Between states goes the magnetic circuit by hand, its lengths, areas and spread of flux such that flux and coenergy of
all states come out as well as they can; what is left is laid over it. `tests/physics/data/nonlinear3d.json` begins near
1.6 T; below, second-order states of `bases.json` go on, down to 0.15 T. So the ampere-turns of bases in their own sheet
are known within 1 %, between 1.3 T and the knee 2 % (the tool's, that sees none of this, lie so far off).
"""

import json
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import least_squares

from tests.truth.built import DATA, KEPT, Carrier, built, coil_in_air, own_field, specs
from tests.truth.ring import spread
from tests.truth.sheet import MU0, Floats, Sheet, field_of

OTHERS = Path(__file__).parents[1] / "physics" / "data"
GRADES = {"first": "M530-50A", "second": "M400-50A"}
"""Of which grades the other tests' tables were read off."""
STATE, SHORTED = 0.984, 0.972
"""With the lead ends joined, the leakage and what of it lies behind the secondary, over that of linear iron, where
it was not solved: as where it was, within 0.4 %."""
MOMENTS = ("leg_T", "hysteresis_m3", "eddy_m3")
ORDER = 0.9975
"""Flux and coenergy over those of second order, within 0.15 %: as where both orders were solved."""
SECOND = 0.9955
"""Leakage over that of second order on so coarse a mesh, within 0.2 %: as where both orders were solved."""
BRIDGED = 0.5
"""Share of the sheets that run through an interleaved joint: a modelling choice shared with the tool."""
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


def bases() -> dict[str, dict[str, Any]]:
    """Return the specifications of all bases whose fields are there, by name."""
    there = kept("bases.json").keys() | shorted().keys()
    return {name: spec for name, spec in every().items() if "of" in spec or name in there}


@cache
def every() -> dict[str, dict[str, Any]]:
    """Return the specifications of all bases that have states, by name."""
    all_specs = specs()
    found = {name: spec for name, spec in all_specs.items() if "lays" not in spec}
    lays = json.loads((OTHERS / "single_conductors3d.json").read_text(encoding="utf-8"))
    for core in (spec for spec in all_specs.values() if "lays" in spec):
        for lay in lays["lays"]:
            if "strip" in lay:
                continue
            second = {"turns": len(lay["places"]), "bare": lay["diameter"], "insulated": 10.8, "places": lay["places"]}
            name = f"{core['name']}, {lay['name']}"
            windings = {**core["windings"], "secondary": second}
            found[name] = {
                **core,
                "name": name,
                "of": core["name"],
                "leakage_H": lay["permeance_H"],
                "windings": windings,
            }
    entries = others()
    return found | {name: other_spec(entries[name]) for name in USED}


def spec_of(name: str) -> dict[str, Any]:
    """Return a specification, also that of the core that all lays have in common."""
    return {**specs(), **every()}[name]


def third(pair: Any) -> Any:
    """Return what both orders say."""
    return pair[-1] - KEPT * (pair[0] - pair[-1]) if len(pair) > 1 else pair[0]


def sheet_of(spec: dict[str, Any]) -> Sheet:
    """Return the sheet that a base was solved with; the grade's losses."""
    found = Sheet.of(spec["grade"])
    if spec["name"] not in USED:
        return found
    entry = others()[spec["name"]]
    table = json.loads((OTHERS / "nonlinear3d.json").read_text(encoding="utf-8"))["tables"][entry["table"]]
    H, B = (np.array(table[key], dtype=float) for key in ("H_A_per_m", "B_T"))
    return replace(found, H=H, J=B - MU0 * H, saturation=table["saturation_polarisation_T"])


DOUBTS = np.array([0.1, 0.15, 0.03, 0.3, 0.05, 0.5])
"""Of what is fitted: lengths of iron and gap, area, air, flux density and share of the iron that carries less."""
LESS, REST = 0.94, 0.6


def shaped(carrier: Carrier, q: Floats, field: float = 1.0) -> tuple[Floats, Floats]:
    """Return ampere-turns and flux of the circuit by hand with its numbers times q; its iron's times `field`."""
    less, share = LESS * q[4], REST * q[5]
    H = (1 - share) * carrier.H + share * field_of(carrier.law)(np.minimum(carrier.b * less, 3.99))
    F = field * carrier.iron * q[0] * H + q[1] * carrier.joints(field)
    return np.r_[0.0, F], np.r_[0.0, carrier.area * q[2] * carrier.b + carrier.air * q[3] * F]


def carrier_of(spec: dict[str, Any]) -> Carrier:
    """Return the magnetic circuit by hand of a base."""
    whole, bridges = (sheet_of(spec).stacked(part * spec["stacking"]) for part in (1.0, BRIDGED))
    return Carrier(*built(spec), whole, bridges)


@cache
def fitted(name: str) -> tuple[Carrier, Floats]:
    """Return the magnetic circuit by hand of a base with states, its numbers such that flux and coenergy come out."""
    carrier = carrier_of(spec_of(name))
    states = states_of(name)
    F, psi, energy = (np.array([third(s[key]) for s in states]) for key in ("F", "flux_Wb", "coenergy_J"))

    def missing(q: Floats) -> Floats:
        curve = PchipInterpolator(*shaped(carrier, q))
        return np.r_[np.log(curve(F) / psi) / 1e-3, np.log(curve.antiderivative()(F) / energy) / 1e-3, (q - 1) / DOUBTS]

    return carrier, np.asarray(least_squares(missing, np.ones(6), x_scale=DOUBTS, bounds=(0.2, 3.0)).x)


def states_of(name: str) -> list[dict[str, Any]]:
    """Return a base's states, corrected for what their order leaves."""
    found = kept("bases.json").get(name)
    keys = ("flux_Wb", "other_flux_Wb", "coenergy_J")
    if name not in USED:
        assert found is not None
        return [{**s, "F": [s["ampere_turns"]], **{key: [ORDER * s[key][0]] for key in keys}} for s in found["states"]]
    states = [
        {
            "ampere_turns": s["ampere_turns"],
            "F": [s["ampere_turns"]],
            "flux_Wb": [third(s["flux_per_turn_Wb"])],
            "other_flux_Wb": [third(s["other_flux_per_turn_Wb"])],
            "coenergy_J": [third(s["coenergy_J"])],
        }
        for s in others()[name]["points"]
    ]
    *low, same = (found or {"states": [states[0]]})["states"]
    off = {key: states[0][key][0] / same[key][0] for key in keys}
    more = {key: same[key] for key in MOMENTS if key in same}
    low = [{**s, "F": [s["ampere_turns"]], **{key: [s[key][0] * off[key]] for key in keys}} for s in low]
    return [*low, {**states[0], **more}, *states[1:]]


@cache
def fields_of(name: str) -> Fields:
    """Return a base's fields."""
    spec = spec_of(name)
    core, blocks = built(spec)
    sheet = sheet_of(spec)
    whose = spec.get("of", name)
    states, (carrier, q) = states_of(whose), fitted(whose)
    F, psi, other = (np.array([third(s[key]) for s in states]) for key in ("F", "flux_Wb", "other_flux_Wb"))
    curve = PchipInterpolator(*shaped(carrier, q))
    ratio, lost = psi / curve(F), (psi - other) / F
    if whose != name:  # leakage flux in proportion to the leakage
        lost = lost * third(spec["leakage_H"]) / fields_of(whose).leakage
    psi = curve(F) * ratio
    at = np.log(F)
    along = np.unique(np.r_[0.0, np.geomspace(1e-3 * F[0], F[-1], 3000), F[-1] * np.geomspace(1.01, 30, 60)])
    logs = np.log(np.clip(along, F[0], F[-1]))
    air, area = coil_in_air(core, blocks)
    H_last = float(np.interp(F[-1], shaped(carrier, q)[0][1:], carrier.H))
    H = H_last + np.maximum(along - F[-1], 0.0) * air / MU0 / area / core.frame.stacks
    grown = sheet.polarisation(H) / float(sheet.polarisation(np.array([H_last]))[0])
    flux = curve(np.minimum(along, F[-1])) * PchipInterpolator(at, ratio)(logs)
    flux = np.where(along > F[-1], air * along + (psi[-1] - air * F[-1]) * grown, flux)
    linked = flux - PchipInterpolator(at, lost)(logs) * along  # leakage flux goes with ampere-turns
    leg = np.maximum(flux - carrier.air * along, 0.0) / carrier.area / spec["stacking"]
    law, levels = sheet.stacked(spec["stacking"]), np.array([0.5, 1.0, 1.3, 1.5, 1.7])
    means = np.array([spread(core, law, b * spec["stacking"], (sheet.exponent, 2.0)) for b in levels])
    volume = volume_of(core)
    hysteresis, eddy = (
        volume * np.interp(leg, levels, mean) * leg**p for mean, p in zip(means.T, (sheet.exponent, 2.0), strict=True)
    )
    if low := [s for s in states if "leg_T" in s]:
        at_low = [third(s["flux_Wb"]) for s in low]
        leg, hysteresis, eddy = (
            values * np.interp(flux, at_low, [s[key] for s in low] / np.interp(at_low, flux, values))
            for key, values in zip(MOMENTS, (leg, hysteresis, eddy), strict=True)
        )
    leakage, behind = leakage_of(name, lost[0], psi[0] / F[0])
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


def poorer(name: str, times: float, flux: Floats) -> Floats | float:
    """Return a base's ampere-turns (n,) over its own where its sheet takes so many times as many, at fluxes [Wb].

    By the circuit by hand: joints and air take what they took; how flux spreads in the iron is not followed.
    """
    if abs(times - 1) < 1e-12:
        return 1.0
    carrier, q = fitted(spec_of(name).get("of", name))

    def along(more: float) -> Floats:
        F, psi = shaped(carrier, q, more)
        return np.asarray(PchipInterpolator(psi, F)(np.minimum(np.maximum(flux, 1e-3 * flux[-1]), psi[-1])))

    return along(times) / along(1.0)


def leakage_of(name: str, lost: float, own: float) -> tuple[float, float]:
    """Return a base's leakage with linear iron, and what lies behind the secondary with the lead ends joined [H].

    lost and own: of the primary's flux per ampere-turn what the secondary does not link, and all of it [H].
    """
    spec = spec_of(name)
    core, blocks = built(spec)
    if "of" in spec:
        leakage = third(spec["leakage_H"])
        return leakage, SHORTED * leakage
    joined, solved = shorted().get(name), kept("bases.json").get(name)
    leakage = SECOND * leak(np.array(solved["linear_H"])) if solved else float("nan")
    whole = STATE * leakage
    back = whole - lost**2 / own
    if joined:
        P = np.asarray(third([np.array(p) for p in joined["permeances_H"]]))
        whole, back = leak(P), float(P[1, 1] - P[0, 1] ** 2 / P[0, 0])
        leakage = leakage if solved else whole / STATE
    ratio = back / leakage
    second = spec["windings"]["secondary"]
    thick = second["wire"] if "wire" in second else second["bare"]
    leakage += own_field(core, blocks, "secondary", second["turns"], 1e-3 * thick)
    return float(leakage), float(ratio * leakage)


def leak(P: Floats) -> float:
    """Return the leakage of windings by windings [H]."""
    return float(P[0, 0] - P[0, 1] - P[1, 0] + P[1, 1])


def volume_of(core: Any) -> float:
    """Return the iron's volume, without what lies between sheets [m3]."""
    frame = core.frame
    legs = sum(leg.width for leg in frame.legs) * frame.window_height
    yokes = 2 * frame.yoke_height * (frame.right_edge - frame.left_edge)
    return float((legs + yokes) * frame.iron_depth * core.stacking_factor)
