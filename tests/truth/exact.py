"""The job that tells the tool a machine's true values, and the sheet that it is stacked of."""

from dataclasses import replace
from math import pi
from typing import Any

import numpy as np

from fem.design.sheet import Sheet as Given
from fem.design.transformer import Design
from fem.estimation.inputs.circuit import built_loss, lead_impedance
from fem.materials.bh import BHCurve
from fem.materials.steel import steel
from tests.truth.built import core_tables, mm, winding_tables
from tests.truth.fields import bases, sheet_of
from tests.truth.machines import Machine
from tests.truth.sheet import MU0
from tests.truth.shop import scaled_lengths


def design_of(machine: Machine) -> Design:
    """Return the design of a machine by its true values; what the leads have is put into its joints."""
    true, spec = machine.true, bases()[machine.base]
    lengths = scaled_lengths(spec, true["scale"])
    core = {**lengths["core"], "joint_gap": 1e3 * true["joint_gap_m"]}
    second = lengths["windings"]["secondary"]
    warm = f"{true['temperature_C']} degC"

    def measured(name: str) -> dict[str, str]:
        return {"resistance": f"{true[f'{name}_ohm']} ohm", "resistance_temperature": warm}

    primary = {"turns": true["primary_turns"], "conductor": {"round": mm(true["wire_mm"])}, **measured("primary")}
    primary["resistance"] = f"{true['primary_ohm'] / (2 if 'second' in core else 1)} ohm"
    secondary: dict[str, Any] = {"turns": second["turns"], **measured("secondary")}
    if "bare" in second:
        area = 0.58 * pi / 4 * second["bare"] ** 2
        secondary["conductor"] = {"cable": f"{area:.9g} mm2", "insulated": mm(second["insulated"])}
        secondary |= {key: second[key] for key in ("lay", "against") if key in second}
        secondary |= {"places": [[mm(v) for v in place] for place in second["places"]]} if "places" in second else {}
    else:
        secondary["conductor"] = {"round": mm(second["wire"])}
    told: dict[str, Any] = {
        "temperature": warm,
        "mains": {
            "voltage": f"{true['volts']} V",
            "frequency": "50 Hz",
            "source_resistance": f"{true['source_ohm']} ohm",
            "source_inductance": f"{true['source_H']} H",
        },
        "core": {**core_tables(core), "steel": spec["grade"], "stacking_factor": true["stacking"]},
        "windings": winding_tables(lengths["windings"], primary, secondary),
        "leads": {
            "length": f"{true['lead_length_m']} m",
            "area": f"{true['lead_area_mm2'] / true['lead_fill'] * 0.58} mm2",
            "spacing": f"{true['lead_spacing_m']} m",
            "joint_resistance": "0 ohm",
        },
    }
    if true["load_share"] is not None:
        told["load"] = {"resistance": f"{true['load_ohm']} ohm"}
    design = Design.model_validate(told, context={"job_file": True})
    missing = true["leads_ohm"] + sum(true["joints_ohm"]) - lead_impedance(design).resistance
    told["leads"]["joint_resistance"] = f"{max(missing, 0.0)} ohm"
    return Design.model_validate(told, context={"job_file": True})


def sheet_given(machine: Machine) -> Given:
    """Return the true sheet, its loss by the building factor."""
    true, spec = machine.true, bases()[machine.base]
    sheet, grade, q = sheet_of(spec), steel(spec["grade"]), true["steel"]
    s = q * true["stacking"] / spec["stacking"]
    curve = BHCurve(
        name="true",
        H=np.array(s * sheet.H),
        B=np.array(q * sheet.J + MU0 * s * sheet.H),
        saturation_polarisation=q * sheet.saturation,
        source="drawn",
    )
    f = true["loss_factor"] / built_loss(design_of(machine))
    loss = replace(
        grade.loss,
        hysteresis_coefficient=f * grade.loss.hysteresis_coefficient,
        eddy_coefficient=f * grade.loss.eddy_coefficient,
    )
    return Given(curve=curve, loss=loss, density=grade.density)
