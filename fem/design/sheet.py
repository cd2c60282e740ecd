"""The sheet a design names: its curve, its loss and its density."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from fem.materials.bh import BHCurve, read_bh_table
from fem.materials.loss import CoreLoss
from fem.materials.steel import steel
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt

UNKNOWN_SHEET_LOSS = "M800-65A"
"""Grade whose loss is taken where only a B-H table is given."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sheet:
    """What a core is stacked of.

    Parameters
    ----------
    curve
        Magnetisation curve of the iron.
    loss
        Specific loss.
    density
        [kg/m3].
    shunt
        Curve of the shunts' sheet where it is another.
    """

    curve: BHCurve
    loss: CoreLoss
    density: float
    shunt: BHCurve | None = None


def sheet_of(core: AnyCore, shunt: Shunt | None = None) -> Sheet:
    """Return the sheet of a core and its shunts.

    Raises
    ------
    ValueError
        If its B-H table is not usable.
    """
    bar = None if shunt is None or shunt.steel is None else steel(shunt.steel).curve
    grade = steel(core.steel or UNKNOWN_SHEET_LOSS)
    curve, loss = grade.curve, grade.loss
    if core.bh_table is not None:
        curve = read_bh_table(Path(core.bh_table), core.saturation_polarisation)
    if core.specific_loss is not None:
        loss = loss.times(core.specific_loss / loss.guaranteed)
    return Sheet(curve=curve, loss=loss, density=grade.density, shunt=bar)
