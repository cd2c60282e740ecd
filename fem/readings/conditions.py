"""What all tests on the bench have in common: what they were done with, and what a fed primary is told by."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Annotated, ClassVar, Self

from pydantic import model_validator

from fem.circuit.instruments import Meter
from geometries.described.faults import Description, refused
from geometries.described.quantities import (
    Between,
    Current,
    Duration,
    Power,
    Resistance,
    Temperature,
    Voltage,
    format_quantity,
)

Volts = Annotated[Voltage, Between(1e-4, 1000.0, "V")]
Amperes = Annotated[Current, Between(1e-4, 20e3, "A")]
Watts = Annotated[Power, Between(1e-3, 1e5, "W")]
Ohms = Annotated[Resistance, Between(1e-6, 1e4, "ohm")]
Seconds = Annotated[Duration, Between(0.01, 1800.0, "s")]
Degrees = Annotated[Temperature, Between(233.15, 523.15, "degC")]

BEHIND_LAMP = ("V", "voltmeter", "volts at the primary")
"""A reading of every test behind a lamp."""


class Coil(Enum):
    """Which winding."""

    PRIMARY = "primary"
    SECONDARY = "secondary"


class Supply(Enum):
    """What feeds the primary in a test."""

    MAINS = "mains"
    VARIABLE = "variable transformer"


class Bench(Description):
    """What all tests have in common where they do not say otherwise.

    Parameters
    ----------
    temperature
        Of windings and leads while the readings were taken [K].
    meter, voltmeter
        What the meters of amperes and of volts make of a wave. One whose face does not say true r.m.s. averages.
    """

    temperature: Degrees | None = None
    meter: Meter = Meter.AVERAGING
    voltmeter: Meter = Meter.AVERAGING


class Instruments(Description):
    """What there is to measure with; what is not told is not there.

    Parameters
    ----------
    multimeter
        Volts, ohms, and amperes up to 10 A.
    clamp
        Largest range of a clamp for alternating current [A].
    wattmeter, variable_transformer, heater
        Whether there is one: watts; from zero to the mains volts; of some 2 kW, as a load of the socket.
    lamp
        Rated watts of an incandescent lamp to put in series [W]; 0 where there is none.
    direct_current
        What a battery or supply drives through a winding, for resistances by four wires [A].
    """

    multimeter: bool = False
    clamp: Annotated[Current, Between(1.0, 20e3, "A")] | None = None
    wattmeter: bool = False
    variable_transformer: bool = False
    heater: bool = False
    lamp: Annotated[Power, Between(0.0, 3000.0, "W")] = 0.0
    direct_current: Annotated[Current, Between(0.01, 100.0, "A")] | None = None

    @property
    def words(self) -> tuple[str, ...]:
        """What there is, in words."""
        told = {"clamp": ("clamp up to", "A"), "lamp": ("lamp of", "W"), "direct_current": ("direct current to", "A")}
        return tuple(
            name.replace("_", " ") if value is True else f"{told[name][0]} {format_quantity(value, told[name][1])}"
            for name, value in self
            if value
        )


class Test(Description):
    """One test on the bench: what it was done with, and what the meters showed.

    Parameters
    ----------
    temperature
        Of windings and leads in the test [K]; that of the bench, else the job's, where it is not told.
    """

    __test__: ClassVar[bool] = False  # of pytest, which takes it for one of its own
    SHOWN: ClassVar[Mapping[str, tuple[str, str, str]]] = {}
    """Readings by key: unit, kind of instrument, words."""
    GIVEN: ClassVar[Mapping[str, str]] = {"temperature": "thermometer"}
    """Conditions by key, whose doubt is the reading's too, and their instruments."""

    temperature: Degrees | None = None

    @property
    def shown(self) -> tuple[str, ...]:
        """Keys of what the meters showed."""
        return tuple(key for key in self.SHOWN if getattr(self, key, None) is not None)

    @property
    def given(self) -> tuple[str, ...]:
        """Keys of the conditions that are told."""
        return tuple(key for key in self.GIVEN if key not in self.shown and getattr(self, key) is not None)

    @model_validator(mode="after")
    def _needs_a_reading(self) -> Self:
        if not self.shown:
            text = f"nothing was read: give {' or '.join(self.SHOWN)}"
            raise refused(text)
        return self


class Energised(Test):
    """A test with the primary energised.

    Parameters
    ----------
    primary_voltage
        At the primary's terminals while the others were read [V]; without it the mains is what the job says. Behind a
        lamp it is a reading like the others.
    supply
        Mains, or a variable transformer, which it is where volts are told.
    source_resistance
        Of the variable transformer [ohm]; none where it is not told.
    lamp, lamp_voltage
        Rated watts of an incandescent lamp in series with the primary, and its rated volts (the mains' where not told)
        [W], [V].
    meter, voltmeter
        What the meters of amperes and of volts make of a wave; as on the bench where not told.
    clamp_range
        Full scale of the clamp that read the amperes [A]; without it an ammeter was in the lead.
    """

    primary_voltage: Volts | None = None
    supply: Supply | None = None
    source_resistance: Annotated[Resistance, Between(0.0, 100.0, "ohm")] | None = None
    lamp: Annotated[Power, Between(5.0, 3000.0, "W")] | None = None
    lamp_voltage: Annotated[Voltage, Between(5.0, 500.0, "V")] | None = None
    meter: Meter | None = None
    voltmeter: Meter | None = None
    clamp_range: Annotated[Current, Between(1.0, 20e3, "A")] | None = None

    GIVEN: ClassVar = {"temperature": "thermometer", "primary_voltage": "voltmeter", "lamp": "lamp"}

    @property
    def shown(self) -> tuple[str, ...]:
        """Keys of what the meters showed."""
        behind = self.lamp is not None and self.primary_voltage is not None
        return (*super().shown, *(("primary_voltage",) if behind else ()))

    @property
    def on_mains(self) -> bool:
        """Whether the mains feeds it, through the lamp if there is one."""
        untold = self.primary_voltage is None or self.lamp is not None
        return untold if self.supply is None else self.supply is Supply.MAINS

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.supply is Supply.VARIABLE and self.primary_voltage is None:
            text = "a variable transformer needs primary_voltage"
            raise refused(text)
        if self.supply is Supply.VARIABLE and self.lamp is not None:
            text = "a lamp belongs to a test on the mains; with a variable transformer tell primary_voltage alone"
            raise refused(text)
        if self.source_resistance is not None and self.on_mains:
            text = "source_resistance is that of a variable transformer; the mains' belongs into the job"
            raise refused(text)
        if self.lamp_voltage is not None and self.lamp is None:
            text = "lamp_voltage: needs lamp, its watts"
            raise refused(text)
        for key in self.shown:
            value = getattr(self, key)
            if key.endswith("current") and self.clamp_range is not None and value > self.clamp_range:
                full = format_quantity(self.clamp_range, "A")
                text = f"{key} {format_quantity(value, 'A')} is beyond clamp_range, {full}"
                raise refused(text)
        return self
