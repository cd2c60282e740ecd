"""Whether fits to readings hold the truth of the benches.

    python -m tests.truth.judge_fit [COUNT | NAME ...]

fits so many benches, those without a cause before those with one, or the named ones; prints each as it is done, then
how many truths lie in the 90 % intervals, unknown by unknown, whether the turns that are told hold the true ones, and
how long a fit takes. Benches with a cause are told apart: what is wrong with them no doubt of the tool has.

Truths have errors of their own: ampere-turns within 1 to 2 %. What is undecided
shows how often prior and truth part: callipers and tapes of `tests.truth.shop` err more than the assumptions have it.
"""

import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np

from fem.design.transformer import Design
from fem.errors import NotConverged, OutOfRange
from fem.estimation.case import Case
from fem.fitting.fit import DECIDED, Fit, fit_of
from fem.readings.described import Readings
from fem.readings.reading import readings_of
from tests.truth.benches import Bench, benches
from tests.truth.sheet import Sheet, field_of

FITS = 40
PLAIN = 0.75
"""Of those, without a cause."""
ROUNDING = 1e-6
"""Of truths: they are kept with six digits."""
STEEL_AT = (40, 80, 120, 150, 170)
"""Flux densities at which a steel's curve is judged, where readings tell of it [cT]."""
Interval = tuple[float, float]


@dataclass(kw_only=True, slots=True)
class Judged:
    """What a fit of one bench says beside its truth."""

    bench: Bench
    seconds: float
    decided: dict[str, tuple[float, Interval]] = field(default_factory=dict)
    undecided: dict[str, tuple[float, Interval]] = field(default_factory=dict)
    outcomes: dict[str, tuple[float, Interval]] = field(default_factory=dict)
    turns: tuple[bool, bool, int] | None = None
    left_out: tuple[str, ...] = ()
    effective: float = 0.0
    failed: str = ""


def fitted(bench: Bench) -> Fit:
    """Return the fit of a bench."""
    design = Design.model_validate(bench.job, context={"job_file": True})
    described = Readings.model_validate(bench.readings, context={"job_file": True})
    return fit_of(design, readings_of(described), primary=not bench.counted)


def quantiles(values: Any) -> Interval:
    """Return the 5 % and 95 % quantiles."""
    low, high = np.nanquantile(values, (0.05, 0.95))
    return float(low), float(high)


def judged(bench: Bench) -> Judged:
    """Fit a bench and lay its truth beside what the fit says."""
    began = time.time()
    try:
        fit = fitted(bench)
    except (NotConverged, OutOfRange, ValueError) as error:
        return Judged(
            bench=bench, seconds=time.time() - began, failed=f"{type(error).__name__}: {error}".split("\n")[0]
        )
    found = Judged(bench=bench, seconds=time.time() - began, effective=fit.effective)
    found.left_out = tuple(reading.key for reading in fit.readings if reading.suspect)
    for into, findings in ((found.decided, fit.findings), (found.undecided, fit.undecided)):
        for one in findings:
            if one.key in bench.unknowns and not one.key.endswith(".turns"):
                into[one.key] = bench.unknowns[one.key], (one.low, one.high)
    draws = fit.draws
    found.decided["loss"] = bench.unknowns["loss"], quantiles(draws["loss.building"] * draws["loss.grade"])
    for point in fit.steel:
        if point.left < DECIDED and round(100 * point.flux_density) in STEEL_AT:
            found.decided[f"steel at {point.flux_density:.1f} T"] = (
                field_at(bench, point.flux_density),
                (point.low, point.high),
            )
    given = Case(design=fit.design, wanted=frozenset()).with_draws(draws).given
    assert given is not None
    found.decided["joints"] = bench.unknowns["joints"], quantiles(given.joints)
    for effect in fit.effects:
        if effect.key in bench.outcomes:
            found.outcomes[effect.key] = bench.outcomes[effect.key], (effect.low, effect.high)
    for count in fit.counts:
        if count.key == "windings.primary.turns":
            found.turns = turns_in(count.numbers, count.probabilities, bench)
    return found


def field_at(bench: Bench, flux_density: float) -> float:
    """Return the true field strength of a bench's sheet at a flux density [T], [A/m]."""
    sheet, true = Sheet.of(bench.job["core"]["steel"]), bench.true
    return float(true["field"] * field_of(sheet.stacked(1.0))(flux_density / true["steel"]))


