"""What the loaded state's phasors leave out, measured against the periodic state in the time domain."""

from dataclasses import dataclass

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.time.connection import Connection
from fem.circuit.time.periodic import periodic


@dataclass(frozen=True, kw_only=True, slots=True)
class PhasorDifference:
    """What the phasor solution is off by, over the periodic solution in the time domain.

    Parameters
    ----------
    primary_rms, secondary_rms, real_power
        (phasor - periodic) / periodic [-].
    peak_flux_per_turn, phasor_peak_flux_per_turn
        Of the core at the primary, both ways [Wb].
    leakage_flux_peak
        Per turn, periodic [Wb].
    """

    primary_rms: float
    secondary_rms: float
    real_power: float
    peak_flux_per_turn: float
    phasor_peak_flux_per_turn: float
    leakage_flux_peak: float


def phasor_difference(circuit: Circuit, load_resistance: float = 0.0) -> PhasorDifference:
    """Compare the loaded state, phasors unless the leakage path saturates, with the periodic one in the time domain.

    Parameters
    ----------
    load_resistance
        Across the lead ends [ohm], 0 for a short circuit.

    Raises
    ------
    NotConverged
        As `periodic`.
    ValueError
        If the load is negative or not finite.

    Notes
    -----
    `PHASOR_BOUND` holds shorted, loaded and open however far the core saturates: where its harmonics would break it,
    `loaded` takes waves itself.
    """
    phasor = loaded(circuit, load_resistance)
    exact = periodic(circuit, Connection(load_resistance=load_resistance))
    return PhasorDifference(
        primary_rms=phasor.primary_current_rms / exact.primary_rms - 1,
        secondary_rms=phasor.secondary_current_rms / exact.secondary_rms - 1,
        real_power=phasor.input_power / exact.real_power - 1,
        peak_flux_per_turn=max(exact.flux_highest, -exact.flux_lowest),
        phasor_peak_flux_per_turn=phasor.peak_flux_per_turn,
        leakage_flux_peak=exact.leakage_flux_peak,
    )
