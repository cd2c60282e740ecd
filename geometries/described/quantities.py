"""Quantities with units at the boundary, SI floats inside.

A field typed `Length` takes "38 mm" or "1.5 in" anywhere, "38 mm +-0.1 mm" (`Told`), and a plain number of metres from
Python. In a job file (validation context ``{"job_file": True}``) a plain number is refused where a unit is needed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from numbers import Real
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from geometries.described.faults import refused, shown
from geometries.described.spellings import comma_hint, common_unit, decimal_number
from geometries.described.tolerances import Told, ToleranceError, half_width, split_tolerance
from geometries.described.units import ZERO_CELSIUS, to_si

# Possessive: a number is read once and never taken apart again, however long the text. Not the whole exponent, of which
# Python 3.11.2 (Debian 12) takes an "e" that no digit follows.
NUMBER = r"[+-]?(?:[0-9]++\.?[0-9]*+|\.[0-9]++)(?:[eE][+-]?[0-9]{1,3}+)?"
_QUANTITY = re.compile(rf"({NUMBER})\s*+(.*)", re.DOTALL)

# The commonest units, so that an ordinary job file never waits for pint; a test compares every row with pint.
COMMON: dict[str, dict[str, str]] = {
    "length": {"m": "1", "cm": "1e-2", "mm": "1e-3", "um": "1e-6", "µm": "1e-6", "in": "0.0254"},
    "area": {"m**2": "1", "cm**2": "1e-4", "mm**2": "1e-6"},
    "voltage": {"V": "1", "mV": "1e-3", "kV": "1e3"},
    "current": {"A": "1", "mA": "1e-3", "kA": "1e3"},
    "frequency": {"Hz": "1"},
    "power": {"W": "1", "mW": "1e-3", "kW": "1e3"},
    "resistance": {"ohm": "1", "mohm": "1e-3", "uohm": "1e-6", "Ω": "1", "mΩ": "1e-3", "µΩ": "1e-6"},
    "inductance": {"H": "1", "mH": "1e-3", "uH": "1e-6", "µH": "1e-6", "nH": "1e-9"},
    "flux density": {"T": "1", "mT": "1e-3"},
    "duration": {"s": "1", "ms": "1e-3", "min": "60", "h": "3600"},
    "temperature": {"K": "1", "degC": "1", "°C": "1"},
    "fraction": {"": "1", "%": "1e-2"},
    "heat capacity": {"J/K": "1", "kJ/K": "1e3"},
    "thermal conductance": {"W/K": "1"},
    "specific loss": {"W/kg": "1"},
    "force": {"N": "1", "kN": "1e3"},
}


class QuantityError(ValueError):
    """A text or number that is not the quantity asked for."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity: its name with article, the SI unit pint knows, and an example for messages."""

    name: str
    phrase: str
    unit: str
    example: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate with `parse_quantity`; serialise as the SI float."""
        # plain: a schema of floats after it would take the tolerance off
        return core_schema.with_info_plain_validator_function(
            self._validate, serialization=core_schema.simple_ser_schema("float")
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Tell editors of job files that a string with a unit is wanted."""
        kinds: Any = ["string", "number"] if self.name == "fraction" else "string"
        return {"type": kinds, "description": f"{self.phrase}, such as {self.example}", "examples": [self.example]}

    def _validate(self, value: Any, info: ValidationInfo) -> float:
        job_file = bool(info.context and info.context.get("job_file"))
        try:
            return told_quantity(value, self, unit_needed=job_file)
        except (QuantityError, ToleranceError) as error:
            raise refused(str(error)) from None


LENGTH = Dimension("length", "a length", "m", "38 mm")
AREA = Dimension("area", "an area", "m**2", "70 mm2")
VOLTAGE = Dimension("voltage", "a voltage", "V", "230 V")
CURRENT = Dimension("current", "a current", "A", "16 A")
POWER = Dimension("power", "a power", "W", "35 W")
FREQUENCY = Dimension("frequency", "a frequency", "Hz", "50 Hz")
RESISTANCE = Dimension("resistance", "a resistance", "ohm", "10 mohm")
INDUCTANCE = Dimension("inductance", "an inductance", "H", "5 uH")
TEMPERATURE = Dimension("temperature", "a temperature", "K", "60 degC")
FLUX_DENSITY = Dimension("flux density", "a flux density", "T", "1.6 T")
DURATION = Dimension("duration", "a duration", "s", "20 s")
HEAT_CAPACITY = Dimension("heat capacity", "a heat capacity", "J/K", "250 J/K")
THERMAL_CONDUCTANCE = Dimension("thermal conductance", "a thermal conductance", "W/K", "5 W/K")
FORCE = Dimension("force", "a force", "N", "300 N")
SPECIFIC_LOSS = Dimension("specific loss", "a specific loss", "W/kg", "5.3 W/kg")
FRACTION = Dimension("fraction", "a fraction", "", "0.95")

