"""What hangs on the circuit: a load, valves, a failed half wave, direct voltage in the mains."""

from dataclasses import dataclass
from math import inf

from fem.arrays import finite, not_negative


@dataclass(frozen=True, kw_only=True, slots=True)
class Rectifier:
    """Ideal valves in the secondary loop.

    Parameters
    ----------
    forward_drop
        Of all valves the current passes in series [V], >= 0.
    full_wave
        Whether both half waves reach the load, as through a bridge; else only the positive one.

    Raises
    ------
    ValueError
        If the drop is negative or not finite.
    """

    forward_drop: float = 0.0
    full_wave: bool = False

    def __post_init__(self) -> None:
        """Refuse a drop no valve can have."""
        not_negative(forward_drop=self.forward_drop)


@dataclass(frozen=True, kw_only=True, slots=True)
class Connection:
    """What hangs on the circuit.

    Parameters
    ----------
    load_resistance
        Across the lead ends, or behind the rectifier [ohm]: 0 is a short circuit, infinite an open secondary.
    rectifier
        Between lead ends and load.
    half_wave_supply
        Whether the primary current can flow one way only, as with a solid-state relay of which one half has failed.
    dc_voltage
        Direct voltage in the mains e.m.f. [V], either sign.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    load_resistance: float = inf
    rectifier: Rectifier | None = None
    half_wave_supply: bool = False
    dc_voltage: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers out of range."""
        if self.load_resistance != inf:
            not_negative(load_resistance=self.load_resistance)
        finite(dc_voltage=self.dc_voltage)


OPEN = Connection()
"""Nothing across the lead ends."""
SHORTED = Connection(load_resistance=0.0)
"""The lead ends bridged."""
