"""A machine's truth and what a shop would read of it, drawn apart: all invented, common practice, no source.

Callipers are off by 0.15 mm (standard deviation) and read to 0.1 mm. Nobody measures joint gap or stacking. Sheet
scatters by 2 %, copper by 1 %, the mains by 6 % at most, or they are measured to 1.5 %.
"""

from math import log, pi
from typing import Any

import numpy as np

from tests.truth.sheet import rows

CALLIPERS, WIRE = 0.15, 0.02
CABLES = (25.0, 35.0, 50.0, 70.0, 95.0)
VOLTS = 230.0


def assumption(name: str) -> tuple[float, float, float]:
    """Return low, typical and high of a row of the assumptions."""
    row = next(r for r in rows("../assumptions.csv") if r["name"] == name)
    low, typical, high = (float(row[key] or "nan") for key in ("low", "typical", "high"))
    return low, typical, high


def log_triangular(rng: np.random.Generator, name: str) -> float:
    """Return a draw whose logarithm is triangular over an assumption's band."""
    low, typical, high = assumption(name)
    return float(np.exp(rng.triangular(log(low), log(typical), log(high))))


def read(rng: np.random.Generator, true: float, error: float = CALLIPERS, to: float = 0.1) -> float:
    """Return a reading."""
    return round(round((true + error * float(rng.standard_normal())) / to) * to, 6)


def scaled_lengths(spec: dict[str, Any], c: float) -> dict[str, Any]:
    """Return a base's specification, all lengths times c."""

    def of(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: of(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [of(inner) for inner in value]
        return c * value if isinstance(value, float) else value

    return {**spec, "core": of(spec["core"]), "windings": of(spec["windings"])}


def misread_lengths(rng: np.random.Generator, spec: dict[str, Any]) -> dict[str, Any]:
    """Return what callipers say of a machine's lengths; gaps of joints are not read, one in the leg by feelers."""

    def of(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: of(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [of(inner) for inner in value]
        return max(read(rng, value), 0.1) if isinstance(value, float) else value

    core = {key: value for key, value in spec["core"].items() if key not in ("joint_gap", "leg_gap")}
    found = {"core": of(core), "windings": of(spec["windings"])}
    if "leg_gap" in spec["core"]:
        found["core"]["leg_gap"] = read(rng, spec["core"]["leg_gap"], 0.015, 0.01)
    return found


def drawn(rng: np.random.Generator, spec: dict[str, Any]) -> dict[str, Any]:
    """Return the truth of one machine on a base, as plain numbers in SI."""
    joint = spec["core"]["joint"]
    low, _, high = assumption(f"{joint} joint")
    kind = "leg gap" if "leg_gap" in spec["core"] else joint
    factor = assumption(f"building factor, {joint}")
    counts = {"bolted": int(rng.integers(1, 4)), "clamped": int(rng.integers(0, 3))}
    counts |= {"dirty": 1} if rng.random() < 0.08 else {}
    kept = assumption(f"remanence, {kind}")
    source = float(np.exp(rng.normal(log(0.32), 0.35)))
    return {
        "scale": float(np.exp(rng.uniform(log(0.8), log(1.25)))),
        "steel": float(rng.normal(1.0, 0.02)),
        "stacking": float(rng.uniform(0.93, 0.97)),
        "joint_gap_m": float(rng.triangular(low, 0.5 * (low + high), high)),
        "design_T": float(rng.uniform(1.15, 1.65)),
        "loss_factor": float(rng.uniform(0.85, 1.0) * rng.uniform(factor[0], factor[2])),
        "volts": VOLTS * (1 + float(rng.triangular(-0.06, 0.0, 0.06))),
        "source_ohm": source,
        "source_H": source * float(rng.uniform(0.4, 0.7)) / (100 * pi),
        "copper": float(rng.normal(1.0, 0.01)),
        "temperature_C": float(rng.uniform(20.0, 60.0)),
        "stranding": [1.13 * float(rng.uniform(0.95, 1.0)) for _ in range(2)],
        "lead_length_m": float(rng.uniform(0.6, 3.0)),
        "lead_area_mm2": float(rng.choice(CABLES)),
        "lead_spacing_m": float(rng.uniform(0.03, 0.15)),
        "lead_fill": float(rng.uniform(0.53, 0.64)),
        "joints": counts,
        "joints_ohm": [log_triangular(rng, f"{how} joint") for how, n in counts.items() for _ in range(n)],
        "remanence": float(rng.uniform(kept[0], kept[2])),
        "load_share": float(rng.uniform(0.4, 2.5)) if rng.random() < 0.6 else None,
    }