Length = Annotated[float, LENGTH]
Area = Annotated[float, AREA]
Voltage = Annotated[float, VOLTAGE]
Current = Annotated[float, CURRENT]
Power = Annotated[float, POWER]
Frequency = Annotated[float, FREQUENCY]
Resistance = Annotated[float, RESISTANCE]
Inductance = Annotated[float, INDUCTANCE]
Temperature = Annotated[float, TEMPERATURE]
FluxDensity = Annotated[float, FLUX_DENSITY]
Duration = Annotated[float, DURATION]
HeatCapacity = Annotated[float, HEAT_CAPACITY]
ThermalConductance = Annotated[float, THERMAL_CONDUCTANCE]
Force = Annotated[float, FORCE]
SpecificLoss = Annotated[float, SPECIFIC_LOSS]
Fraction = Annotated[float, FRACTION]


@dataclass(frozen=True, slots=True)
class Between:
    """Allowed range of a field, both ends included, for use as ``Annotated[Length, Between(3e-3, 0.5, "m")]``.

    Parameters
    ----------
    low, high
        Ends of the range [SI].
    unit
        What `format_quantity` writes them in.
    """

    low: float
    high: float
    unit: str

    def __str__(self) -> str:
        return f"{format_quantity(self.low, self.unit)} to {format_quantity(self.high, self.unit)}"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Check after the field's own conversion."""
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Add the range to the field's description."""
        found = handler(schema)
        found["description"] = ", ".join(filter(None, (found.get("description"), str(self))))
        return found

    def _check(self, value: float) -> float:
        if not self.low <= value <= self.high:
            text = f"{format_quantity(value, self.unit)} is outside {self}"
            raise refused(text)
        return value


@dataclass(frozen=True, slots=True)
class WholeNumber:
    """A count: a whole number of things, at least `low` and at most `high`."""

    low: int
    high: int

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Take integers and floats without a fractional part; nothing else."""
        return core_schema.no_info_before_validator_function(self._check, core_schema.int_schema())

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Describe it as an integer with its range."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}

    def _check(self, value: Any) -> int:
        number = isinstance(value, Real) and not isinstance(value, bool)
        if not number or not _finite(value) or value != int(value):
            text = f"expected a whole number; got {shown(value)}"
        elif not self.low <= value <= self.high:
            text = f"{int(value)} is outside {self.low} to {self.high}"
        else:
            return int(value)
        raise refused(text)


def told_quantity(value: object, dimension: Dimension, *, unit_needed: bool = False) -> float:
    """Convert as `parse_quantity` does, and a text with a tolerance to a float that carries it.

    Raises
    ------
    QuantityError, ToleranceError
        If it is not that quantity, or its tolerance is none.
    """
    if isinstance(value, Told):
        return value
    parts = split_tolerance(value) if isinstance(value, str) else None
    if parts is None:
        return parse_quantity(value, dimension, unit_needed=unit_needed)

    def read(text: str) -> float:
        return parse_quantity(text, dimension, unit_needed=unit_needed)

    nominal, tolerance = parts
    units = "K" if dimension is TEMPERATURE else units_of(dimension)
    within = half_width(str(value), nominal, tolerance, read, signed=dimension is TEMPERATURE, units=units)
    return Told(read(nominal), within)


def parse_quantity(value: object, dimension: Dimension, *, unit_needed: bool = False) -> float:
    """Convert a text with a unit, or an SI number, to an SI float.

    Parameters
    ----------
    value
        Text such as "38 mm", or a number in the dimension's SI unit.
    dimension
        What it must be.
    unit_needed
        Whether a plain number is refused (fractions excepted).

    Raises
    ------
    QuantityError
        If it is not that quantity, is not finite, or lacks the unit it needs.
    """
    if isinstance(value, Real) and not isinstance(value, bool):
        if unit_needed and dimension is not FRACTION:
            raise QuantityError(_expected(dimension, value))
        if not _finite(value):
            msg = f"expected {dimension.phrase}; got {shown(value)}, which is not a finite number"
            raise QuantityError(msg)
        return float(value)
    if not isinstance(value, str):
        raise QuantityError(_expected(dimension, value))
    parts = split_quantity(value)
    factor = None if parts is None else COMMON.get(dimension.name, {}).get(unit := normal_unit(parts[1]))
    if parts is None or factor is None:
        parts = split_quantity(decimal_number(value))
        if parts is None:
            raise QuantityError(_expected(dimension, value))
        unit = common_unit(normal_unit(parts[1]), dimension.name)
        factor = COMMON.get(dimension.name, {}).get(unit)
    digits = parts[0]
    if not math.isfinite(float(digits)):
        msg = f"expected {dimension.phrase}; got {shown(value)}, which is not a finite number"
        raise QuantityError(msg)
    if factor is None:
        return _parse_with_pint(value, float(digits), unit, dimension)
    offset = Decimal(str(ZERO_CELSIUS)) if unit in {"degC", "°C"} else 0
    # In decimal, so that "1.1 mm" is the float 0.0011 and not its neighbour: geometry keys stay stable.
    return float(Decimal(digits) * Decimal(factor) + offset)


def split_quantity(text: str) -> tuple[str, str] | None:
    """Return a text's number, as written, and what follows it; None where it begins with no number."""
    found = _QUANTITY.fullmatch(text.strip())
    return None if found is None else (found[1], found[2])


