"""Derivatives of a core's characteristics by the lengths of a job, against cores solved anew: meshes, grids and all."""

import numpy as np
import pytest

from fem.arrays import Floats
from fem.characteristics.characterise import Characteristics, Fields, characterise
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from geometries.assembly.by_key import ByKey
from geometries.windings.arrangement import place
from tests.support.every_kind import KINDS, design_of
from tests.support.moved import keyed, moved, told

AT = np.array([30.0, 150.0, 300.0, 1000.0, 6000.0])
"""Ampere-turns [A], from the linear foot beyond the knee."""
STEPS = {"few conductors": 0.02, "nested": 0.02}
"""Of a length where 0.04 would push a winding out of the window."""
KEYS = (
    "core.leg_width",
    "core.window_width",
    "core.stack_depth",
    "core.leg_gap_position",
    "windings.spacing",
    "windings.secondary.height",
)
"""That move iron, air or coils alone, or all of them."""


def solved(design: Design, lengths: ByKey | None = None) -> tuple[Characteristics, Fields]:
    sheet = sheet_of(design.core, design.fitted_shunt)
    return characterise(
        design.core,
        place(design.core, design.windings),
        curve=sheet.curve,
        loss=sheet.loss,
        density=sheet.density,
        progress=lambda _: None,
        shunt=design.fitted_shunt,
        shunt_curve=sheet.shunt,
        lengths=lengths,
    )


def fluxes(found: Characteristics) -> Floats:
    curve = found.magnetising
    both = (curve.flux_per_turn, curve.other_flux_per_turn)
    return np.array([np.interp(AT, curve.ampere_turns, flux) for flux in both])


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_cores_solved_anew_differ_by_the_derivatives(kind: str) -> None:
    """Over 8 % of a length, or 4, of flux and leakage; both ends' estimated errors over that, and a step's square.

    The curve's own error is of the flux; a knee that moves along bends the flux by up to three times a step's square.
    """
    design, step = design_of(kind), STEPS.get(kind, 0.04)
    lengths = keyed(design)
    here, fields = solved(design, lengths)
    slopes = fields.slopes
    assert slopes is not None
    by_length, given = np.array([slopes.flux_at(F) for F in AT]), told(design, lengths)
    for k, (key, value) in enumerate(zip(slopes.keys, slopes.values, strict=True)):
        if key not in KEYS or k not in given or np.isnan(by_length[0, k]):
            continue
        high, low = (solved(moved(design, {key: value * (1 + side * step)}))[0] for side in (1, -1))
        flux = fluxes(here)[0]
        difference = (fluxes(high) - fluxes(low))[0] / (2 * step)
        error = max(end.magnetising.discretisation_error for end in (high, low))
        off = np.abs(by_length[:, k] * value - difference) / flux
        assert np.all(off < error / step + 3 * step**2), (key, off)
        leak = (high.leakage.permeance - low.leakage.permeance) / (2 * step)
        room = slopes.leakage_errors[k] * value
        room += here.leakage.permeance * (here.leakage.discretisation_error / step + step**2)
        assert slopes.leakage[k] * value == pytest.approx(leak, abs=room), key
