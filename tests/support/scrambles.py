"""Chooses the axes and scrambles of `fem/trust/sobol.csv`; `python -m tests.support.scrambles` writes the table.

Over few points many axes of a Sobol' sequence run side by side: over 32 there are but 16 ways to begin. Of those of S.
Joe and F. Y. Kuo, as scipy holds them, axes are taken one after the other, the least correlated with those before it.
"""

from importlib.resources import files
from itertools import product
from pathlib import Path

import numpy as np

from fem.trust import sobol
from fem.trust.sobol import scramble

AXES, FROM, DIMENSIONS_TRIED, SCRAMBLES_TRIED = 128, 1000, 40, 12
PREFIXES = {16: 0.5, 32: 1.0, 64: 1.0, 256: 1.0}
"""How many first points, and what a correlation over them counts."""
TABLE = Path(sobol.__file__).with_name("sobol.csv")


def rows() -> list[tuple[int, str]]:
    """Return polynomials and initial numbers of the first axes but one."""
    with np.load(str(files("scipy.stats") / "_sobol_direction_numbers.npz")) as held:
        return [
            (int(p), " ".join(str(int(m)) for m in first if m))
            for p, first in zip(held["poly"][:FROM], held["vinit"][:FROM], strict=True)
        ]


def normed(points: np.ndarray) -> dict[int, np.ndarray]:
    scores = {n: points[:n] - points[:n].mean() for n in PREFIXES}
    return {n: column / np.sqrt(column @ column) for n, column in scores.items()}


def chosen() -> list[tuple[int, str, int]]:
    """Return polynomial, initial numbers and seed of each axis, each the best after those before it."""
    rng, held = np.random.default_rng(12), rows()
    points = np.zeros((1, FROM), dtype=np.int64)
    steps = np.stack([sobol.directions(p, tuple(map(int, m.split()))) for p, m in held])
    for step in steps.T[:8]:
        points = np.concatenate([points, points ^ step])
    left, before, taken = list(range(1, FROM)), {n: [] for n in PREFIXES}, []
    for _ in range(AXES):
        tried = rng.choice(left, DIMENSIONS_TRIED, replace=False)
        weight = 1 / (1 + np.arange(len(taken)) / 8)
        best = None
        for axis, seed in product(tried, range(SCRAMBLES_TRIED)):
            scores = normed(scramble(points[:, axis], seed) + 0.5)
            bad = sum(
                w * weight @ ((np.array(before[n]) @ scores[n]) ** 2 * n) ** 2 for n, w in PREFIXES.items() if before[n]
            )
            if best is None or bad < best[0]:
                best = (bad, int(axis), seed, scores)
        _, axis, seed, scores = best
        left.remove(axis)
        taken.append((*held[axis], seed))
        for n, column in scores.items():
            before[n].append(column)
    return taken


if __name__ == "__main__":
    comments = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line.startswith("#")]
    table = [f"{p},{m},{seed}" for p, m, seed in chosen()]
    TABLE.write_text("\n".join([*comments, "polynomial,initial,scramble", *table]) + "\n", encoding="utf-8")
