"""What a fit to readings finds, as it is told."""

from __future__ import annotations

from dataclasses import dataclass, field

from fem.design.transformer import Design
from fem.fitting.causes.ranked import Ranked
from fem.fitting.measured import Measured
from fem.fitting.steel import SteelPoint
from fem.quantity import of
from fem.trust.scored import Scored


@dataclass(frozen=True, kw_only=True, slots=True)
class Finding:
    """One unknown, as readings leave it: medians, and between which values it lies nine times out of ten."""

    key: str = of("", "name")
    words: str = of("", "what it is")
    unit: str = of("", "SI unit of its values")
    value: float = of("", "most likely, half above and half below")
    low: float = of("", "5 % quantile")
    high: float = of("", "95 % quantile")
    spread: float = of("", "standard deviation")
    before: float = of("", "before the readings")
    before_low: float = of("", "5 % quantile before")
    before_high: float = of("", "95 % quantile before")
    off: float = of("-", "how far it moved, in standard deviations of what was in doubt")
    left: float = of("-", "what is left of the spread that was in doubt")
    decides: tuple[tuple[str, float], ...] = of(
        "", "readings by which it is known, and what of its variance each takes"
    )
    measure: str = of("", "what narrows it")


@dataclass(frozen=True, kw_only=True, slots=True)
class Count:
    """A number of turns: all that are likely, each with its probability."""

    key: str = of("", "key of the job file")
    told: int = of("-", "what the job says")
    best: int = of("-", "the likeliest where it is likelier than all others, else the median")
    numbers: tuple[int, ...] = of("-", "turns, the likeliest first")
    probabilities: tuple[float, ...] = of("-", "of each")


@dataclass(frozen=True, kw_only=True, slots=True)
class Shown:
    """One reading, and what the machine as fitted would show."""

    key: str = of("", "reading")
    words: str = of("", "what was read")
    unit: str = of("", "SI unit of its values")
    measured: float = of("", "as read")
    uncertainty: float = of("", "standard uncertainty, of what it was taken at too")
    as_described: float = of("", "what the job foretells, nothing fitted")
    predicted: float = of("", "of the machine as fitted")
    low: float = of("", "5 % quantile")
    high: float = of("", "95 % quantile")
    residual: float = of("-", "measured less predicted, in standard uncertainties")
    surprise: float = of("-", "measured less what all others foretell, in standard deviations")
    suspect: bool = of("", "whether it was left out")


@dataclass(frozen=True, kw_only=True, slots=True)
class Effect:
    """A result of the estimate, before and after."""

    key: str = of("", "key of the estimate")
    words: str = of("", "what it is")
    unit: str = of("", "SI unit of its values")
    before: float = of("", "median before the readings")
    before_low: float = of("", "5 % quantile before")
    before_high: float = of("", "95 % quantile before")
    value: float = of("", "median")
    low: float = of("", "5 % quantile")
    high: float = of("", "95 % quantile")


@dataclass(frozen=True, kw_only=True, slots=True)
class Likely:
    """What may be wrong, or that nothing is, with how likely that is by all readings together."""

    key: str = of("", "name")
    words: str = of("", "what it is")
    probability: float = of("-", "of all that are ranked together")
    before: float = of("-", "how common it is before any reading")
    bench: str = of("", "what it means at the bench")
    mend: str = of("", "what to do, and what that costs")
    left: float = of("-", "largest surprise of a reading that it leaves, in standard deviations")


@dataclass(frozen=True, kw_only=True, slots=True)
class Fit:
    """What readings say of a machine.

    `draws` are all that is in doubt of the design, as the readings leave it: for `Case(known=...)`.
    """

    title: str = of("", "the design's title")
    findings: tuple[Finding, ...] = of("", "unknowns that readings tell of, the best known first")
    undecided: tuple[Finding, ...] = of("", "unknowns that move readings, and yet none decides")
    counts: tuple[Count, ...] = of("", "turns")
    steel: tuple[SteelPoint, ...] = of("", "the steel's curve, of no-load readings at several volts")
    readings: tuple[Shown, ...] = of("", "measured against predicted")
    or_else: tuple[tuple[str, str], ...] = of("", "readings that may be wrong in place of a suspect one")
    minima: int = of("-", "answers that lie apart")
    effects: tuple[Effect, ...] = of("", "what it means")
    joints: tuple[float, float] = of("ohm", "all joints between winding and work: median, standard deviation")
    log_evidence: float = of("-", "logarithm of the readings' density under the model")
    effective: float = of("-", "independent draws that the samples are worth")
    miscounted: float | None = of("-", "turns that readings tell of about, where they contradict those counted")
    causes: tuple[Likely, ...] = of("", "what may be wrong, the likeliest first")
    ranked: tuple[Ranked, ...] = field(metadata={"unit": "", "label": "causes, each with its maxima"}, repr=False)
    measured: Measured = field(metadata={"unit": "", "label": "the readings as numbers, none left out"}, repr=False)
    draws: Scored = field(metadata={"unit": "", "label": "draws"}, repr=False)
    design: Design = field(metadata={"unit": "", "label": "design"}, repr=False)