def turns_in(numbers: Sequence[int], probabilities: Sequence[float], bench: Bench) -> tuple[bool, bool, int]:
    """Return whether all turns told, and the fewest that are likely nine times out of ten, hold the net true number."""
    true = bench.true["primary_turns"] - 2 * bench.true.get("opposing_turns", 0)
    enough = int(np.searchsorted(np.cumsum(probabilities), 0.9)) + 1
    return true in numbers, true in numbers[:enough], enough


def inside(pair: tuple[float, Interval]) -> bool:
    """Return whether a truth lies in its interval."""
    true, (low, high) = pair
    return low * (1 - ROUNDING) <= true <= high * (1 + ROUNDING)


def table(each: Sequence[Judged], title: str) -> str:
    """Return how many truths lie in their intervals, by unknown and pooled, and the same of turns."""
    rows: dict[str, list[tuple[bool, bool, bool, float]]] = defaultdict(list)
    for one in each:
        for group, pairs in (("", one.decided), ("undecided ", one.undecided), ("result ", one.outcomes)):
            for key, pair in pairs.items():
                true, (low, high) = pair
                row = inside(pair), true < low, true > high, (high - low) / abs(true) if true else 0.0
                rows[group + key].append(row)
                rows[f"~ pooled {group.strip() or 'decided'}"].append(row)
    lines = [title, f"{'unknown':48} {'n':>4} {'inside':>7} {'below':>6} {'above':>6} {'width':>6}"]
    for key, values in sorted(rows.items()):
        shares = [float(np.mean([v[k] for v in values])) for k in range(3)]
        wide = float(np.median([v[3] for v in values]))
        lines.append(f"{key:48} {len(values):4d} {shares[0]:7.0%} {shares[1]:6.0%} {shares[2]:6.0%} {wide:6.0%}")
    turns = [one.turns for one in each if one.turns is not None]
    if turns:
        shares = [float(np.mean([t[k] for t in turns])) for k in range(2)]
        middle = float(np.median([t[2] for t in turns]))
        lines.append(
            f"turns: {len(turns)} fits; {shares[0]:.0%} among those told, {shares[1]:.0%} in the likeliest 90 % "
            f"({middle:.0f} numbers)"
        )
    return "\n".join(lines)


def line(one: Judged) -> str:
    """Return one bench in a line."""
    out = [
        key for pairs in (one.decided, one.undecided, one.outcomes) for key, pair in pairs.items() if not inside(pair)
    ]
    words = one.failed or f"out: {', '.join(out) or 'none'}"
    words += f"; turns {one.turns}" if one.turns else ""
    words += f"; left out: {', '.join(one.left_out)}" if one.left_out else ""
    return (
        f"{one.bench.name} {one.bench.base} [{one.bench.cause}] {one.seconds:.0f} s, {one.effective:.0f} draws; {words}"
    )


def chosen(words: Sequence[str]) -> list[Bench]:
    """Return the benches that are asked for."""
    every = list(benches())
    if any(len(word) == 3 for word in words):
        return [b for b in every if b.name in words]
    count = int(words[0]) if words else FITS
    plain = [b for b in every if not b.cause][: round(PLAIN * count)]
    return plain + [b for b in every if b.cause][: count - len(plain)]


def main(words: Sequence[str]) -> None:
    """Fit benches and say how their truths lie."""
    say = partial(print, flush=True)
    found = []
    for bench in chosen(words):
        found.append(judged(bench))
        say(line(found[-1]))
    plain = [one for one in found if not one.bench.cause and not one.failed]
    say("\n" + table(plain, f"{len(plain)} benches without a cause"))
    for shared in (True, False):
        say("\n" + table([o for o in plain if o.bench.shared is shared], f"readings share a meter's error: {shared}"))
    for joint in ("butt", "interleaved"):
        say("\n" + table([o for o in plain if o.bench.job["core"]["joint"] == joint], f"{joint} joints"))
    odd = [one for one in found if one.bench.cause and not one.failed]
    say("\n" + table(odd, f"{len(odd)} benches with a cause"))
    failed = [one for one in found if one.failed]
    times = [one.seconds for one in found]
    say(f"\n{len(failed)} failed; {np.median(times):.1f} s a fit, {max(times):.1f} s at most")


if __name__ == "__main__":
    main(sys.argv[1:])
