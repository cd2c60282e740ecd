"""The work piece as finite volumes: rates of enthalpy and of energy, their derivatives, the resistance."""

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from fem.constants import MU0
from fem.lumped.work_piece_parts import Bar, Surroundings, WorkPiece
from fem.lumped.work_piece_skin import effective_permeability

Floats = NDArray[np.float64]

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m^2 K^4)], exact in the SI of 2019."""

_FACTOR_STEP = 0.02
_FACTOR_POINTS = 2000


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lookup:
    """Properties of one bar against enthalpy, straight between the points: value and slope by one search.

    Columns: temperature [K], resistivity [ohm m], thermal conductivity [W/(m K)], radiated and convected flux [W/m^2],
    saturation polarisation [T].
    """

    enthalpy: Floats
    values: Floats
    slopes: Floats

    def at(self, enthalpy: Floats) -> tuple[Floats, Floats]:
        """Return the columns and their slopes, (6, cells) each; beyond the table the last straight lines go on."""
        piece = np.searchsorted(self.enthalpy, enthalpy, side="right") - 1
        np.clip(piece, 0, len(self.slopes) - 1, out=piece)
        slopes = self.slopes[piece]
        return (self.values[piece] + slopes * (enthalpy - self.enthalpy[piece])[:, None]).T, slopes.T


def lookup(bar: Bar, surroundings: Surroundings) -> Lookup:
    """Tabulate a bar's properties and its losses to the surroundings at the points of its material."""
    material = bar.material
    t = material.temperature
    emissivity = bar.emissivity(t) if callable(bar.emissivity) else np.full_like(t, bar.emissivity)
    radiated = emissivity * STEFAN_BOLTZMANN * (t**4 - surroundings.temperature**4)
    convected = np.zeros_like(t)
    if surroundings.film is not None:
        film = surroundings.film(t, surroundings.temperature, bar.section.perimeter / pi)
        convected = film * (t - surroundings.temperature)
    values = np.column_stack(
        [t, material.resistivity, material.thermal_conductivity, radiated, convected, material.polarisation]
    )
    slopes = np.diff(values, axis=0) / np.diff(material.enthalpy)[:, None]
    return Lookup(enthalpy=material.enthalpy, values=values, slopes=slopes)


