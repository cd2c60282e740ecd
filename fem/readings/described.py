"""What the user describes of readings taken on the bench, before cutting and after winding."""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from typing import Annotated, ClassVar, Self

from pydantic import model_validator

from fem.readings.conditions import Amperes, Bench, Coil, Energised, Instruments, Ohms, Seconds, Test, Volts, Watts
from geometries.described.faults import Description, refused
from geometries.described.quantities import Between, Resistance, Voltage, WholeNumber


class Method(Enum):
    """How a resistance was measured."""

    TWO_WIRE = "two-wire"
    FOUR_WIRE = "four-wire"
    VOLTS_AND_AMPERES = "volts-and-amperes"


class ResistanceTest(Test):
    """A winding's resistance, with direct current; of two cores' primaries as they are wired.

    Parameters
    ----------
    winding
        Which.
    resistance
        As shown [ohm].
    voltage, current
        Direct volts at the winding's ends and amperes through it, in place of the resistance [V], [A].
    method
        Two wires show the meter's own leads as well. Volts and amperes, or four wires, do not.
    leads_together
        What a two-wire meter shows with its probes touched together [ohm].
    """

    winding: Coil = Coil.PRIMARY
    resistance: Ohms | None = None
    voltage: Volts | None = None
    current: Amperes | None = None
    method: Method = Method.TWO_WIRE
    leads_together: Annotated[Resistance, Between(0.0, 10.0, "ohm")] | None = None

    SHOWN: ClassVar = {"resistance": ("ohm", "ohmmeter", "resistance of the {winding}")}
    GIVEN: ClassVar = {"temperature": "thermometer", "leads_together": "probes"}

    @property
    def shown(self) -> tuple[str, ...]:
        """Keys of what the meters showed: a resistance, be it volts over amperes."""
        return ("resistance",) if self.resistance or (self.voltage and self.current) else ()

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        by_two = self.method is Method.VOLTS_AND_AMPERES
        if by_two == (self.voltage is None or self.current is None) or by_two == (self.resistance is not None):
            text = (
                "volts-and-amperes takes voltage and current in place of resistance"
                if by_two
                else f"{self.method.value} takes resistance; voltage and current belong to volts-and-amperes"
            )
            raise refused(text)
        if self.leads_together is not None and self.method is not Method.TWO_WIRE:
            text = f"leads_together: {self.method.value} does not show the meter's leads"
            raise refused(text)
        if self.leads_together is not None and self.resistance is not None and self.leads_together >= self.resistance:
            text = "leads_together must lie below resistance: nothing is left of the winding"
            raise refused(text)
        return self


class NoLoad(Energised):
    """Nothing connected to the secondary.

    Parameters
    ----------
    current, power
        In the mains lead, at the primary's terminals [A], [W].
    """

    current: Amperes | None = None
    power: Watts | None = None

    SHOWN: ClassVar = {
        "current": ("A", "ammeter", "amperes in the mains lead, idle"),
        "power": ("W", "wattmeter", "watts, idle"),
    }


class SearchCoil(Energised):
    """Some turns of thin wire round the leg, nothing connected to the secondary.

    Parameters
    ----------
    turns
        Of the coil.
    voltage
        At its ends [V].
    place
        Wound over the primary, or where the secondary lies: there it links a little less.
    """

    turns: Annotated[int, WholeNumber(1, 1000)]
    voltage: Volts | None = None
    place: Coil = Coil.PRIMARY

    SHOWN: ClassVar = {"voltage": ("V", "voltmeter", "volts of a search coil of {turns} turns over the {place}")}


class SecondaryVolts(Energised):
    """Volts at the open ends of the secondary.

    Parameters
    ----------
    voltage
        [V].
    """

    voltage: Volts | None = None

    SHOWN: ClassVar = {"voltage": ("V", "voltmeter", "volts at the open lead ends")}


class Joined(Energised):
    """Lead ends joined, on reduced volts or on the mains.

    Parameters
    ----------
    primary_current, secondary_current, power
        In the mains lead, in the leads, at the primary's terminals [A], [A], [W].
    """

    primary_current: Amperes | None = None
    secondary_current: Amperes | None = None
    power: Watts | None = None

    SHOWN: ClassVar = {
        "primary_current": ("A", "ammeter", "amperes in the mains lead, lead ends joined"),
        "secondary_current": ("A", "ammeter", "amperes in the leads, lead ends joined"),
        "power": ("W", "wattmeter", "watts, lead ends joined"),
    }


class LoadedTest(Energised):
    """A load on the lead ends: its ohms are told, else the amperes that it took are what the rest was read at.

    Parameters
    ----------
    load
        [ohm].
    voltage
        At the lead ends [V].
    current
        In the leads [A].
    primary_current, power
        In the mains lead, at the primary's terminals [A], [W].
    """

    load: Annotated[Resistance, Between(1e-6, 1e4, "ohm")] | None = None
    voltage: Volts | None = None
    current: Amperes | None = None
    primary_current: Amperes | None = None
    power: Watts | None = None

    SHOWN: ClassVar = {
        "voltage": ("V", "voltmeter", "volts at the lead ends, loaded"),
        "current": ("A", "ammeter", "amperes in the leads, loaded"),
        "primary_current": ("A", "ammeter", "amperes in the mains lead, loaded"),
        "power": ("W", "wattmeter", "watts, loaded"),
    }
    GIVEN: ClassVar = Energised.GIVEN | {"current": "ammeter"}

    @property
    def shown(self) -> tuple[str, ...]:
        """Keys of what the meters showed."""
        return tuple(key for key in super().shown if key != "current" or self.load is not None)

    @model_validator(mode="after")
    def _load_or_amperes(self) -> Self:
        if self.load is None and self.current is None:
            text = "load: tell its ohms, or current, the amperes it took"
            raise refused(text)
        return self


