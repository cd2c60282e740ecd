"""Draws of all doubts that are no low-discrepancy points: what bands made of few of those are held to."""

from functools import cached_property
from typing import Any

import numpy as np

from fem.trust.doubts import Doubt, neutral
from fem.trust.draws import Draws


class RandomDraws(Draws):
    """Independent draws of each doubt by its own quantiles."""

    def __init__(self, doubts: tuple[Doubt, ...], n: int, seed: int) -> None:
        super().__init__(doubts, n)
        object.__setattr__(self, "seed", seed)

    def __getitem__(self, name: str) -> Any:
        return self._drawn[name] if name in self._drawn else np.full(self.n, neutral()[name])

    @cached_property
    def _drawn(self) -> dict[str, Any]:
        rng = np.random.default_rng(self.seed)
        return {doubt.name: doubt.quantile(rng.random(self.n)) for doubt in self.doubts}