def _melting_enthalpies(bar: Bar) -> tuple[float, float]:
    """Return the enthalpies at which melting begins and ends [J/m^3], infinite where the bar does not melt."""
    material = bar.material
    if not isfinite(material.solidus):
        return inf, inf
    first = int(np.searchsorted(material.temperature, material.solidus, side="left"))
    last = int(np.searchsorted(material.temperature, material.liquidus, side="right")) - 1
    return float(material.enthalpy[first]), float(material.enthalpy[last])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Everything that follows from the unknowns at one instant.

    Unknowns, (n,): the left jaw's temperature [K], the enthalpy of each cell [J/m^3], the right jaw's temperature.

    Parameters
    ----------
    rate : (n,) array
        Time derivative of the unknowns.
    lower, diagonal, upper : (n - 1,), (n,), (n - 1,) arrays
        Of the rates' derivative to the unknowns at a fixed current, tridiagonal.
    rate_by_current : (n,) array
        Of the rates to the current.
    resistance, resistance_by_current : float
        [ohm], [ohm/A].
    resistance_by_unknown : (n,) array
    powers : (6,) array
        Electric, radiated, convected, through the sides, into the left and the right jaw [W].
    temperature : (n,) array
        [K].
    contact_temperature : (k, 2) array
        On the left and the right side of each contact [K].
    """

    rate: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    rate_by_current: Floats
    resistance: float
    resistance_by_current: float
    resistance_by_unknown: Floats
    powers: Floats
    temperature: Floats
    contact_temperature: Floats


class System:
    """A work piece cut into finite volumes, fine towards contacts and jaws.

    Parameters
    ----------
    piece : WorkPiece
    frequency : float
        For the skin effect [Hz]; 0 leaves it out.
    """

    def __init__(self, piece: WorkPiece, frequency: float) -> None:
        self.piece = piece
        self.angular_frequency = 2 * pi * frequency
        self.lookups = [lookup(bar, piece.surroundings) for bar in piece.bars]
        counts = [bar.cells for bar in piece.bars]
        ends = np.cumsum(counts)
        self.slices = [slice(int(end - count), int(end)) for end, count in zip(ends, counts, strict=True)]
        edges, offset = [], 0.0
        for bar in piece.bars:
            even = np.linspace(0.0, 1.0, bar.cells + 1)
            # Cells at both ends 0.3 of the mean; a smooth map keeps the scheme at second order.
            edges.append(offset + bar.length * (even - 0.7 * np.sin(2 * pi * even) / (2 * pi)))
            offset += bar.length
        self.width = np.concatenate([np.diff(part) for part in edges])
        self.position = np.concatenate([0.5 * (part[1:] + part[:-1]) for part in edges])
        self.contact_faces = np.r_[0, ends]
        self.contact_position = np.r_[0.0, np.cumsum([bar.length for bar in piece.bars])]

        def spread(numbers: list[float]) -> Floats:
            return np.repeat(np.array(numbers, dtype=np.float64), counts)

        self.area = spread([bar.section.area for bar in piece.bars])
        self.surface = spread([bar.section.perimeter for bar in piece.bars]) * self.width
        self.perimeter = spread([bar.section.perimeter for bar in piece.bars])
        self.side = spread([bar.side_conductance_per_m for bar in piece.bars]) * self.width
        self.volume = self.area * self.width
        self.is_work = np.repeat(np.array([bar.is_work for bar in piece.bars]), counts)
        jaws = (piece.left, piece.right)
        self.jaw_inverse = np.array([0.0 if jaw.heat_capacity == inf else 1 / jaw.heat_capacity for jaw in jaws])
        self.jaw_sink = np.array([jaw.sink_conductance for jaw in jaws])
        self.jaw_start = np.array([jaw.temperature for jaw in jaws])
        faces = self.width.size + 1
        self.joint_resistance = np.zeros(faces)
        self.joint_thermal = np.zeros(faces)
        self.joint_resistance[self.contact_faces] = [joint.resistance for joint in piece.contacts]
        self.joint_thermal[self.contact_faces] = [1 / joint.conductance for joint in piece.contacts]
        self.contact_resistance = float(self.joint_resistance.sum())
        ratio = _FACTOR_STEP * np.arange(_FACTOR_POINTS)
        self.factors = [bar.section.ac_factor(ratio) for bar in piece.bars]
        self.melting = [_melting_enthalpies(bar) for bar in piece.bars]
        # Enthalpy per kelvin where it is least: an error of enthalpy is then never taken for too small a temperature.
        least = [1 / look.slopes[:, 0].max() for look in self.lookups]
        self.kelvin = np.r_[1.0, 1 / np.repeat(np.array(least), counts), 1.0]

    def start(self, temperature: float) -> Floats:
        """Return the unknowns with every bar at one temperature [K] and the jaws at theirs."""
        y = np.empty(self.width.size + 2)
        y[0], y[-1] = self.jaw_start
        for bar, part in zip(self.piece.bars, self.slices, strict=True):
            known = bar.material.temperature
            # On a pure metal two points are as hot as the solidus, the second of them molten.
            solid = slice(int(np.searchsorted(known, bar.material.solidus, side="left")) + 1)
            if not known[0] <= temperature <= known[solid][-1]:
                msg = f"start temperature {temperature:g} K is outside {known[0]:.0f} to {known[solid][-1]:.0f} K"
                raise ValueError(msg)
            y[1:-1][part] = np.interp(temperature, known[solid], bar.material.enthalpy[solid])
        return y

    def highest_resistance(self, frequency_margin: float = 4.0) -> float:
        """Return a resistance [ohm] that the piece stays below, skin effect of hot steel included by a margin [-]."""
        hottest = [float(np.max(b.material.resistivity)) * b.length / b.section.area for b in self.piece.bars]
        return self.contact_resistance + frequency_margin * sum(hottest)

    def melt_progress(self, y: Floats) -> float:
        """Return how far the melting of the work has come where it is furthest [-].

        0 where it begins, 1 where a place is wholly liquid; straight in enthalpy, so negative before and without a
        corner. Minus infinity where nothing melts.
        """
        furthest = -inf
        for bar, part, (low, high) in zip(self.piece.bars, self.slices, self.melting, strict=True):
            if bar.is_work and isfinite(low):
                furthest = max(furthest, (float(y[1:-1][part].max()) - low) / (high - low))
        return furthest

    def evaluate(self, y: Floats, current: float) -> State:
        """Return rates, derivatives and powers at the unknowns and a current [A]."""
        n = self.width.size
        values, slopes = np.empty((6, n)), np.empty((6, n))
        for look, part in zip(self.lookups, self.slices, strict=True):
            values[:, part], slopes[:, part] = look.at(y[1:-1][part])
        ohms, ohms_slope, ohms_by_current = self._ohms(values, slopes, current)
        square = current * current

        temperature = np.r_[y[0], values[0], y[-1]]
        rise = np.r_[1.0, slopes[0], 1.0]
        thermal = np.zeros(n + 2)
        thermal[1:-1] = 0.5 * self.width / (values[2] * self.area)
        stiffening = np.zeros(n + 2)
        stiffening[1:-1] = thermal[1:-1] * slopes[2] / values[2]
        left, right = thermal[:-1], thermal[1:]
        g = 1 / (left + right + self.joint_thermal)
        drop = temperature[:-1] - temperature[1:]
        flow = g * drop
        by_left = g * rise[:-1] + drop * g**2 * stiffening[:-1]
        by_right = -g * rise[1:] + drop * g**2 * stiffening[1:]
        # Half a contact's heat arises on either side of it and divides as the thermal resistances say. How that share
        # moves with the conductivities is left out of the derivatives: Newton's method does not miss it.
        share = 0.5 * (1 + g * (right - left))
        into_left = square * self.joint_resistance * share
        into_right = square * self.joint_resistance - into_left

        lost = self.surface * (values[3] + values[4]) + self.side * (values[0] - self.piece.surroundings.temperature)
        lost_slope = self.surface * (slopes[3] + slopes[4]) + self.side * slopes[0]
        power = np.zeros(n + 2)
        power[1:-1] = square * ohms - lost
        power[1:] += flow + into_right
        power[:-1] += into_left - flow
        to_jaws = power[[0, -1]].copy()
        power[[0, -1]] -= self.jaw_sink * (y[[0, -1]] - self.jaw_start)

        per = np.r_[self.jaw_inverse[0], 1 / self.volume, self.jaw_inverse[1]]
        diagonal = np.zeros(n + 2)
        diagonal[1:-1] = square * ohms_slope - lost_slope
        diagonal[[0, -1]] = -self.jaw_sink
        diagonal[1:] += by_right
        diagonal[:-1] -= by_left
        by_current = np.zeros(n + 2)
        by_current[1:-1] = 2 * current * ohms + square * ohms_by_current
        by_current[1:] += 2 * current * self.joint_resistance * (1 - share)
        by_current[:-1] += 2 * current * self.joint_resistance * share
        resistance = float(ohms.sum()) + self.contact_resistance
        at = self.contact_faces
        ambient = self.piece.surroundings.temperature
        return State(
            rate=per * power,
            lower=per[1:] * by_left,
            diagonal=per * diagonal,
            upper=-per[:-1] * by_right,
            rate_by_current=per * by_current,
            resistance=resistance,
            resistance_by_current=float(ohms_by_current.sum()),
            resistance_by_unknown=np.r_[0.0, ohms_slope, 0.0],
            powers=np.array(
                [
                    square * resistance,
                    float(self.surface @ values[3]),
                    float(self.surface @ values[4]),
                    float(self.side @ (values[0] - ambient)),
                    to_jaws[0],
                    to_jaws[1],
                ]
            ),
            temperature=temperature,
            contact_temperature=np.column_stack(
                [
                    temperature[at] + thermal[at] * (into_left - flow)[at],
                    temperature[at + 1] + thermal[at + 1] * (into_right + flow)[at],
                ]
            ),
        )

    def _ohms(self, values: Floats, slopes: Floats, current: float) -> tuple[Floats, Floats, Floats]:
        """Return each cell's a.c. resistance and its slopes to its enthalpy and to the current."""
        per_ohm_metre = self.width / self.area
        ohms, ohms_slope = values[1] * per_ohm_metre, slopes[1] * per_ohm_metre
        by_current = np.zeros_like(ohms)
        if self.angular_frequency == 0:
            return ohms, ohms_slope, by_current
        for bar, part, table in zip(self.piece.bars, self.slices, self.factors, strict=True):
            field = sqrt(2) * current / bar.section.perimeter
            magnetic = bar.material.half_polarisation_field > 0
            rho, rho_slope = values[1, part], slopes[1, part]
            mu, mu_slope, mu_by_field = np.ones_like(rho), np.zeros_like(rho), np.zeros_like(rho)
            if magnetic:
                # The excess over 1 goes with the polarisation, whose share alone differs from cell to cell.
                per_tesla, bend_per_tesla = effective_permeability(field, 1.0, bar.material.half_polarisation_field)
                polarisation = np.maximum(values[5, part], 0.0)
                mu = 1 + (per_tesla - 1) * polarisation
                mu_slope = (per_tesla - 1) * slopes[5, part]
                mu_by_field = bend_per_tesla * polarisation
            ratio = bar.section.half_depth * np.sqrt(0.5 * self.angular_frequency * MU0 * mu / rho)
            at = np.minimum((ratio / _FACTOR_STEP).astype(np.int64), _FACTOR_POINTS - 2)
            bend = (table[at + 1] - table[at]) / _FACTOR_STEP
            factor = table[at] + bend * (ratio - _FACTOR_STEP * at)
            ratio_slope = 0.5 * ratio * (mu_slope / mu - rho_slope / rho)
            by_mu = 0.5 * ratio / mu * mu_by_field * sqrt(2) / bar.section.perimeter
            by_current[part] = ohms[part] * bend * by_mu
            ohms_slope[part] = ohms_slope[part] * factor + ohms[part] * bend * ratio_slope
            ohms[part] = ohms[part] * factor
        return ohms, ohms_slope, by_current
