"""The magnetisation curve of one energised winding, from a few ampere-turns into deep saturation.

Flux per turn Phi [Wb] against ampere-turns F [A], turn-free:

    Phi(F) = depth lambda(F) + Phi_end(F),

lambda the planar flux per turn and metre (`planar`), Phi_end what three dimensions add to it (`ends`), and likewise to
the flux density by place. With N turns the flux linkage is N Phi and the current F / N, so that d(N Phi) / dt is the
induced voltage. Above the last point iron is as good as air and the curve goes on straight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Number, of_each
from fem.characteristics.magnetising.ends import EndPart
from fem.characteristics.magnetising.planar import PlanarCurve
from fem.cubics import Cubics
from fem.errors import OutOfRange
from fem.materials.mixture import Reluctivity
from fem.rows import between

DENSE = 12
"""Points handed on per solved interval, so that whatever interpolates them next adds no error of its own."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Magnetising:
    """Flux against ampere-turns of one energised winding; turn-free.

    Parameters
    ----------
    winding
        The energised winding.
    ampere_turns, flux_per_turn
        The dense curve from (0, 0) (n,) [A], [Wb]; end turns included.
    other_flux_per_turn
        Mean flux per turn of the other winding along it (n,) [Wb].
    flux_density_by_place
        Per cut the iron's flux density along it, mean over the cut (n,) [T].
    hysteresis_loss, eddy_loss
        Parts of the core loss at `planar.REFERENCE_FREQUENCY`, sinusoidal flux of each solved field's size
        (points,) [W]; the peak flux per turn they belong to is in `core_loss_flux_per_turn` [Wb], rising.
    joint_share
        Of the ampere-turns along it, what joints and gaps take in the planar field (n,) [-].
    discretisation_error
        Largest estimated relative error of the flux over the curve.
    valid_to
        Flux per turn up to which the steel's data reach [Wb].

    Notes
    -----
    Of m members with curves of their own (m, n) along the curve, (m, points) for the losses, (m,) where data end;
    numbers asked of it are (m, ...) then.
    """

    winding: str
    ampere_turns: Floats
    flux_per_turn: Floats
    other_flux_per_turn: Floats
    flux_density_by_place: Mapping[str, Floats]
    core_loss_flux_per_turn: Floats
    hysteresis_loss: Floats
    eddy_loss: Floats
    joint_share: Floats
    discretisation_error: float
    valid_to: float

    def by_place(self, flux_per_turn: Number) -> dict[str, Number]:
        """Return the iron's flux density by place, (...,) [T], at a flux per turn (...,) [Wb].

        Raises
        ------
        OutOfRange
            If the steel's data end before.
        """
        self.check(flux_per_turn)
        return {
            name: of_each(between(flux_per_turn, self.flux_per_turn, b))
            for name, b in self.flux_density_by_place.items()
        }

    def joint_share_at(self, flux_per_turn: Number) -> Number:
        """Return what joints and gaps take of the ampere-turns, (...,) [-], at a flux per turn (...,) [Wb]."""
        within = np.minimum(flux_per_turn, self.flux_per_turn[..., -1])
        return of_each(between(within, self.flux_per_turn, self.joint_share))

    def flux_at(self, place: str, flux_density: float) -> float:
        """Return the flux per turn [Wb] at which the iron at a place carries a flux density [T]."""
        return float(between(flux_density, self.flux_density_by_place[place], self.flux_per_turn))

    def excitation(self, flux_per_turn: float) -> float:
        """Return the ampere-turns [A] for a flux per turn [Wb] of either sign."""
        size = float(between(abs(flux_per_turn), self.flux_per_turn, self.ampere_turns))
        return size if flux_per_turn >= 0 else -size

    def other_flux(self, flux_per_turn: Floats) -> Floats:
        """Return the other winding's flux per turn [Wb] at flux per turn of the energised one, of either sign."""
        size = between(np.abs(flux_per_turn), self.flux_per_turn, self.other_flux_per_turn)
        return np.asarray(np.copysign(size, flux_per_turn))

    def check(self, flux_per_turn: Number) -> None:
        """Refuse a flux per turn, (...,) [Wb], for which the iron's data do not reach.

        Raises
        ------
        OutOfRange
            If it lies above `valid_to`.
        """
        if np.any(flux_per_turn > self.valid_to):
            place = max(self.flux_density_by_place, key=lambda k: self.flux_density_by_place[k][..., -1].max())
            end = between(self.valid_to, self.flux_per_turn, self.flux_density_by_place[place]).min()
            msg = (
                f"core.bh_table ends too early: the core would go beyond {end:.3g} T ({place}), where its rows end; "
                "give core.saturation_polarisation (about 2.0 to 2.16 T for electrical steel) to continue it"
            )
            raise OutOfRange(msg)


