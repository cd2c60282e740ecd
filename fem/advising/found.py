"""What to measure next, as it is told."""

from __future__ import annotations

from dataclasses import dataclass

from fem.quantity import of


@dataclass(frozen=True, kw_only=True, slots=True)
class Under:
    """What one meter will show if something is the case, its error within."""

    words: str = of("", "what is the case")
    value: float = of("", "median")
    low: float = of("", "5 % quantile")
    high: float = of("", "95 % quantile")


@dataclass(frozen=True, kw_only=True, slots=True)
class Foretold:
    """What one meter will show."""

    words: str = of("", "what is read")
    unit: str = of("", "SI unit of its values")
    under: tuple[Under, ...] = of("", "if all is as described, and if what may be the case is")


@dataclass(frozen=True, kw_only=True, slots=True)
class Narrowed:
    """What a measurement makes of something that matters."""

    words: str = of("", "what matters")
    before: float = of("-", "half width of its 90 % interval, as a share")
    left: float = of("-", "the same, as expected after the measurement")


@dataclass(frozen=True, kw_only=True, slots=True)
class Advice:
    """One measurement, and what speaks for and against it."""

    name: str = of("", "what to measure")
    how: str = of("", "how it is done safely")
    off: str = of("", "what a reading beyond means")
    danger: str = of("", "what it can do")
    minutes: float = of("-", "how long it takes [min]")
    wound: bool = of("", "whether the new secondary must be wound")
    tells: float = of("-", "expected information on causes and what matters [halvings of doubt]")
    of_causes: float = of("-", "what of it is on causes")
    worth: float = of("-", "what it tells, less what its danger and its time must be worth")
    narrows: tuple[Narrowed, ...] = of("", "what matters, before and after")
    readings: tuple[Foretold, ...] = of("", "what meters will show")


@dataclass(frozen=True, kw_only=True, slots=True)
class Next:
    """All measurements, the most worth first."""

    measurements: tuple[Advice, ...] = of("", "measurements")
    instruments: tuple[str, ...] = of("", "what there is to measure with")
    assumed: bool = of("", "whether nobody told these")
