"""Whether the causes that fits rank are those that the benches have, and how far their probabilities are to be trusted.

    python -m tests.truth.judge_causes [COUNT | NAME ...]

ranks the causes of so many benches, with and without one in turn, or of the named ones, and prints each with its
three likeliest; then in how many the true one is among the first two, cause by cause, and how often what is told with a
probability is so, in bins. The benches' own shares of causes, a half without one and a twentieth with each, happen to
be near the priors: what is reliable here need not be so in a shop where other causes are common.
"""

import sys
import time
from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from fem.errors import NotConverged, OutOfRange
from fem.fitting.found import Fit
from tests.truth.benches import Bench, benches
from tests.truth.judge_fit import fitted

ALIKE = {
    "wrong turns": ("wrong count",),
    "large gap": ("gap", "sheets"),
    "poor steel": ("poor steel",),
    "shorted turn": ("shorted turn",),
    "opposing turns": ("opposing turns",),
    "bad joint": ("bad joint",),
    "wide lead loop": ("wide loop",),
    "weak mains": ("weak mains",),
    "wrong clamp": ("clamp", "meter"),
    "half wave": ("half wave",),
    "": ("nothing",),
}
"""Keys of `causes.csv` that a bench's cause answers to."""
BINS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)


def likely(fit: Fit) -> dict[str, float]:
    """Return probabilities by key, the likeliest first; a reading that is wrong counts once, whichever it is."""
    found: dict[str, float] = defaultdict(float)
    for cause in fit.causes:
        found[cause.key] += cause.probability
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def truth(bench: Bench) -> tuple[str, ...]:
    """Return what a bench's cause answers to: turns that nobody counted cannot be counted wrongly."""
    return ALIKE["" if bench.cause == "wrong turns" and not bench.counted else bench.cause]


def main(words: Sequence[str]) -> None:
    """Rank causes of benches and say how their truths lie."""
    every = list(benches())
    named = [b for b in every if b.name in words]
    first, pairs, seconds = defaultdict(list), [], []
    for bench in named or every[: int(words[0]) if words else 60]:
        began = time.process_time()
        try:
            found = likely(fitted(bench))
        except (NotConverged, OutOfRange, ValueError) as error:
            print(bench.name, bench.cause, f"failed: {error}".split("\n")[0], flush=True)  # noqa: T201
            first[bench.cause].append(False)
            continue
        seconds.append(time.process_time() - began)
        true = truth(bench)
        order = list(found)
        first[bench.cause].append(any(key in true for key in order[:2]))
        pairs += [(share, key in true) for key, share in found.items()]
        told = ", ".join(f"{key} {found[key]:.0%}" for key in order[:3])
        print(bench.name, f"[{bench.cause}]", told, "" if first[bench.cause][-1] else "MISSED", flush=True)  # noqa: T201
    for cause, hits in sorted(first.items()):
        print(f"{cause or 'nothing':16} {np.mean(hits):5.0%} of {len(hits)} among the first two")  # noqa: T201
    shares, so = (np.array(each, dtype=float) for each in zip(*pairs, strict=True))
    for low, high in pairwise(BINS):
        inside = (shares >= low) & (shares < high if high < 1 else shares <= 1)
        if inside.any():
            print(f"told {shares[inside].mean():5.1%}, so {so[inside].mean():5.1%} of {inside.sum()}")  # noqa: T201
    print(f"{np.median(seconds):.1f} s of processor time a fit")  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1:])
