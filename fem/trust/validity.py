"""Where a design asks more of a model than it was made for: sheets against the skin depth, loss data, thick wires."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np

from fem.assumptions import assumed
from fem.characteristics.resistance.thin import THIN, wire_loss
from fem.characteristics.resistance.windings import THICK_BAND
from fem.constants import MU0
from fem.design.sheet import UNKNOWN_SHEET_LOSS, sheet_of
from fem.design.transformer import Design
from fem.materials.loss import ASSUMED_CONDUCTIVITY, GRADED_FREQUENCY
from fem.materials.steel import Steel, steel
from fem.trust.caution import Caution, Danger
from geometries.windings.lays import MOST_PLACED
from geometries.windings.turns import Winding

CROWDING = 1.1
"""Flux density at a sheet's faces over its mean from which the static fields are worth a word [-]: sheet of 1.6 skin
depths. Mains frequency and the sheets made for it keep below; where the two are equal it is 1.019."""
LOSS_DATA_END, LOSS_TRUSTED = 1.5, assumed("flux density of trusted loss").typical
"""Flux density at which the grades' loss figures end, and up to which they are carried on without a word [T]."""
LOSS_FREQUENCIES = (45.0, 65.0)
"""Between these [Hz] a loss known at one frequency tells that at another within 10 %; see `CoreLoss.of_guarantee`."""


def validity(design: Design, peak_flux_density: float) -> tuple[Caution, ...]:
    """Return what was asked of models beyond what they were made for.

    Parameters
    ----------
    design
        What is built.
    peak_flux_density
        Of the primary's leg, iron, idle [T].
    """
    texts = [
        *_borrowed(design),
        *_sheets(design, peak_flux_density),
        *_core_loss(peak_flux_density, design.mains.frequency),
        *_thick_wires(design),
    ]
    return tuple(Caution(about="model", text=text, danger=Danger.DISTURBS) for text in texts)


def _borrowed(design: Design) -> list[str]:
    grade = None if design.core.steel is None else steel(design.core.steel)
    if grade is None or grade.curve_of is None:
        return []
    return [
        f"No magnetisation curve of {grade.name}: that of {grade.curve_of} stands in. It is brought to its "
        "saturation; such ones come out with half to twice the field strength up to 1.6 T: idle current is in doubt by "
        "as much, saturation by 0.1 T."
    ]


def sheet_skin_depth(conductivity: float, mu_r: float, frequency: float) -> float:
    """Return the skin depth in a sheet [m].

    Parameters
    ----------
    conductivity
        [S/m].
    mu_r
        Relative permeability at the working point [-].
    frequency
        [Hz].
    """
    return 1 / sqrt(pi * frequency * MU0 * mu_r * conductivity)


def crowding(skin_depths: float) -> float:
    """Return the flux density at a sheet's faces over its mean [-].

    Parameters
    ----------
    skin_depths
        Thickness of the sheet in skin depths [-], > 0.

    Notes
    -----
    |z coth z|, z = (1 + j)/2 times the thickness in skin depths: the field along a sheet of constant permeability,
    cosh(2 z y/d)/cosh z. J. Lammeraner and M. Stafl, Eddy Currents, 1966 (from memory).
    """
    z = (0.5 + 0.5j) * skin_depths
    return float(abs(z / np.tanh(z)))


def _sheets(design: Design, peak: float) -> list[str]:
    core, frequency = design.core, design.mains.frequency
    known = core.steel is not None
    grade: Steel = steel(core.steel if core.steel is not None else UNKNOWN_SHEET_LOSS)
    # at the peak of the idle flux density: lower in the cycle sheet is more permeable, and thinner its skin
    mu_r = peak / (MU0 * float(sheet_of(core).curve.field_strength(np.array([peak]), 1.0)[0]))
    depth = sheet_skin_depth(grade.conductivity or ASSUMED_CONDUCTIVITY, mu_r, frequency)
    faces = crowding(grade.thickness / depth)
    if faces < CROWDING:
        return []
    thickness = f"{grade.thickness * 1e3:.2g} mm"
    sheet = f"{thickness} thick" if known else f"taken as {thickness} thick, which the job does not say"
    return [
        f"At the sheet's faces flux crowds to {faces:.2g} times its mean. At {frequency:g} Hz the skin depth in it, "
        f"{sheet}, is {depth * 1e3:.2g} mm: idle current, core loss and saturation are in doubt "
        "by as much."
    ]


def _core_loss(peak: float, frequency: float) -> list[str]:
    texts = []
    if peak > LOSS_TRUSTED:
        texts.append(
            f"The core loss at {peak:.2f} T is a guess. The sheet's is known up to {LOSS_DATA_END:g} T and carried on."
        )
    low, high = LOSS_FREQUENCIES
    if not low <= frequency <= high:
        ratio = sqrt(frequency / GRADED_FREQUENCY)
        rest = f"up to {ratio:.2g} times" if ratio > 1 else f"down to {ratio:.2g} of"
        texts.append(
            f"Part of the core loss may be {rest} the figure told. The sheet's is known at {GRADED_FREQUENCY:g} Hz; at "
            f"{frequency:g} Hz what is not classical eddy-current loss may differ so."
        )
    return texts


def _thick_wires(design: Design) -> list[str]:
    texts = []
    for name, winding in (("primary", design.windings.primary), ("secondary", design.windings.secondary)):
        thickness = _thickness(design, winding)
        if winding.conductors > MOST_PLACED and thickness > THIN:
            texts.append(
                f"What a.c. adds to the {name}'s ohms is told within {THICK_BAND:.0%} only. Its conductors are "
                f"{thickness:.2g} skin depths thick at {design.mains.frequency:g} Hz, and {winding.conductors} of them "
                f"too many to place one by one (at most {MOST_PLACED})."
            )
    return texts


def _thickness(design: Design, winding: Winding) -> float:
    return wire_loss(winding, design.mains.frequency, design.temperature).thickness