def magnetising_curve(
    planar: PlanarCurve,
    *,
    depth: float,
    iron: Reluctivity,
    end: EndPart,
) -> Magnetising:
    """Give a planar curve its depth and its end turns.

    Parameters
    ----------
    planar
        Per metre of depth.
    depth
        Of the stack [m].
    iron
        Law of legs and yokes.
    end
        What three dimensions add at the planar curve's points.
    """
    F = planar.ampere_turns
    dense = _dense(F)
    along = Cubics.hermite(np.log(F), planar.flux, planar.log_slope)(np.log(dense))
    ends = Cubics.hermite(np.log(F), end.flux, end.slope * F[:, None])(np.log(dense))
    own_end, other_end = ends.T
    flux = along * depth + own_end

    def carried(values: Floats) -> Floats:
        """Carry something read on the coarse mesh, as a share of the linkage there, over to the dense curve."""
        return np.asarray(np.interp(np.log(dense), np.log(F), values / planar.coarse_flux) * along)

    at_points = planar.flux * depth + end.flux[:, 0]
    average = {
        name: np.asarray(Cubics.monotone(np.log(F), b / at_points)(np.log(dense)) * flux)
        for name, b in mean_flux_density(planar, end).items()
    }
    valid = np.full(dense.shape, True)
    for b in average.values():
        valid &= b <= iron.valid_to
    return Magnetising(
        winding=planar.winding,
        ampere_turns=_from_zero(dense),
        flux_per_turn=_from_zero(flux),
        other_flux_per_turn=_from_zero(carried(planar.other_coarse_flux) * depth + other_end),
        flux_density_by_place={name: _from_zero(iron.iron_flux_density(b)) for name, b in average.items()},
        core_loss_flux_per_turn=np.interp(F, dense, flux),
        hysteresis_loss=planar.hysteresis_loss * depth,
        eddy_loss=planar.eddy_loss * depth,
        joint_share=np.interp(np.log(np.concatenate((dense[:1], dense))), np.log(F), planar.joint_share),
        discretisation_error=planar.discretisation_error + end.error,
        valid_to=np.inf if valid.all() else float(flux[valid][-1]),
    )


def mean_flux_density(planar: PlanarCurve, end: EndPart) -> dict[str, Floats]:
    """Return per cut the mean flux density along it, iron and insulation together, at the points (n,) [T].

    That of the planar field, with what refinement makes of its linkage, and what three dimensions add.
    """
    finer = planar.flux / planar.coarse_flux
    return {name: b * finer + np.sign(b) * end.flux_density[name] for name, b in planar.flux_density.items()}


def _dense(F: Floats) -> Floats:
    """Return `DENSE` times as many ampere-turns, evenly spaced in their logarithm between the given ones."""
    steps = np.arange((F.size - 1) * DENSE + 1) / DENSE
    return np.exp(np.interp(steps, np.arange(F.size), np.log(F)))


def _from_zero(values: Floats) -> Floats:
    return np.concatenate(([0.0], values))
