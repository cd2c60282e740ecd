"""Work pieces as finite volumes: rates of enthalpy and of energy, their derivatives, the resistance."""

from collections.abc import Callable, Sequence
from math import inf, nan, pi
from typing import Self

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.work.alternating import Alternating
from fem.work.bodies import Bar
from fem.work.bordered import with_spots
from fem.work.chain import WorkPiece
from fem.work.contacts import Contacts
from fem.work.properties import Lookups, melting_enthalpies
from fem.work.rows import Rowwise, spread
from fem.work.state import Kept, State

SPOT_KELVIN = 2.5e-5
"""Weight of a spot's superheat among errors [K/K^2]: a kelvin of the hottest place of a contact counts a tenth."""
_SKIN = 4.0
"""How many times the resistance of hot steel may be, at most, with its skin effect [-]."""


class System(Rowwise):
    """Work pieces of one shape cut into finite volumes, fine towards contacts and jaws.

    Parameters
    ----------
    pieces
        (m,) the bodies between the lead ends: as many bars, cells and spots in each.
    frequency
        (m,) for the skin effect [Hz]; 0 leaves it out.

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

    ROWS = (
        "width",
        "position",
        "contact_position",
        "surface",
        "side",
        "volume",
        "per_ohm_metre",
        "ambient",
        "jaw_sink",
        "jaw_start",
        "kelvin",
        "rate_per_watt",
        "contacts",
        "_lookups",
        "_alternating",
        "_end",
    )
    SIDES = ("_melting",)

    def __init__(self, pieces: Sequence[WorkPiece], frequency: Floats) -> None:
        self.pieces = list(pieces)
        first, m = self.pieces[0], len(self.pieces)
        counts = [bar.cells for bar in first.bars]
        ends = np.cumsum(counts)
        self.slices = [slice(int(end - count), int(end)) for end, count in zip(ends, counts, strict=True)]
        lengths = np.array([[bar.length for bar in piece.bars] for piece in pieces])
        before = np.cumsum(np.hstack([np.zeros((m, 1)), lengths]), axis=1)
        edges = []
        for place, count in enumerate(counts):
            even = np.linspace(0.0, 1.0, count + 1)
            # Cells at both ends 0.3 of the mean; a smooth map keeps the scheme at second order.
            mapped = even - 0.7 * np.sin(2 * pi * even) / (2 * pi)
            edges.append(before[:, [place]] + lengths[:, [place]] * mapped)
        self.width = np.hstack([np.diff(part) for part in edges])
        self.position = np.hstack([0.5 * (part[:, 1:] + part[:, :-1]) for part in edges])
        self.contact_faces = np.r_[0, ends]
        self.contact_position = before
        bars = [piece.bars for piece in pieces]

        def each(number: Callable[[Bar], float]) -> Floats:
            return spread([[number(bar) for bar in chain] for chain in bars], counts)

        area = each(lambda bar: bar.section.area)
        self.surface = each(lambda bar: bar.section.perimeter) * self.width
        self.side = each(lambda bar: bar.side_conductance_per_m) * self.width
        self.volume = area * self.width
        self.per_ohm_metre = self.width / area
        self.is_work = np.repeat(np.array([bar.is_work for bar in first.bars]), counts)
        self.ambient = np.array([[piece.surroundings.temperature] for piece in pieces])
        jaws = [(piece.left, piece.right) for piece in pieces]
        inverse = np.array(
            [[0.0 if jaw.heat_capacity == inf else 1 / jaw.heat_capacity for jaw in pair] for pair in jaws]
        )
        self.jaw_sink = np.array([[jaw.sink_conductance for jaw in pair] for pair in jaws])
        self.jaw_start = np.array([[jaw.temperature for jaw in pair] for pair in jaws])
        cells = self.is_work.size
        self.contacts = Contacts([piece.contacts for piece in pieces], self.contact_faces.tolist(), cells + 1)
        self.spot_faces = self.contacts.faces
        self.nodes = cells + 2
        self._lookups = Lookups(bars, [piece.surroundings for piece in pieces], counts)
        self._alternating = Alternating(bars, counts, self.per_ohm_metre, frequency)
        self._firsts = np.r_[0, ends[:-1]]
        low, high = np.array([[melting_enthalpies(bar) for bar in chain] for chain in bars]).transpose(2, 0, 1)
        melts = np.isfinite(low) & [bar.is_work for bar in first.bars]
        self._melting = np.stack([np.where(melts, low, inf), np.where(melts, high - np.where(melts, low, 0.0), 1.0)])
        self._end = np.array([[bar.material.enthalpy[-1] for bar in chain] for chain in bars])
        # Enthalpy per kelvin where it is least: an error of enthalpy is then never taken for too small a temperature.
        self.kelvin = np.ones((m, self.nodes + self.spot_faces.size))
        self.kelvin[:, self.nodes :] = SPOT_KELVIN
        self.kelvin[:, 1 : self.nodes - 1] = self._lookups.steepest
        self.rate_per_watt = np.hstack([inverse[:, :1], 1 / self.volume, inverse[:, 1:]])

    def take(self, rows: Integers) -> Self:
        """Return those of some members."""
        other = super().take(rows)
        other.pieces = [self.pieces[row] for row in rows.tolist()]
        return other

    def cells(self, y: Floats) -> Floats:
        """Return a view of what unknowns hold for the cells, (..., cells)."""
        return y[..., 1 : self.nodes - 1]

    def start(self, temperature: Sequence[float]) -> Floats:
        """Return the unknowns (m, n) with the bars of each at a temperature [K], jaws at theirs, no superheat."""
        y = np.zeros((len(self.pieces), self.nodes + self.spot_faces.size))
        y[:, [0, self.nodes - 1]] = self.jaw_start
        for row, (piece, kelvin) in enumerate(zip(self.pieces, temperature, strict=True)):
            for bar, part in zip(piece.bars, self.slices, strict=True):
                known = bar.material.temperature
                # On a pure metal two points are as hot as the solidus, the second of them molten.
                solid = slice(int(np.searchsorted(known, bar.material.solidus, side="left")) + 1)
                if not known[0] <= kelvin <= known[solid][-1]:
                    msg = f"start temperature {kelvin:g} K is outside {known[0]:.0f} to {known[solid][-1]:.0f} K"
                    raise ValueError(msg)
                self.cells(y)[row, part] = np.interp(kelvin, known[solid], bar.material.enthalpy[solid])
        return y

    def highest_resistance(self) -> Floats:
        """Return resistances (m,) [ohm] that the pieces stay below."""
        hottest = [
            sum(float(np.max(b.material.resistivity)) * b.length / b.section.area for b in piece.bars)
            for piece in self.pieces
        ]
        return self.contacts.highest_resistance + _SKIN * np.array(hottest)

    def hottest(self, y: Floats) -> Floats:
        """Return the highest enthalpy of each bar, (m, bars) [J/m^3]."""
        return np.maximum.reduceat(self.cells(y), self._firsts, axis=1)

    def melt_progress(self, hottest: Floats, rows: Integers | slice = slice(None)) -> Floats:
        """Return how far the melting of the work has come where it is furthest, of some rows (k,) [-].

        0 where it begins, 1 where a place is wholly liquid; straight in enthalpy, so negative before and without a
        corner. Minus infinity where nothing melts. By `hottest`.
        """
        low, wide = self._melting[:, rows]
        found: Floats = ((hottest - low) / wide).max(axis=1)
        return found

    def beyond(self, hottest: Floats) -> NDArray[np.bool_]:
        """Return which bars got hotter than their materials' tables go, (m, bars)."""
        return hottest > self._end

    def evaluate(self, y: Floats, current: Floats, grown: Floats) -> State:
        """Return rates and derivatives.

        Parameters
        ----------
        y
            (m, n) unknowns.
        current
            (m,) r.m.s. [A].
        grown
            (m, s) the spots' growths so far [-].

        Notes
        -----
        Derivatives are exact but for the share by which a contact's heat divides among the cells' own resistances,
        whose change Newton's method does not miss.
        """
        nodes = self.nodes
        now, slope = self._lookups.at(self.cells(y))
        ohms, ohms_slope, ohms_by_current = self._alternating.at(now, slope, current)
        square = current * current
        squares = square[:, None]

        temperature, rise = y[:, :nodes].copy(), np.ones((len(y), nodes))
        temperature[:, 1:-1], rise[:, 1:-1] = now.temperature, slope.temperature
        at = self.contacts.at(temperature, y[:, nodes:], current, grown)
        thermal, stiffening = np.zeros((2, len(y), nodes))
        thermal[:, 1:-1] = 0.5 * self.per_ohm_metre / now.thermal_conductivity
        stiffening[:, 1:-1] = thermal[:, 1:-1] * slope.thermal_conductivity / now.thermal_conductivity
        left, right = thermal[:, :-1], thermal[:, 1:]
        g = 1 / (left + right + at.thermal)
        flow = g * (temperature[:, :-1] - temperature[:, 1:])
        bend = flow * g
        by_left = g * rise[:, :-1] + bend * stiffening[:, :-1]
        by_right = bend * stiffening[:, 1:] - g * rise[:, 1:]
        both = at.left + at.right
        to_left = at.left + g * (at.right * right - at.left * left)
        to_right = both - to_left
        into_left, into_right = squares * to_left, squares * to_right

        power, by_current = np.zeros((2, len(y), nodes))
        power[:, 1:-1] = (
            squares * ohms
            - self.surface * (now.radiated + now.convected)
            - self.side * (now.temperature - self.ambient)
        )
        power[:, 1:] += flow + into_right
        power[:, :-1] += into_left - flow
        ends = [0, nodes - 1]
        power[:, ends] -= self.jaw_sink * (temperature[:, ends] - self.jaw_start)
        diagonal, resistance_by_unknown, lower, upper = np.zeros((4, len(y), nodes))
        diagonal[:, 1:-1] = (
            squares * ohms_slope - self.surface * (slope.radiated + slope.convected) - self.side * slope.temperature
        )
        diagonal[:, ends] = -self.jaw_sink
        diagonal[:, 1:] += by_right
        diagonal[:, :-1] -= by_left
        twice, shared = 2 * current[:, None], 0.5 * squares * at.by_current
        by_current[:, 1:-1] = twice * ohms + squares * ohms_by_current
        by_current[:, 1:] += twice * to_right + shared
        by_current[:, :-1] += twice * to_left + shared
        per = self.rate_per_watt
        lower[:, 1:], upper[:, :-1] = per[:, 1:] * by_left, -per[:, :-1] * by_right
        resistance_by_unknown[:, 1:-1] = ohms_slope
        diagonal *= per
        bands = lower, diagonal, upper, resistance_by_unknown
        spots = with_spots(at.spots, self.spot_faces, square, per, rise, bend, bands)
        return State(
            rate=np.concatenate([per * power, at.spots.rate], axis=1),
            lower=lower,
            diagonal=diagonal,
            upper=upper,
            spots=spots,
            rate_by_current=per * by_current,
            resistance=ohms.sum(axis=1) + both.sum(axis=1),
            ohms=ohms,
            resistance_by_current=ohms_by_current.sum(axis=1) + at.by_current.sum(axis=1),
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
        """Return powers, (m, 6) [W]: electric, radiated, convected, through the sides, into either jaw."""
        return np.stack(
            [
                state.current**2 * state.resistance,
                (self.surface * state.radiated).sum(axis=1),
                (self.surface * state.convected).sum(axis=1),
                (self.side * (state.temperature[:, 1:-1] - self.ambient)).sum(axis=1),
                state.into_left[:, 0] - state.flow[:, 0],
                state.flow[:, -1] + state.into_right[:, -1],
            ],
            axis=1,
        )

    def contact_temperature(self, kept: Kept) -> Floats:
        """Return the temperatures on the left and the right side of each contact, (k, contacts, 2) [K]."""
        at = self.contact_faces
        flow = kept.flow[:, at]
        left = kept.temperature[:, at] + kept.thermal[:, at] * (kept.into_left[:, at] - flow)
        right = kept.temperature[:, at + 1] + kept.thermal[:, at + 1] * (kept.into_right[:, at] + flow)
        return np.stack([left, right], axis=2)

    def spot_temperature(self, kept: Kept) -> Floats:
        """Return the hottest place inside each contact, (k, contacts) [K]; not a number where it is none of metals."""
        found = np.full(kept.flow.shape, nan)
        found[:, self.spot_faces] = kept.hottest
        return found[:, self.contact_faces]