@lru_cache(maxsize=256)
def normal_unit(unit: str) -> str:
    """Write powers one way ("mm2", "mm^2", "mm²" become "mm**2") and the two micro signs and ohm signs one way."""
    unit = unit.replace("²", "**2").replace("³", "**3").replace("^", "**").replace("μ", "µ").replace("\u2126", "Ω")
    return re.sub(r"(?<=[A-Za-z])([23])(?![0-9])", r"**\1", unit)


def format_quantity(value: float, unit: str, digits: int = 4) -> str:
    """Write an SI value in engineering notation with its unit, such as "38 mm".

    Parameters
    ----------
    value
        The value [SI].
    unit
        SI unit to scale with prefixes ("m", "V", "A", "ohm", "H", "T", "s", "W", "Hz"); "m2" is written in mm2, "degC"
        converts from kelvin, "kg", "K" and "" are written as they are.
    digits
        Significant digits.
    """
    if unit == "degC":
        return f"{value - ZERO_CELSIUS:.{digits}g} degC"
    if unit == "m2":
        return f"{value * 1e6:.{digits}g} mm2"
    if unit == "m" and value == 0:
        return "0 mm"
    if unit in {"", "K", "kg"} or value == 0 or not math.isfinite(value):
        return f"{value:.{digits}g} {unit}".rstrip()
    # Rounding first: 999.96 mm to four digits is 1 m, not 1000 mm.
    rounded = float(f"{value:.{digits}g}")
    power = min(max(math.floor(math.log10(abs(rounded)) / 3 + 1e-12), -4), 3)
    prefix = {-4: "p", -3: "n", -2: "u", -1: "m", 0: "", 1: "k", 2: "M", 3: "G"}[power]
    if unit == "m" and power >= 1:
        power, prefix = 0, ""
    return f"{float(f'{rounded / 1000.0**power:.{digits}g}'):g} {prefix}{unit}"


def _finite(value: Real) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # an integer beyond the largest float
        return False


def units_of(dimension: Dimension) -> str:
    """Return the commonest units of a quantity, as people write them, with commas."""
    written = (unit.replace("**", "") for unit in COMMON[dimension.name] if unit.isascii())
    return ", ".join(filter(None, written))


def _expected(dimension: Dimension, value: object) -> str:
    unit = " " if dimension is FRACTION else " with its unit, "
    text = f'expected {dimension.phrase}{unit}such as "{dimension.example}"; got {shown(value)}'
    if not isinstance(value, str):
        return text
    if hint := comma_hint(value):
        return f"{text}: {hint}"
    parts = split_quantity(value)
    return f"{text}; units: {units_of(dimension)}" if parts is not None and parts[1] else text


def _parse_with_pint(text: str, number: float, unit: str, dimension: Dimension) -> float:
    if dimension is TEMPERATURE and unit in {"C", "F"}:
        what, word = ("charge", "degC") if unit == "C" else ("capacitance", "degF")
        msg = f"{number:g} {unit} is a {what}; write {number:g} {word}"
        raise QuantityError(msg)
    converted = to_si(number, unit, dimension.unit)
    if converted is None or not math.isfinite(converted.value):
        raise QuantityError(_expected(dimension, text))
    # For pint a radian is the number one: "314 rad/s" would pass as 314 Hz.
    no_frequency = dimension is FREQUENCY and "hertz" not in converted.names
    if no_frequency or (dimension is TEMPERATURE and "delta_" in converted.names):
        raise QuantityError(_expected(dimension, text))
    return converted.value