class JointDrop(Test):
    """Volts across all joints between winding and work, one after the other and added, at so many amperes.

    Parameters
    ----------
    voltage, current
        [V], [A].
    """

    voltage: Annotated[Voltage, Between(1e-6, 10.0, "V")] | None = None
    current: Amperes

    SHOWN: ClassVar = {"voltage": ("V", "averaging voltmeter", "volts across the joints")}
    GIVEN: ClassVar = {"current": "averaging clamp"}


class MainsTest(Test):
    """Volts at the socket, the machine not plugged in.

    Parameters
    ----------
    idle_voltage
        With nothing on it [V].
    loaded_voltage, current
        Under a heater, and its amperes [V], [A].
    """

    idle_voltage: Volts | None = None
    loaded_voltage: Volts | None = None
    current: Amperes | None = None

    SHOWN: ClassVar = {
        "idle_voltage": ("V", "averaging voltmeter", "volts at the socket, nothing on it"),
        "loaded_voltage": ("V", "averaging voltmeter", "volts at the socket under a heater"),
    }
    GIVEN: ClassVar = {"current": "averaging ammeter"}

    @model_validator(mode="after")
    def _together(self) -> Self:
        if (self.loaded_voltage is None) != (self.current is None):
            text = "loaded_voltage and current belong together: give both or none"
            raise refused(text)
        if (
            self.idle_voltage is not None
            and self.loaded_voltage is not None
            and self.loaded_voltage > self.idle_voltage
        ):
            text = "loaded_voltage lies above idle_voltage: a load cannot raise the mains"
            raise refused(text)
        return self


class BurstTest(Test):
    """A burst into the work piece that the job describes, from a cold machine.

    Parameters
    ----------
    duration
        How long the current flowed [s].
    to_visible_red, to_dull_red, to_flow, to_melting, to_parting
        From switching on until the work just glowed in the dark, glowed by daylight, took the solder (the job's
        target_temperature), began to melt, came apart [s].
    breaker_opens
        After how long the breaker or fuse opened [s].
    primary_resistance
        Of the primary at once after a burst of that duration [ohm].
    """

    duration: Seconds | None = None
    to_visible_red: Seconds | None = None
    to_dull_red: Seconds | None = None
    to_flow: Seconds | None = None
    to_melting: Seconds | None = None
    to_parting: Seconds | None = None
    breaker_opens: Seconds | None = None
    primary_resistance: Ohms | None = None

    SHOWN: ClassVar = {
        "to_visible_red": ("s", "eye", "seconds to a glow in the dark"),
        "to_dull_red": ("s", "eye", "seconds to dull red"),
        "to_flow": ("s", "eye", "seconds to the flow of solder"),
        "to_melting": ("s", "eye", "seconds to melting"),
        "to_parting": ("s", "eye", "seconds to parting"),
        "breaker_opens": ("s", "stop watch", "seconds to the opening of the breaker"),
        "primary_resistance": ("ohm", "ohmmeter", "resistance of the primary after the burst"),
    }
    GIVEN: ClassVar = {"duration": "stop watch"}

    @model_validator(mode="after")
    def _how_long(self) -> Self:
        if self.primary_resistance is not None and self.duration is None:
            text = "primary_resistance: needs duration, how long the current flowed"
            raise refused(text)
        return self


class Readings(Description):
    """What meters showed on one machine: any of these, each as often as it was done.

    Parameters
    ----------
    bench
        What all tests have in common.
    instruments
        What there is for more of them; the usual ones where it is not told.
    resistance, search_coil, secondary_volts, no_load, joined, loaded, joint_drop, mains, burst
        The tests.
    """

    NO_TESTS: ClassVar = ("bench", "instruments")

    bench: Bench = Bench()
    instruments: Instruments | None = None
    resistance: tuple[ResistanceTest, ...] = ()
    search_coil: tuple[SearchCoil, ...] = ()
    secondary_volts: tuple[SecondaryVolts, ...] = ()
    no_load: tuple[NoLoad, ...] = ()
    joined: tuple[Joined, ...] = ()
    loaded: tuple[LoadedTest, ...] = ()
    joint_drop: tuple[JointDrop, ...] = ()
    mains: tuple[MainsTest, ...] = ()
    burst: tuple[BurstTest, ...] = ()

    def tests(self) -> Iterator[tuple[str, Test]]:
        """Yield every test with its key, such as "no_load.0"."""
        for name in type(self).model_fields:
            if name not in self.NO_TESTS:
                yield from ((f"{name}.{place}", test) for place, test in enumerate(getattr(self, name)))
