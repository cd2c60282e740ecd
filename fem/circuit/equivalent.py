r"""The circuit as plain numbers: the only place where turns enter.

            R_s    L_s     R_1   i_1                     i_2   Lambda     R_2    R_l    L_l
      +----/\/\---mmmm----/\/\--->--+-------+          +-->----mmmm-----/\/\---/\/\---mmmm---+
      |                             |       |          |                                     |
    (~) e(t)                F(phi) [m]     [G]    N_1 :|: N_2                               [R]
      |                             |       |          |                                     |
      +-----------------------------+-------+          +-------------------------------------+

Mains, source impedance and primary resistance feed the voltage N_1 dphi/dt induced in the primary. Across it lie the
magnetising branch, the core-loss conductance and, through the turns ratio, the whole leakage with the secondary's loop:

    e       = (R_s + R_1) i_1 + L_s di_1/dt + N_1 dphi/dt            primary loop
    N_1 i_1 = F(phi) + G dphi/dt + N_2 i_2                           ampere-turns on the core
    N_2 dphi/dt = d/dt (N_2 phi_l + L_l i_2) + (R_2 + R_l + R) i_2   secondary loop
    phi_l   = Lambda N_2 i_2, or the leakage curve's flux at N_2 i_2

| symbol | is | symbol | is |
|---|---|---|---|
| e | mains e.m.f. sqrt(2) U sin(omega t) [V] | phi | core's flux per turn at the primary [Wb] |
| R_s, L_s | source [ohm], [H] | phi_l | leakage flux per turn [Wb] |
| R_1, R_2 | windings [ohm] | F | ampere-turns of the magnetising curve [A] |
| R_l, L_l | leads with joints [ohm], [H] | G | core loss per (volt per turn)^2 [S] |
| N_1, N_2 | turns, the secondary's effective ones [-] | Lambda | leakage permeance [H] |
| i_1, i_2 | currents [A] | R | load [ohm] |
"""

from dataclasses import dataclass, replace
from math import pi, sqrt
from typing import Any

import numpy as np

