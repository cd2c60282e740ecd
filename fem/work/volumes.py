"""The work piece as finite volumes: rates of enthalpy and of energy, their derivatives, the resistance."""

from math import inf, isfinite, nan, pi

import numpy as np

from fem.arrays import Floats
from fem.work.alternating import ac_resistance
from fem.work.bordered import with_spots
from fem.work.chain import WorkPiece
from fem.work.contacts import Contacts
from fem.work.properties import Columns, melting_enthalpies, stretches
from fem.work.state import State

SPOT_KELVIN = 2.5e-5
"""Weight of a spot's superheat among errors [K/K^2]: a kelvin of the hottest place of a contact counts a tenth."""


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
        self.frequency = frequency
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
        ohms, ohms_slope, ohms_by_current = ac_resistance(
            self.stretches, self.per_ohm_metre, now, slope, current, self.frequency
        )
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
        diagonal *= per
        bands = lower, diagonal, upper, resistance_by_unknown
        spots = with_spots(at.spots, self.spot_faces, square, per, rise, bend, bands)
        return State(
            rate=np.concatenate([per * power, at.spots.rate]),
            lower=lower,
            diagonal=diagonal,
            upper=upper,
            spots=spots,
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
