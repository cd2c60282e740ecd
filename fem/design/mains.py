"""What the user describes of the socket."""

from __future__ import annotations

import re
from typing import Annotated, Self

from pydantic import AfterValidator, model_validator

from fem.mains.devices import Device, Type
from fem.mains.supply import run_impedance
from geometries.described.faults import Description, refused, shown
from geometries.described.quantities import Area, Between, Current, Frequency, Inductance, Length, Resistance, Voltage

_BREAKER = re.compile(r"(?:(B|C|D|gG) ?|(UL 489|BS 1362) )?([0-9]{1,3}(?:\.[0-9]{1,3})?) ?A?")
_NOISE = re.compile(r"\b(?:circuit|breaker|type|curve|plug|fuse)\b", re.IGNORECASE)
_KIND = r"(B|C|D|gG|UL ?489|BS ?1362)"
_TYPED = re.compile(
    rf"(?:{_KIND}[ -]?)?([0-9]{{1,3}}(?:\.[0-9]{{1,3}})?) ?(?:A(?:mp(?:ere)?s?)?)?,? ?{_KIND}?", re.IGNORECASE
)
_USUAL = {"GG": "gG", "UL489": "UL 489", "BS1362": "BS 1362"}
PLUG_FUSES = (3.0, 5.0, 13.0)
"""Ratings [A] that are a plug's, BS 1362, where only a fuse is spoken of; one of 10 A may be of either kind."""


def _usual(value: str) -> str:
    """Write what people type for a breaker or fuse as standards do: "B 16", "16 A type B" and "b16" are "B16"."""
    found = _TYPED.fullmatch(" ".join(_NOISE.sub(" ", value).split()))
    if found is None or (found[1] and found[3]):
        return value
    kind, rating = (found[1] or found[3] or "").upper().replace(" ", ""), found[2]
    kind = _USUAL.get(kind, kind)
    if re.search("fuse", value, re.IGNORECASE):
        plug = re.search("plug", value, re.IGNORECASE) or float(rating) in PLUG_FUSES
        kind = kind or ("BS 1362" if plug else "gG")
        if not Type(kind).is_fuse:
            return value
    return f"{kind} {rating} A".lstrip() if " " in kind or not kind else f"{kind}{rating}"


def breaker_named(value: str) -> str:
    """Return the name of a breaker or fuse as standards write it, or raise what a validator may."""
    value = _usual(" ".join(value.split()))
    found = _BREAKER.fullmatch(value)
    if not found or not 1 <= float(found[3]) <= 125:
        text = (
            'expected a breaker such as "B16", "C16", "UL 489 20 A" or "20 A", or a fuse such as "gG16" or '
            f'"BS 1362 13 A", 1 to 125 A; got {shown(value)}'
        )
        raise refused(text)
    try:
        Device(type=Type(found[1] or found[2] or "UL 489"), rating=float(found[3]))
    except ValueError as error:
        raise refused(str(error)) from None
    return value


def _standard_section(value: float) -> float:
    try:
        run_impedance(1.0, value)
    except ValueError as error:
        raise refused(str(error)) from None
    return value


class Mains(Description):
    """The socket the primary is plugged into.

    The source's impedance is given (`source_resistance`, `source_inductance`), or follows from a measured dip
    (`dip_voltage`, `dip_current`); a cord or run of wiring (`run_length`, `run_area`) is added to either. Where nothing
    is said, the reference impedance of IEC TR 60725 is assumed.

    Parameters
    ----------
    voltage
        No-load r.m.s. voltage [V].
    frequency
        [Hz].
    source_resistance, source_inductance
        Of line plus neutral up to the socket [ohm], [H].
    dip_voltage, dip_current
        R.m.s. voltage at the socket under a resistive load such as a heater, and its current [V], [A].
    run_length, run_area
        Of a cord or run between there and the primary, one way [m], and its copper [m2].
    breaker
        Breaker or fuse of the branch circuit, type or standard and rating: "B16" (IEC 60898-1), "gG16" (IEC 60269),
        "UL 489 20 A", "BS 1362 13 A"; a rating alone ("20 A") is taken as UL 489.
    plug_fuse
        Rating of a fuse in the plug (BS 1362) [A].
    rated_current
        Input current on the nameplate [A].
    """

    voltage: Annotated[Voltage, Between(1.0, 1000.0, "V")]
    frequency: Annotated[Frequency, Between(10.0, 1000.0, "Hz")]
    source_resistance: Annotated[Resistance, Between(0.0, 100.0, "ohm")] | None = None
    source_inductance: Annotated[Inductance, Between(0.0, 0.1, "H")] | None = None
    dip_voltage: Annotated[Voltage, Between(1.0, 1000.0, "V")] | None = None
    dip_current: Annotated[Current, Between(0.1, 1000.0, "A")] | None = None
    run_length: Annotated[Length, Between(0.1, 500.0, "m")] | None = None
    run_area: Annotated[Area, Between(0.5e-6, 50e-6, "m2"), AfterValidator(_standard_section)] | None = None
    breaker: Annotated[str, AfterValidator(breaker_named)] | None = None
    plug_fuse: Annotated[Current, Between(1.0, 13.0, "A")] | None = None
    rated_current: Annotated[Current, Between(0.01, 1000.0, "A")] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        for one, other in (("dip_voltage", "dip_current"), ("run_length", "run_area")):
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                text = f"{one} and {other} belong together: give both or none"
                raise refused(text)
        if self.dip_voltage is not None and self.source_given:
            text = "dip_voltage says the same as source_resistance and source_inductance: give one of the two"
            raise refused(text)
        if self.dip_voltage is not None and self.dip_voltage >= self.voltage:
            text = f"dip_voltage {self.dip_voltage:g} V must lie below voltage, {self.voltage:g} V"
            raise refused(text)
        return self

    @property
    def source_given(self) -> bool:
        """Whether the job gives the impedance itself."""
        return self.source_resistance is not None or self.source_inductance is not None

    @property
    def source_assumed(self) -> bool:
        """Whether nothing is known of it and the reference impedance is taken."""
        return not self.source_given and self.dip_voltage is None

    @property
    def breaker_rating(self) -> float | None:
        """Rated current of the breaker [A]."""
        found = _BREAKER.fullmatch(self.breaker) if self.breaker else None
        return float(found[3]) if found else None

    @property
    def breaker_type(self) -> str:
        """Letter or standard of the breaker or fuse; empty where the rating alone is given, or no breaker."""
        found = _BREAKER.fullmatch(self.breaker) if self.breaker else None
        return found[1] or found[2] or "" if found else ""
