"""The work piece as finite volumes: rates of enthalpy and of energy, their derivatives, the resistance."""

from dataclasses import dataclass
from math import inf, isfinite, nan, pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.work.chain import WorkPiece
from fem.work.contacts import AtFaces, Contacts
from fem.work.properties import FACTOR_POINTS, FACTOR_STEP, Columns, melting_enthalpies, stretches
from fem.work.skin import effective_permeability

SPOT_KELVIN = 2.5e-5
"""Weight of a spot's superheat among errors [K/K^2]: a kelvin of the hottest place of a contact counts a tenth."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SpotSlopes:
    """Derivatives of and to the superheats of s spots.

    Parameters
    ----------
    of_left, of_right
        (s,) rate of the node on either side to the superheat.
    to
        (s, 4) the superheat's rate to the unknowns on either side, to itself and to the current.
    of_resistance
        (s,) resistance to the superheat [ohm/K^2].
    """

    of_left: Floats
    of_right: Floats
    to: Floats
    of_resistance: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Everything that follows from the unknowns at one instant.

    Unknowns, (n,): the left jaw's temperature [K], the enthalpy of each cell [J/m^3], the right jaw's temperature: the
    nodes; then the superheat of each of s spots [K^2].

    Parameters
    ----------
    rate
        (n,) time derivative of the unknowns.
    lower, diagonal, upper
        Derivative of the nodes' rates to the nodes at a fixed current, tridiagonal.
    spots
        Derivatives of and to the superheats.
    at
        What the contacts are.
    rate_by_current
        (n,) of the rates to the current.
    resistance, resistance_by_current
        Between the lead ends [ohm], [ohm/A].
    ohms
        (cells,) of the bars' [ohm].
    resistance_by_unknown
        (n,) of the resistance to the unknowns.
    current
        R.m.s. [A].
    temperature
        (n,) [K].
    radiated, convected
        (cells,) flux from the cells' surface [W/m^2].
    thermal
        (nodes,) from the middle of each cell to its faces [K/W].
    flow, into_left, into_right
        (faces,) heat through each face from left to right, and the part of its contact's heat that goes either way [W].
    """

    rate: Floats
    lower: Floats
    diagonal: Floats
    upper: Floats
    rate_by_current: Floats
    resistance: float
    resistance_by_current: float
    ohms: Floats
    resistance_by_unknown: Floats
    current: float
    temperature: Floats
    radiated: Floats
    convected: Floats
    thermal: Floats
    spots: SpotSlopes
    at: AtFaces
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
    Of a contact's heat i^2 R the part q_left arises on its left side and q_right on its right one, of which
    q_left + (q_right theta_right - q_left theta_left)/(theta_left + theta_right + 1/G) go to the left. A jaw is a node,
    C dT/dt = (what reaches it) - G_sink (T - T0), or stays as cold as it is.

    `Contacts` says what each contact puts in the way.

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
        self.contacts = Contacts(piece.contacts, self.contact_faces.tolist(), self.width.size + 1)
        self.spot_faces = np.array(self.contacts.faces, dtype=np.int64)
        self.nodes = self.width.size + 2
        self.stretches = stretches(piece, self.slices)
        self.melting = [melting_enthalpies(bar) for bar in piece.bars]
        # Enthalpy per kelvin where it is least: an error of enthalpy is then never taken for too small a temperature.
        self.kelvin = np.ones(self.nodes + self.spot_faces.size)
        self.kelvin[self.nodes :] = SPOT_KELVIN
        for stretch in self.stretches:
            self.kelvin[1 : self.nodes - 1][stretch.part] = stretch.lookup.slopes.temperature.max()
        self.rate_per_watt = np.r_[self.jaw_inverse[0], 1 / self.volume, self.jaw_inverse[1]]

    def cells(self, y: Floats) -> Floats:
        """Return a view of what unknowns hold for the cells."""
        return y[1 : self.nodes - 1]

    def start(self, temperature: float) -> Floats:
        """Return the unknowns with every bar at one temperature [K], the jaws at theirs, the spots at none above."""
        y = np.zeros(self.nodes + self.spot_faces.size)
        y[0], y[self.nodes - 1] = self.jaw_start
        for bar, part in zip(self.piece.bars, self.slices, strict=True):
            known = bar.material.temperature
            # On a pure metal two points are as hot as the solidus, the second of them molten.
            solid = slice(int(np.searchsorted(known, bar.material.solidus, side="left")) + 1)
            if not known[0] <= temperature <= known[solid][-1]:
                msg = f"start temperature {temperature:g} K is outside {known[0]:.0f} to {known[solid][-1]:.0f} K"
                raise ValueError(msg)
            self.cells(y)[part] = np.interp(temperature, known[solid], bar.material.enthalpy[solid])
        return y

    def highest_resistance(self, frequency_margin: float = 4.0) -> float:
        """Return a resistance [ohm] that the piece stays below, skin effect of hot steel included by a margin [-]."""
        hottest = [float(np.max(b.material.resistivity)) * b.length / b.section.area for b in self.piece.bars]
        return self.contacts.highest_resistance + frequency_margin * sum(hottest)

    def melt_progress(self, y: Floats) -> float:
        """Return how far the melting of the work has come where it is furthest [-].

        0 where it begins, 1 where a place is wholly liquid; straight in enthalpy, so negative before and without a
        corner. Minus infinity where nothing melts.
        """
        furthest = -inf
        for bar, part, (low, high) in zip(self.piece.bars, self.slices, self.melting, strict=True):
            if bar.is_work and isfinite(low):
                furthest = max(furthest, (float(self.cells(y)[part].max()) - low) / (high - low))
        return furthest

    def evaluate(self, y: Floats, current: float, grown: Floats) -> State:
        """Return rates and derivatives at the unknowns, a current, r.m.s. [A], and the spots' growth so far (s,) [-].

        Notes
        -----
        Derivatives are exact but for the share by which a contact's heat divides among the cells' own resistances,
        whose change Newton's method does not miss.
        """
        n, nodes = self.width.size, self.nodes
        found, by_enthalpy = np.empty((6, n)), np.empty((6, n))
        for stretch in self.stretches:
            found[:, stretch.part], by_enthalpy[:, stretch.part] = stretch.lookup.at(self.cells(y)[stretch.part])
        now, slope = Columns._make(found), Columns._make(by_enthalpy)
        ohms, ohms_slope, ohms_by_current = self._ohms(now, slope, current)
        square = current * current

        temperature, rise = y[:nodes].copy(), np.ones(nodes)
        temperature[1:-1], rise[1:-1] = now.temperature, slope.temperature
        at = self.contacts.at(temperature, y[nodes:], current, grown)
        thermal, stiffening = np.zeros(nodes), np.zeros(nodes)
        thermal[1:-1] = 0.5 * self.per_ohm_metre / now.thermal_conductivity
        stiffening[1:-1] = thermal[1:-1] * slope.thermal_conductivity / now.thermal_conductivity
        left, right = thermal[:-1], thermal[1:]
        g = 1 / (left + right + at.thermal)
        flow = g * (temperature[:-1] - temperature[1:])
        bend = flow * g
        by_left = g * rise[:-1] + bend * stiffening[:-1]
        by_right = bend * stiffening[1:] - g * rise[1:]
        to_left = at.left + g * (at.right * right - at.left * left)
        to_right = at.left + at.right - to_left
        into_left, into_right = square * to_left, square * to_right

        ambient = self.piece.surroundings.temperature
        power, diagonal, by_current = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
        power[1:-1] = (
            square * ohms - self.surface * (now.radiated + now.convected) - self.side * (now.temperature - ambient)
        )
        power[1:] += flow + into_right
        power[:-1] += into_left - flow
        power[[0, -1]] -= self.jaw_sink * (temperature[[0, -1]] - self.jaw_start)
        diagonal[1:-1] = (
            square * ohms_slope - self.surface * (slope.radiated + slope.convected) - self.side * slope.temperature
        )
        diagonal[[0, -1]] = -self.jaw_sink
        diagonal[1:] += by_right
        diagonal[:-1] -= by_left
        by_current[1:-1] = 2 * current * ohms + square * ohms_by_current
        by_current[1:] += 2 * current * to_right + 0.5 * square * at.by_current
        by_current[:-1] += 2 * current * to_left + 0.5 * square * at.by_current
        per = self.rate_per_watt
        lower, upper = per[1:] * by_left, -per[:-1] * by_right
        resistance_by_unknown = np.zeros(nodes)
        resistance_by_unknown[1:-1] = ohms_slope
        f = self.spot_faces
        # What temperatures on either side and superheat make of the heat that goes either way, (s, 3) each.
        led = bend[f, None] * at.spots.conducts
        scale = np.ones((f.size, 4))
        scale[:, 0], scale[:, 1] = rise[f], rise[f + 1]
        one, other = ((square * at.spots.left - led) * scale[:, :3], (square * at.spots.right + led) * scale[:, :3])
        ohms_by = (at.spots.left + at.spots.right) * scale[:, :3]
        diagonal[f] += one[:, 0]
        upper[f] += per[f] * one[:, 1]
        lower[f] += per[f + 1] * other[:, 0]
        diagonal[f + 1] += other[:, 1]
        resistance_by_unknown[f] += ohms_by[:, 0]
        resistance_by_unknown[f + 1] += ohms_by[:, 1]
        return State(
            rate=np.concatenate([per * power, at.spots.rate]),
            lower=lower,
            diagonal=per * diagonal,
            upper=upper,
            spots=SpotSlopes(
                of_left=per[f] * one[:, 2],
                of_right=per[f + 1] * other[:, 2],
                to=at.spots.rate_by * scale,
                of_resistance=ohms_by[:, 2],
            ),
            rate_by_current=per * by_current,
            resistance=float(ohms.sum() + at.left.sum() + at.right.sum()),
            ohms=ohms,
            resistance_by_current=float(ohms_by_current.sum() + at.by_current.sum()),
            resistance_by_unknown=resistance_by_unknown,
            current=current,
            temperature=temperature,
            radiated=now.radiated,
            convected=now.convected,
            thermal=thermal,
            at=at,
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

    def spot_temperature(self, state: State) -> Floats:
        """Return the hottest place inside each contact, (contacts,) [K]; not a number where it is none of metals."""
        found = np.full(self.width.size + 1, nan)
        found[self.spot_faces] = state.at.spots.hottest
        return found[self.contact_faces]

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
