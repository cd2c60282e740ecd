"""The work piece as finite volumes: rates of enthalpy and of energy, their derivatives, the resistance."""

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.work.chain import WorkPiece
from fem.work.properties import FACTOR_POINTS, FACTOR_STEP, Columns, melting_enthalpies, stretches
from fem.work.skin import effective_permeability


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Everything that follows from the unknowns at one instant.

    Unknowns, (n,): the left jaw's temperature [K], the enthalpy of each cell [J/m^3], the right jaw's temperature.

    Parameters
    ----------
    rate
        (n,) time derivative of the unknowns.
    lower, diagonal, upper
        (n - 1,), (n,), (n - 1,) derivative of the rates to the unknowns at a fixed current, tridiagonal.
    rate_by_current
        (n,) of the rates to the current.
    resistance, resistance_by_current
        Between the lead ends [ohm], [ohm/A].
    resistance_by_unknown
        (n,) of the resistance to the unknowns.
    current
        R.m.s. [A].
    temperature
        (n,) [K].
    radiated, convected
        (n - 2,) flux from the cells' surface [W/m^2].
    thermal
        (n,) from the middle of each cell to its faces [K/W].
    flow, into_left, into_right
        (n - 1,) heat through each face from left to right, and the part of its contact's heat that goes either way [W].
    """

    rate: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    rate_by_current: Floats
    resistance: float
    resistance_by_current: float
    resistance_by_unknown: Floats
    current: float
    temperature: Floats
    radiated: Floats
    convected: Floats
    thermal: Floats
    flow: Floats
    into_left: Floats
    into_right: Floats


class System:
    """A work piece cut into finite volumes, fine towards contacts and jaws.

    Parameters
    ----------
    piece
        The bodies between the lead ends.
    frequency
        For the skin effect [Hz]; 0 leaves it out.

    Notes
    -----
    Along a bar of section S and perimeter p, with the volumetric enthalpy h(T) [J/m^3] as unknown,

        S dh/dt = d/dx(k S dT/dx) + i^2 r(h, i) - p (q_rad + q_conv) - g (T - Ta).

    T(h) is level where a pure metal melts and bends between solidus and liquidus of an alloy: melting is in the curve,
    no front is followed. Summed over cell k, of width w and volume V, with what crosses its faces:

        V dh_k/dt = Phi_(k-1/2) - Phi_(k+1/2) + i^2 R_k - p w (q_rad + q_conv) - g w (T_k - Ta),
        Phi = (T_left - T_right)/(theta_left + theta_right + 1/G),   theta = w/(2 k S),

    so that what leaves one cell enters the next to the last digit; G is a contact's conductance, infinite elsewhere.
    Half of a contact's heat i^2 Rc arises on either side of it, and of both halves together
    (1 + (theta_right - theta_left)/(theta_left + theta_right + 1/G))/2 go to the left. A jaw is a node,
    C dT/dt = (what reaches it) - G_sink (T - T0), or stays as cold as it is.

    Left out: temperatures across a section; Peltier and Thomson heat, which change sign with the current and so
    average out over a period of a.c. S. V. Patankar, Numerical Heat Transfer and Fluid Flow (1980), for finite
    volumes and for resistances in series at a face.
    """

    def __init__(self, piece: WorkPiece, frequency: float) -> None:
        self.piece = piece
        self.angular_frequency = 2 * pi * frequency
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
        self.per_ohm_metre = self.width / self.area
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
        self.stretches = stretches(piece, self.slices)
        self.melting = [melting_enthalpies(bar) for bar in piece.bars]
        # Enthalpy per kelvin where it is least: an error of enthalpy is then never taken for too small a temperature.
        self.kelvin = np.ones(self.width.size + 2)
        for stretch in self.stretches:
            self.kelvin[1:-1][stretch.part] = stretch.lookup.slopes.temperature.max()
        self.rate_per_watt = np.r_[self.jaw_inverse[0], 1 / self.volume, self.jaw_inverse[1]]

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
        """Return rates and derivatives at the unknowns and a current, r.m.s. [A].

        Notes
        -----
        Derivatives are exact but for the share by which a contact's heat divides, whose change with the conductivities
        Newton's method does not miss.
        """
        n = self.width.size
        found, by_enthalpy = np.empty((6, n)), np.empty((6, n))
        for stretch in self.stretches:
            found[:, stretch.part], by_enthalpy[:, stretch.part] = stretch.lookup.at(y[1:-1][stretch.part])
        now, slope = Columns._make(found), Columns._make(by_enthalpy)
        ohms, ohms_slope, ohms_by_current = self._ohms(now, slope, current)
        square = current * current

        temperature, rise = y.copy(), np.ones(n + 2)
        temperature[1:-1], rise[1:-1] = now.temperature, slope.temperature
        thermal, stiffening = np.zeros(n + 2), np.zeros(n + 2)
        thermal[1:-1] = 0.5 * self.per_ohm_metre / now.thermal_conductivity
        stiffening[1:-1] = thermal[1:-1] * slope.thermal_conductivity / now.thermal_conductivity
        left, right = thermal[:-1], thermal[1:]
        g = 1 / (left + right + self.joint_thermal)
        flow = g * (temperature[:-1] - temperature[1:])
        bend = flow * g
        by_left = g * rise[:-1] + bend * stiffening[:-1]
        by_right = bend * stiffening[1:] - g * rise[1:]
        share = 0.5 * (1 + g * (right - left))
        to_left = self.joint_resistance * share
        to_right = self.joint_resistance - to_left
        into_left, into_right = square * to_left, square * to_right

        ambient = self.piece.surroundings.temperature
        power, diagonal, by_current = np.zeros(n + 2), np.zeros(n + 2), np.zeros(n + 2)
        power[1:-1] = (
            square * ohms - self.surface * (now.radiated + now.convected) - self.side * (now.temperature - ambient)
        )
        power[1:] += flow + into_right
        power[:-1] += into_left - flow
        power[[0, -1]] -= self.jaw_sink * (y[[0, -1]] - self.jaw_start)
        diagonal[1:-1] = (
            square * ohms_slope - self.surface * (slope.radiated + slope.convected) - self.side * slope.temperature
        )
        diagonal[[0, -1]] = -self.jaw_sink
        diagonal[1:] += by_right
        diagonal[:-1] -= by_left
        by_current[1:-1] = 2 * current * ohms + square * ohms_by_current
        by_current[1:] += 2 * current * to_right
        by_current[:-1] += 2 * current * to_left
        per = self.rate_per_watt
        resistance_by_unknown = np.zeros(n + 2)
        resistance_by_unknown[1:-1] = ohms_slope
        return State(
            rate=per * power,
            lower=per[1:] * by_left,
            diagonal=per * diagonal,
            upper=-per[:-1] * by_right,
            rate_by_current=per * by_current,
            resistance=float(ohms.sum()) + self.contact_resistance,
            resistance_by_current=float(ohms_by_current.sum()),
            resistance_by_unknown=resistance_by_unknown,
            current=current,
            temperature=temperature,
            radiated=now.radiated,
            convected=now.convected,
            thermal=thermal,
            flow=flow,
            into_left=into_left,
            into_right=into_right,
        )

    def powers(self, state: State) -> Floats:
        """Return powers [W]: electric, radiated, convected, through the sides, into the left and the right jaw."""
        return np.array(
            [
                state.current**2 * state.resistance,
                self.surface @ state.radiated,
                self.surface @ state.convected,
                self.side @ (state.temperature[1:-1] - self.piece.surroundings.temperature),
                state.into_left[0] - state.flow[0],
                state.flow[-1] + state.into_right[-1],
            ]
        )

    def contact_temperature(self, state: State) -> Floats:
        """Return the temperatures on the left and the right side of each contact, (contacts, 2) [K]."""
        at = self.contact_faces
        return np.column_stack(
            [
                state.temperature[at] + state.thermal[at] * (state.into_left - state.flow)[at],
                state.temperature[at + 1] + state.thermal[at + 1] * (state.into_right + state.flow)[at],
            ]
        )

    def _ohms(self, now: Columns, slope: Columns, current: float) -> tuple[Floats, Floats, Floats]:
        """Return each cell's a.c. resistance [ohm] and its slopes to its enthalpy and to the current, (cells,) each.

        R = rho w/S F(a/delta), delta = sqrt(2 rho/(omega mu0 mu)), F of `fem.work.skin` by table; in steel mu follows
        the peak field at the surface, sqrt(2) i/p.
        """
        ohms, ohms_slope = now.resistivity * self.per_ohm_metre, slope.resistivity * self.per_ohm_metre
        by_current = np.zeros_like(ohms)
        if self.angular_frequency == 0:
            return ohms, ohms_slope, by_current
        for stretch in self.stretches:
            bar, part, table = stretch.bar, stretch.part, stretch.factor
            rho, rho_slope = now.resistivity[part], slope.resistivity[part]
            relative_slope = rho_slope / rho
            mu: Floats | float = 1.0
            by_field: Floats | float = 0.0
            if bar.material.half_polarisation_field > 0:
                # The excess over 1 goes with the polarisation, whose share alone differs from cell to cell.
                field = sqrt(2) * current / bar.section.perimeter
                per_tesla, bend_per_tesla = effective_permeability(field, 1.0, bar.material.half_polarisation_field)
                polarisation = np.maximum(now.polarisation[part], 0.0)
                mu = 1 + (per_tesla - 1) * polarisation
                relative_slope = relative_slope - (per_tesla - 1) * slope.polarisation[part] / mu
                by_field = bend_per_tesla * polarisation / mu
            ratio = bar.section.half_depth * np.sqrt(0.5 * self.angular_frequency * MU0 * mu / rho)
            at = np.minimum((ratio / FACTOR_STEP).astype(np.int64), FACTOR_POINTS - 2)
            start, bend = table.take(at, axis=1)
            factor = start + bend * (ratio - FACTOR_STEP * at)
            # The ratio goes with the root of permeability over resistivity.
            half_bend = 0.5 * ohms[part] * bend * ratio
            by_current[part] = half_bend * by_field * (sqrt(2) / bar.section.perimeter)
            ohms_slope[part] = ohms_slope[part] * factor - half_bend * relative_slope
            ohms[part] *= factor
        return ohms, ohms_slope, by_current