from fem.arrays import Number, not_negative, positive
from fem.circuit.curves import LeakageCurve, MagnetisingCurve
from fem.circuit.loss_curve import CoreLossCurve


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Circuit:
    """A transformer, its mains and its leads as plain numbers.

    Parameters
    ----------
    voltage_rms
        Mains e.m.f. behind the source impedance [V].
    frequency
        [Hz].
    source_resistance, source_inductance
        Of the mains loop up to the primary's ends [ohm], [H].
    primary_turns
        [-]; of primaries in parallel on like cores, a primary's turns over their number.
    secondary_turns
        Effective turns: the whole turns times the share of the primary's flux that they link [-], see `with_coupling`.
    primary_resistance, secondary_resistance
        Of the windings at their temperature, a.c. factor included [ohm].
    lead_resistance, lead_inductance
        Of the secondary's loop outside the winding, joints included [ohm], [H].
    leakage_permeance
        Leakage inductance per turn squared, windings only [H]; a curve where the leakage path saturates.
    magnetising
        Of the primary energised alone.
    core_loss
        At `frequency`.
    load_resistance
        Across the lead ends [ohm]; None where no load is described.

    Raises
    ------
    ValueError
        If a number is out of range, with the number.

    Notes
    -----
    A block of designs on one core and arrangement shares the curves, which know no turns, or has curves with a row for
    each; its numbers are arrays (...,) with an entry for each design, and the properties and all functions that say
    (...,) take them: `idle`, `loaded`, `first_peaks` and `switch_on` among them. Other functions take one design.
    """

    voltage_rms: float
    frequency: float
    source_resistance: float
    source_inductance: float
    primary_turns: float
    secondary_turns: float
    primary_resistance: float
    secondary_resistance: float
    lead_resistance: float
    lead_inductance: float
    leakage_permeance: float | LeakageCurve
    magnetising: MagnetisingCurve
    core_loss: CoreLossCurve
    load_resistance: float | None = None

    def __post_init__(self) -> None:
        """Refuse numbers that no circuit can have."""
        positive(
            voltage_rms=self.voltage_rms,
            frequency=self.frequency,
            primary_turns=self.primary_turns,
            secondary_turns=self.secondary_turns,
        )
        not_negative(
            source_resistance=self.source_resistance,
            source_inductance=self.source_inductance,
            primary_resistance=self.primary_resistance,
            secondary_resistance=self.secondary_resistance,
            lead_resistance=self.lead_resistance,
            lead_inductance=self.lead_inductance,
        )
        # A leakage curve has checked itself.
        if not isinstance(self.leakage_permeance, LeakageCurve):
            positive(leakage_permeance=self.leakage_permeance)
        if self.load_resistance is not None:
            not_negative(load_resistance=self.load_resistance)

    @property
    def angular_frequency(self) -> float:
        """Angular frequency omega, (...,) [rad/s]."""
        return 2 * pi * self.frequency

    @property
    def nominal_peak_flux(self) -> float:
        """Peak flux per turn if the whole mains voltage were induced in the primary, sqrt(2) U/(omega N_1), [Wb]."""
        return sqrt(2) * self.voltage_rms / (self.angular_frequency * self.primary_turns)

    @property
    def loop_resistance(self) -> float:
        """Resistance of source and primary in series, R_s + R_1, (...,) [ohm]."""
        return self.source_resistance + self.primary_resistance

    @property
    def leakage_inductance_secondary(self) -> float:
        """Leakage with leads seen from the secondary, N_2^2 Lambda + L_l, [H]; of a curve, the unsaturated one."""
        leakage = self.leakage_permeance
        permeance: Any = leakage.unsaturated_permeance if isinstance(leakage, LeakageCurve) else leakage
        if np.ndim(self.voltage_rms) > np.ndim(permeance) > 0:  # runs of each member lie along a second axis
            permeance = permeance[:, None]
        found: float = self.secondary_turns**2 * permeance + self.lead_inductance
        return found

    def with_voltage(self, voltage_rms: Number) -> "Circuit":
        """Return the same circuit on another mains voltage, (...,) [V]."""
        return replace(self, voltage_rms=voltage_rms)

    def with_coupling(self, coupling: Number, main_permeance: Number = 0.0) -> "Circuit":
        """Return the same circuit with a secondary that links only a share of the primary's flux.

        Parameters
        ----------
        coupling
            (...,) flux per turn of the secondary over that of the primary, primary energised alone [-], > 0.
        main_permeance
            (...,) the primary's flux per turn and ampere-turn in the circuit's state [H].

        Notes
        -----
        With permeances P_11, P_12, P_22 and the magnetising branch P_11 on the primary's side, the ideal transformer's
        ratio is k = P_12 / P_11 times that of the turns, and behind it, a turn, lies

            P_22 - k P_12 = Lambda - (1 - k)^2 P_11,        Lambda = P_11 - 2 P_12 + P_22,

        Lambda being the leakage of opposite ampere-turns; over k^2, as the secondary's turns count k times. A leakage
        curve falls as a whole, in proportion: far out, where its shunts are saturated, P_11 is no longer that of the
        state, and taking it there would leave a curve that falls.
        """
        beside = (1 - coupling) ** 2 * main_permeance
        leakage = self.leakage_permeance
        behind: Number | LeakageCurve
        if isinstance(leakage, LeakageCurve):
            fallen = np.asarray((1 - beside / leakage.unsaturated_permeance) / coupling)
            rows = slice(None) if leakage.members is None else leakage.members
            behind = LeakageCurve(
                ampere_turns=np.asarray(coupling)[..., None] * leakage.ampere_turns[rows],
                flux_per_turn=fallen[..., None] * leakage.flux_per_turn[rows],
            )
        else:
            behind = (leakage - beside) / coupling**2
        return replace(self, secondary_turns=coupling * self.secondary_turns, leakage_permeance=behind)

    def coupled_as(self, other: "Circuit") -> "Circuit":
        """Return the same circuit with the coupling and the leakage of another."""
        return replace(self, secondary_turns=other.secondary_turns, leakage_permeance=other.leakage_permeance)
