"""Characteristics of many cores like one that is solved, a row for each: what its lengths, stack and steel may be.

At given ampere-turns F the field's derivatives tell dPhi. A gap and the steel's field strength at given flux density
change instead the ampere-turns that a flux takes, and these nearly in proportion, however much they change: dF = -dPhi
/(dPhi/dF) at given Phi. So a curve's points are moved along F by these and along Phi by all others, to first order, and
the iron's flux density at a place along with them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics
from fem.cubics import Cubics, monotone_slopes
from fem.materials.bh import BHCurve

_GAPS = ("core.joint_gap", "core.leg_gap")
_LEAST = 0.1
"""Of what it is, the least that first order may leave of ampere-turns, flux or loss anywhere along a curve."""
_HALVINGS = 8
_ALONG = (
    "ampere_turns",
    "flux_per_turn",
    "other_flux_per_turn",
    "core_loss_flux_per_turn",
    "hysteresis_loss",
    "eddy_loss",
)
LEAKING = ("permeance", "window_permeance", "end_turn_permeance", "primary_end_permeance")
"""What has a row for each member."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Changes:
    """What n cores differ by from the one that is solved.

    Parameters
    ----------
    lengths
        (n, keys) of `Slopes` [m].
    stacking_factor
        (n,) over what it is [-].
    flux_density, field
        (n,) the steel's B at given H over the table's; (n,) or (n, rows) its H at the B of each row but the first [-].
    flux, ampere_turns, loss, leakage
        (n,) factors on what the fields say: errors of the model, and what is not in it [-]; of the loss (n,) or
        (n, points), at each of its points.
    """

    lengths: Floats
    stacking_factor: Floats
    flux_density: Floats
    field: Floats
    flux: Floats
    ampere_turns: Floats
    loss: Floats
    leakage: Floats


