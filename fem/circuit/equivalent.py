"""The circuit as plain numbers: the only place where turns enter."""

from dataclasses import dataclass, replace
from math import isfinite, pi, sqrt

from fem.circuit.curves import CoreLossCurve, LeakageCurve, MagnetisingCurve

_POSITIVE = ("voltage_rms", "frequency", "primary_turns", "secondary_turns")
_NOT_NEGATIVE = (
    "source_resistance",
    "source_inductance",
    "primary_resistance",
    "secondary_resistance",
    "lead_resistance",
    "lead_inductance",
)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Circuit:
    """Hold a transformer, its mains and its leads as plain numbers.

    Parameters
    ----------
    voltage_rms : float
        Mains e.m.f. behind the source impedance [V].
    frequency : float
        [Hz].
    source_resistance, source_inductance : float
        Of the mains loop up to the primary's ends [ohm], [H].
    primary_turns : float
        [-]; of primaries in parallel on like cores, a primary's turns over their number.
    secondary_turns : float
        Effective turns: the whole turns times the share of the primary's flux that they link [-], see `with_coupling`.
    primary_resistance, secondary_resistance : float
        Of the windings at their temperature, a.c. factor included [ohm].
    lead_resistance, lead_inductance : float
        Of the secondary's loop outside the winding, joints included [ohm], [H].
    leakage_permeance : float or LeakageCurve
        Leakage inductance per turn squared, windings only [H]; a curve where the leakage path saturates.
    magnetising : MagnetisingCurve
        Of the primary energised alone.
    core_loss : CoreLossCurve
        At `frequency`.
    load_resistance : float or None
        Across the lead ends [ohm]; None where no load is described.

    Raises
    ------
    ValueError
        If a number is out of range, with the number.

    Notes
    -----
    Mains, source impedance and primary resistance feed the induced primary voltage. Across it lie the magnetising
    branch, the core-loss conductance and, through the turns ratio, the whole leakage with the secondary circuit.
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
        # A leakage curve has checked itself.
        leakage = () if isinstance(self.leakage_permeance, LeakageCurve) else ("leakage_permeance",)
        for name in (*_POSITIVE, *leakage):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                msg = f"{name} must be above 0, got {value!r}"
                raise ValueError(msg)
        for name in _NOT_NEGATIVE:
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                msg = f"{name} must not be negative, got {value!r}"
                raise ValueError(msg)
        if self.load_resistance is not None:
            check_load(self.load_resistance)

    @property
    def angular_frequency(self) -> float:
        """Angular frequency [rad/s]."""
        return 2 * pi * self.frequency

    @property
    def nominal_peak_flux(self) -> float:
        """Peak flux per turn [Wb] if the whole mains voltage were induced in the primary."""
        return sqrt(2) * self.voltage_rms / (self.angular_frequency * self.primary_turns)

    @property
    def loop_resistance(self) -> float:
        """Resistance of source and primary in series [ohm]."""
        return self.source_resistance + self.primary_resistance

    @property
    def leakage_inductance_primary(self) -> float:
        """Leakage inductance with leads, seen from the primary [H]; of a leakage curve, the unsaturated one."""
        return self.leakage_inductance_secondary * (self.primary_turns / self.secondary_turns) ** 2

    @property
    def leakage_inductance_secondary(self) -> float:
        """Leakage inductance with leads, seen from the secondary [H]; of a leakage curve, the unsaturated one."""
        leakage = self.leakage_permeance
        permeance = leakage.unsaturated_permeance if isinstance(leakage, LeakageCurve) else leakage
        return self.secondary_turns**2 * permeance + self.lead_inductance

    def with_voltage(self, voltage_rms: float) -> "Circuit":
        """Return the same circuit on another mains voltage [V]."""
        return replace(self, voltage_rms=voltage_rms)

    def with_coupling(self, coupling: float) -> "Circuit":
        """Return the same circuit with a secondary that links only a share of the primary's flux.

        Parameters
        ----------
        coupling : float
            Flux per turn of the secondary over that of the primary, primary energised alone [-], > 0.

        Notes
        -----
        With the magnetising branch on the primary's side the ideal transformer's ratio is L12/L11: the secondary's
        turns count that much less, and the leakage inductance they carry stays what it was.
        """
        leakage = self.leakage_permeance
        scaled: float | LeakageCurve
        if isinstance(leakage, LeakageCurve):
            scaled = LeakageCurve(
                ampere_turns=coupling * leakage.ampere_turns, flux_per_turn=leakage.flux_per_turn / coupling
            )
        else:
            scaled = leakage / coupling**2
        return replace(self, secondary_turns=coupling * self.secondary_turns, leakage_permeance=scaled)


def check_load(load_resistance: float) -> None:
    """Refuse a load resistance [ohm] that is negative or not finite.

    Raises
    ------
    ValueError
        With the number.
    """
    if not (isfinite(load_resistance) and load_resistance >= 0):
        msg = f"load_resistance must be finite and not negative, got {load_resistance!r}"
        raise ValueError(msg)
