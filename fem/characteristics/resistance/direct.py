"""Direct-current resistance of windings and leads: R = rho(temperature) length / area."""

from fem.materials.metals import Metal


def resistance(metal: Metal, *, length: float, area: float, temperature: float) -> float:
    """Return the d.c. resistance of a conductor [ohm].

    Parameters
    ----------
    metal
        What it is made of.
    length
        [m].
    area
        Cross-section that conducts [m2].
    temperature
        [K].
    """
    return float(metal.resistivity(temperature)) * length / area


def at_temperature(metal: Metal, measured: float, *, measured_at: float, temperature: float) -> float:
    """Return a measured resistance [ohm] carried over from one temperature to another [K]."""
    return measured * float(metal.resistivity(temperature) / metal.resistivity(measured_at))