def members(found: Characteristics, slopes: Slopes, changes: Changes, steel: BHCurve) -> tuple[Characteristics, int]:
    """Return what the fields say of n cores, (n, ...) in place of (...,), and of how many first order went too far.

    Parameters
    ----------
    found, slopes
        Of the core that is solved. A key by which there is no derivative counts as not changed.
    changes
        What they differ by.
    steel
        Of the core.

    Notes
    -----
    Where a curve so moved would not rise, or fall below a tenth of what it was, its changes are halved until it does.
    What only pictures, forces and joints take stays, as does the curve of shunts but for its factor. Window and ends
    have equal shares of a change of the leakage. At given flux density in the iron both flux and core
    loss go with the stacking factor.
    """
    curve, leak = found.magnetising, found.leakage
    dense = np.log(curve.ampere_turns[1:])

    def along(columns: Floats) -> Floats:
        """Return columns known at the points (points, c) along the dense curve, (c, dense)."""
        log_F = np.log(slopes.ampere_turns)
        found = Cubics.monotone(log_F, columns)(dense).T
        return np.concatenate((np.zeros((len(found), 1)), found), axis=1)

    known = ~np.isnan(slopes.flux).any(axis=0) & ~np.isnan(slopes.leakage)
    gaps = np.array([key in _GAPS for key in slopes.keys])
    F, flux = curve.ampere_turns, curve.flux_per_turn
    permeance = np.append(1.0, monotone_slopes(dense, flux[1:]) / F[1:])  # dPhi/dF; at the origin it is not asked for
    steels = slopes.flux_by_steel
    # by what B of each row changes: in proportion, and as at a little less field strength
    rows = np.stack((steel.B[1:], -steel.H[1:] * monotone_slopes(steel.H, steel.B)[1:]))
    by_stacking, by_density = along(np.column_stack((steels[:, 0], steels[:, 1:] @ rows[0])))
    harder = changes.field - 1
    by_field = (
        np.outer(harder, along(steels[:, 1:] @ rows[1][:, None]))
        if harder.ndim == 1
        else along(steels[:, 1:] @ (harder * rows[1]).T)
    )
    change = np.where(known, changes.lengths, 0.0)
    lengths, opened = change[:, known & ~gaps], change[:, known & gaps]
    by_length, by_gap = along(slopes.flux[:, known & ~gaps]), along(slopes.flux[:, known & gaps])

    stack = changes.stacking_factor - 1
    steeled = np.outer(stack * found.iron.iron_fraction, by_stacking) + np.outer(changes.flux_density - 1, by_density)
    wider = lengths @ by_length
    farther = -(opened @ by_gap + by_field) / permeance
    apart = -(opened @ by_gap) / permeance
    share = np.ones(len(change))
    with np.errstate(invalid="ignore"):
        for left in reversed(range(_HALVINGS + 1)):
            new_F = (F + share[:, None] * farther) * changes.ampere_turns[:, None]
            new_flux = (flux + share[:, None] * (steeled + wider)) * changes.flux[:, None]
            rises = (np.diff(new_F) > 0).all(axis=1) & (np.diff(new_flux) > 0).all(axis=1)
            rises &= (new_F[:, 1:] >= _LEAST * F[1:]).all(axis=1) & (new_flux[:, 1:] >= _LEAST * flux[1:]).all(axis=1)
            if rises.all():
                break
            share[~rises] *= 0.5 if left > 1 else 0.0  # as it is, a curve rises
    steeled, wider, apart = (share[:, None] * part for part in (steeled, wider, apart))
    lengths, opened = share[:, None] * lengths, share[:, None] * opened
    grown = np.ones_like(new_flux)
    grown[:, 1:] = 1 + steeled[:, 1:] / flux[1:]

    def carried(values: Floats, slope: Floats) -> Floats:
        """Return what goes with the flux in the iron, moved by lengths at given F and along the curve by gaps."""
        by_key = along(slope)
        steep = np.append(0.0, monotone_slopes(dense, values[1:]) / F[1:])
        moved = values + lengths @ by_key[(known & ~gaps)[known]] + opened @ by_key[gaps[known]] + apart * steep
        return np.asarray(np.maximum(moved, 0.0) * grown)

    def losses(values: Floats, slope: Floats) -> Floats:
        here, log_F = slopes.ampere_turns, np.log(slopes.ampere_turns)
        # by a gap at given flux: at given F, and back along the curve to that flux
        back = monotone_slopes(log_F, values) / (here * np.interp(here, F, permeance))
        by_gaps = slope[:, known & gaps] - back[:, None] * slopes.flux[:, known & gaps]
        moved = values + lengths @ slope[:, known & ~gaps].T + opened @ by_gaps.T
        factors = changes.loss.reshape(len(change), -1) * changes.stacking_factor[:, None]
        return np.asarray(np.maximum(moved, _LEAST * values)) * factors

    known_at = curve.core_loss_flux_per_turn
    points = np.maximum(known_at + lengths @ slopes.flux[:, known & ~gaps].T, _LEAST * known_at)
    points *= changes.stacking_factor[:, None]
    leaks = changes.leakage * np.maximum(1 + change[:, known] @ slopes.leakage[known] / leak.permeance, _LEAST)
    density = {
        name: carried(b, slopes.flux_density[name][:, known]) / changes.stacking_factor[:, None]
        for name, b in curve.flux_density_by_place.items()
    }
    reach: Any = np.inf if np.isinf(curve.valid_to) else _at(curve.valid_to, flux, new_flux)
    magnetising = replace(
        curve,
        ampere_turns=new_F,
        flux_per_turn=new_flux,
        other_flux_per_turn=carried(curve.other_flux_per_turn, slopes.other_flux[:, known]) * changes.flux[:, None],
        flux_density_by_place=density,
        core_loss_flux_per_turn=points,
        hysteresis_loss=losses(curve.hysteresis_loss, slopes.hysteresis_loss),
        eddy_loss=losses(curve.eddy_loss, slopes.eddy_loss),
        valid_to=reach,
    )
    shunted = None if leak.flux_per_turn is None else np.outer(changes.leakage, leak.flux_per_turn)
    leakage = replace(leak, **{name: leaks * getattr(leak, name) for name in LEAKING}, flux_per_turn=shunted)
    return replace(found, magnetising=magnetising, leakage=leakage), int((share < 1).sum())


def taken(found: Characteristics, places: Any) -> Characteristics:
    """Return some of many members' characteristics, or one's by its place, of `members`."""
    curve, leak = found.magnetising, found.leakage
    by_place = {name: b[places] for name, b in curve.flux_density_by_place.items()}
    told = {name: getattr(curve, name)[places] for name in _ALONG}
    reach: Any = curve.valid_to
    reach = reach if np.ndim(reach) == 0 else reach[places]
    shunted = None if leak.flux_per_turn is None else leak.flux_per_turn[places]
    return replace(
        found,
        magnetising=replace(curve, **told, flux_density_by_place=by_place, valid_to=reach),
        leakage=replace(leak, **{name: getattr(leak, name)[places] for name in LEAKING}, flux_per_turn=shunted),
    )


def _at(flux: float, curve: Floats, rows: Floats) -> Floats:
    """Return where a flux of the curve has moved to in each row (n,)."""
    return np.array([np.interp(flux, curve, row) for row in rows])
