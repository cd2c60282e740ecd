"""What holds for every estimate: finite numbers, bands round their results, reasons for what is missing."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from math import inf, isfinite
from typing import Any

from fem.trust.caution import LINE, first_sentence

Found = Mapping[str, Any]

ROUNDING = 1e-9
LEAST = 1e-12
"""Below what any result means something: sums of lengths that cancel end near 1e-17 m."""
SHARES = re.compile(r".*\b(efficiency|fill_factor|joint_share|stored_share|dip|share|allowed_share)")
"""The coupling is none: flux in the other winding per flux in the primary, above 1 where that one sits better."""
POSITIVE = re.compile(
    r"(build\..*_(kg|m|m2|K)|build\..*resistance_ohm|build\..*ac_ratio|saturation\.(volts|peak|knee|fewest).*"
    r"|idle\..*_(A|W|VA)|open_circuit\..*|short_circuit\..*_(A|VA|W)|leakage\.(permeance|window|end|recipe|coupl).*"
    r"|switch_on\..*|load\..*_(W|VA)|heating\..*_K|work_piece\..*_(K|ohm)|meters\..*|supply\.re.*)(\..*)?"
)
"""Never below 0."""

DANGERS = ("kills", "burns", "damages", "disturbs")
LONGEST_CAUTION = 240
"""Signs of a caution with its source: three lines of 80."""


def walk(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every single value with its dotted key."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from walk(inner, f"{key}.{name}" if key else str(name))
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            yield from walk(inner, f"{key}.{number}")
    else:
        yield key, value


def results(found: Found) -> dict[str, Any]:
    """Return an estimate's results by dotted key, without what is said about them."""
    said = ("title", "bands", "reasons", "gaps", "cautions", "provenance")
    return dict(walk({name: section for name, section in found.items() if name not in said}))


def always(found: Found) -> list[str]:
    """Return what does not hold, one line each.

    Parameters
    ----------
    found
        `Estimate.to_dict`.
    """
    return [*_finite(found), *_reasons(found), *_bands(found), *_signs(found), *_cautions(found)]


def _finite(found: Found) -> Iterator[str]:
    for key, value in walk(found):
        if isinstance(value, float) and not isfinite(value):
            yield f"{key} is {value}"


def _reasons(found: Found) -> Iterator[str]:
    reasons: Mapping[str, str] = found["reasons"]
    for key, value in results(found).items():
        above = {key.rsplit(".", cut)[0] for cut in range(key.count(".") + 1)}
        if value is None and not above & set(reasons):
            yield f"{key} is null without a reason"
    for key, reason in reasons.items():
        value: Any = found
        for name in key.split("."):
            value = value.get(name) if isinstance(value, Mapping) else None
        if value is not None:
            yield f'{key} is there, yet there is a reason why not: "{reason}"'
        if not reason.strip():
            yield f"{key}: the reason is empty"
    yield from (f"{key} is a gap without a reason" for key in found["gaps"] if key not in reasons)


def _bands(found: Found) -> Iterator[str]:
    values = results(found)
    for key, band in found["bands"].items():
        value = values.get(key)
        # an end that is null is open
        low, high = (bare if end is None else end for end, bare in ((band["low"], -inf), (band["high"], inf)))
        if value is None:
            yield f"{key} has a band and no value"
        elif not low <= value <= high:
            yield f"{key} = {value:.6g} is outside its band {low:.6g} to {high:.6g}"
        elif "one-sided" in band["why"] and "first_peak" not in key:
            yield f"{key} = {value:.6g} is told on the safe side: the band that was drawn does not hold it"


def _cautions(found: Found) -> Iterator[str]:
    values, said = results(found), found["cautions"]
    ranks = [(caution["general"], DANGERS.index(caution["danger"])) for caution in said]
    if ranks != sorted(ranks):
        yield f"cautions are not in order of danger: {ranks}"
    told: dict[str, float] = {}
    for caution in said:
        if not caution["source"]:
            yield f'no source of "{caution["text"]}"'
        if len(short := first_sentence(caution["text"])) > LINE or short[-1:] not in (".", "?"):
            yield f'a caution whose first sentence is no line: "{short}"'
        if len(caution["text"]) + len(caution["source"]) > LONGEST_CAUTION:
            yield f'a caution of more than three lines: "{caution["text"]}"'
        for key, value in caution["numbers"].items():
            if told.setdefault(key, value) != value:
                yield f"cautions tell {key} as {told[key]:.6g} and as {value:.6g}"
            # with no heat escaping only where the heat model tells nothing
            bound = values.get(key) is None and key.startswith("heating.") and key.endswith(".longest_s")
            if not bound and values.get(key) != value:
                yield f"a caution tells {key} as {value:.6g}, the estimate as {values.get(key)}"


def _signs(found: Found) -> Iterator[str]:
    for key, value in results(found).items():
        if not isinstance(value, float | int) or isinstance(value, bool):
            continue
        if POSITIVE.fullmatch(key) and value < -LEAST:
            yield f"{key} = {value:.6g} is below 0"
        name = re.sub(r"\.\d+$", "", key)
        if SHARES.fullmatch(name) and not -ROUNDING <= value <= 1 + ROUNDING:
            yield f"{key} = {value:.6g} is no share"
