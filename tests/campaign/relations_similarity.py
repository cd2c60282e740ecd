"""Relations of geometry: the same shape at another size, and seen from behind."""

from __future__ import annotations

from typing import Any

from geometries.windings.arrangement import place
from tests.campaign.relations import SOLVED, NotHere, Subject, unlike

SCALED = {"permeance_H": 1, "window_permeance_H": 1, "end_turn_permeance_H": 1}
LENGTHS = ("leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "joint_gap")


def similar(subject: Subject) -> list[str]:
    """Every length of core and windings k times: permeances k times, iron k^3 times, flux densities as they were.

    At k^2 times the volts the flux density is the same only where nothing is dropped on the way, so the field's
    numbers are compared, not the circuit's. Blocks are given, else wires of other sizes would be laid otherwise.
    """
    core, windings = subject.design.core, subject.design.windings
    k = 1.25
    if windings.primary.extra is not None or max(getattr(core, name) for name in LENGTHS) * k > 0.5:
        raise NotHere
    if core.joint_gap * k > 5e-3 or core.leg_gap is not None or core.second is not None:
        raise NotHere
    # bars are taken as they are at given ampere-turns, with more of them saturated in the smaller core
    if subject.design.fitted_shunt is not None:
        raise NotHere
    given = _explicit(subject)
    job = {**subject.job, "core": {**subject.job["core"], **given["core"]}, "windings": given["windings"]}
    job["core"].pop("lamination", None)
    larger = {**job, "core": {**job["core"]}, "windings": _times(job["windings"], k)}
    for key, value in given["core"].items():
        larger["core"][key] = _times(value, k)
    before, after = subject.of(job), subject.of(larger)
    found = []
    for key, power in SCALED.items():
        a, b = after["leakage"][key], k**power * before["leakage"][key]
        if abs(a - b) > SOLVED * abs(after["leakage"]["permeance_H"]):
            found.append(f"{key}: {a:.8g} against {b:.8g}")
    a, b = after["build"]["core_mass_kg"], k**3 * before["build"]["core_mass_kg"]
    if abs(a - b) > 1e-6 * a:
        found.append(f"core mass: {a:.8g} against {b:.8g}")
    for name in ("primary", "secondary"):
        a, b = after["build"][name]["mean_turn_m"], k * before["build"][name]["mean_turn_m"]
        if windings.primary.mean_turn is None and windings.secondary.mean_turn is None and abs(a - b) > 1e-6 * a:
            found.append(f"{name} mean turn: {a:.8g} against {b:.8g}")
    return found


def _explicit(subject: Subject) -> dict[str, Any]:
    """Return core and windings with every length given, in metres."""
    core, windings = subject.design.core, subject.design.windings
    sizes: dict[str, Any] = {name: f"{getattr(core, name):.7f} m" for name in LENGTHS}
    if core.type == "shell":
        sizes["outer_leg_width"] = [f"{width:.7f} m" for width in core.outer_leg_width]
    table = {**subject.job["windings"], "end_clearance": f"{windings.inner_end_clearance:.7f} m"}
    blocks = place(core, windings)
    for name in ("primary", "secondary"):
        mine = [block for block in blocks if block.winding == name]
        wound = {**table[name], "height": f"{sum(b.height for b in mine):.7f} m"}
        wound["build"] = f"{max(b.build for b in mine) + 1e-7:.7f} m"
        thin = min(
            getattr(windings, name).conductor.insulated_width, getattr(windings, name).conductor.insulated_height
        )
        # wire plays no part in the field: thin enough to fit at either size
        wound["conductor"] = {"round": f"{max(0.3 * thin * 1e3, 0.05):.3f} mm"}
        table[name] = wound
    return {"core": sizes, "windings": table}


def _times(value: Any, k: float) -> Any:
    """Return a table with its lengths k times."""
    if isinstance(value, dict):
        return {key: item if key in {"conductor", "turns"} else _times(item, k) for key, item in value.items()}
    if isinstance(value, list):
        return [_times(item, k) for item in value]
    if not isinstance(value, str):
        return value
    number, _, unit = value.partition(" ")
    return f"{float(number) * k:.10g} {unit}" if unit in {"m", "mm", "cm", "in"} else value


def mirrored_legs(subject: Subject) -> list[str]:
    """Left and right outer leg changed over is the same core seen from behind."""
    given = subject.job["core"].get("outer_leg_width")
    if not isinstance(given, list):
        raise NotHere
    before, after = subject.again(), subject.changed({"core.outer_leg_width": given[::-1]})
    keys = ["leakage.permeance_H", "saturation.peak_flux_density_T"]
    return unlike(before, after, SOLVED, keys=keys)
