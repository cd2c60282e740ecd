"""What a 3-D end region may cost: its unknowns are bounded, however the core and its coils are."""

from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest

from fem.characteristics.leakage import whole as end_region
from fem.characteristics.magnetising import ends as end_region_exciting
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.lines import Edge, Wanted
from geometries.cores.kinds import AnyCore
from geometries.cores.shell import ShellCore
from geometries.cores.two_leg import TwoLegCore
from geometries.windings.arrangement import Windings, place
from tests.support.ends import linear_end

MOST = 65_000
"""Unknowns whose factor takes some 0.6 GB."""


def sizes(monkeypatch: pytest.MonkeyPatch, core: AnyCore, windings: Windings) -> tuple[int, int]:
    """Return how many unknowns leakage and the energised primary would take; nothing is solved."""
    seen: list[int] = []

    def leakage(grid: TensorGrid, *_: object) -> SimpleNamespace:
        seen.append(grid.nodes)
        return SimpleNamespace(fluxes=np.array([1.0, 0.0]), space=SimpleNamespace(size=grid.nodes))

    class Seen(Exception):
        pass

    def exciting(grid: TensorGrid, *_: object) -> object:
        seen.append(grid.nodes)
        raise Seen

    monkeypatch.setattr(end_region, "linear_field", leakage)
    monkeypatch.setattr(end_region_exciting, "saturating", exciting)
    blocks = place(core, windings)
    end_region.solve_end_region(core.frame.closed, blocks)
    first = max(seen)
    seen.clear()
    with pytest.raises(Seen):
        linear_end(core, blocks, 4000.0)
    return first, max(seen)


def drawn(rng: np.random.Generator, sections: int) -> tuple[AnyCore, Windings]:
    """Return a core of any proportions within the job file's ranges, its windings interleaved or side by side."""
    leg, width, height, depth = np.exp(rng.uniform(np.log([0.01, 0.01, 0.05, 0.01]), np.log([0.4, 0.4, 0.5, 0.5])))
    given = {
        "leg_width": leg,
        "yoke_height": max(leg / 3, 3e-3),
        "window_width": width,
        "window_height": height,
        "stack_depth": depth,
        "joint": str(rng.choice(["butt", "interleaved"])),
        "joint_gap": 1e-5,
        "leg_gap": float(rng.uniform(1e-5, 1e-3)) if rng.random() < 0.5 else None,
        "second": {"spacing": width, "primaries": "series"} if rng.random() < 0.3 else None,
        "steel": "M530-50A",
    }
    core: AnyCore
    if rng.random() < 0.5:
        core = TwoLegCore.model_validate(given)
    else:
        core = ShellCore.model_validate({**given, "outer_leg_width": max(leg / 2.2, 3e-3)})
    spacing = height / 200
    coil = {"conductor": {"round": 1e-3}, "height": 0.45 * (height - 2 * sections * spacing)}
    arrangement = {"arrangement": "interleaved", "sections": sections} if sections else {"arrangement": "side-by-side"}
    return core, Windings.model_validate(
        {
            **arrangement,
            "spacing": spacing,
            "leg_clearance": 0.02 * width,
            "yoke_clearance": 0.01 * height,
            "primary": {"turns": 20 * max(sections, 1), "build": 0.8 * width, **coil},
            "secondary": {"turns": 2 * max(sections, 1), "build": 0.6 * width, **coil},
        }
    )


@pytest.mark.parametrize(("sections", "seed"), [*product((0, 1, 4, 20), range(3))])
def test_the_unknowns_are_bounded(monkeypatch: pytest.MonkeyPatch, sections: int, seed: int) -> None:
    core, windings = drawn(np.random.default_rng([sections, seed]), sections)
    assert max(sizes(monkeypatch, core, windings)) < MOST


@pytest.mark.parametrize("length", [1.0, 1e3])
def test_lines_grow_with_the_logarithm_of_a_length(length: float) -> None:
    """Cells may grow by (1 + GROWTH) from one to the next, so that many are enough from either end to the middle."""
    ends = (0.0, length)
    lines = Wanted(fixed=ends, turns=(), edges=[Edge(at, 0.01) for at in ends], near=ends, width=0.1).lines(1.0)
    steps = np.diff(lines)
    assert steps.min() > 0.005
    assert lines.size < 2 * np.log(80 * length) / np.log(1.8) * 1.8
    assert lines[0] == 0.0
    assert lines[-1] == pytest.approx(length)
