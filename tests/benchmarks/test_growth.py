"""How time and memory grow: planar unknowns, bricks, conductors in the slice, designs; a chart with fitted exponents.

Processor seconds, so that what else the machine does counts little; exponents over the last decade (sizes down to a
twelfth of the largest), where what Python adds to each call has died away. The chart is `growth.png` beside the file
that REWOUND_BENCH names.
"""

import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from fem.characteristics.leakage.whole import THINNEST_GAP
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import ac_slice
from fem.design.tables import read_tables
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.solve import linear_field
from fem.field.static import topology
from fem.field.static.model import build_model, solve_model
from fem.field.static.quantities import both
from fem.sweeps.axes import Axis, points
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.store import Status
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.blocks import single_blocks
from geometries.windings.arrangement import Arrangement, Windings, place
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding
from tests.benchmarks.side_by_side import tell
from tests.support.every_kind import design_of
from tests.support.finer import IRON, filled, meshed, refined
from tests.support.growing import Cost, Prepared, costs, exponent
from tests.support.needed import needed
from tests.support.sections import SIDE_BY_SIDE, shell

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]
MM = 1e-3
STATE = {"primary": 3e3}
"""About 1.9 T in the centre leg."""
EXAMPLE = str(files("fem.examples") / "bandsaw_brazing.toml")


def planar_mesh(fineness: float) -> SectionMesh:
    return meshed(shell(SIDE_BY_SIDE, gap=0.1 * MM), fineness)


def planar(fineness: float) -> Prepared:
    """One field of a whole shell core, all but meshing: numbering, symbolic factors, Newton on both meshes."""
    mesh = planar_mesh(fineness)

    def run() -> float:
        topology.KEPT.clear()
        return both(solve_model(build_model(mesh, filled), STATE), "primary")[1]

    return build_model(mesh, filled).unknowns, run


def planar_elsewhere(fineness: float) -> Prepared:
    """The same on the same fine triangles by the general library, tuned."""
    needed("ngsolve")
    from tests.support.ngsolve_tuned import Tuned
    from tests.support.ngsolve_twin import on_arrays

    mesh = planar_mesh(fineness)
    theirs = on_arrays(refined(mesh))

    def run() -> float:
        tuned = Tuned(theirs, mesh.section, IRON)
        tuned.solve(STATE)
        return tuned.linkage_per_m("primary")

    return Tuned(theirs, mesh.section, IRON).unknowns, run


def bricks(resolution: float) -> Prepared:
    """The leakage of a shell core's windings in three dimensions: grid lines, stiffness, factor, solution."""
    design = design_of("shell")
    frame, blocks = design.core.frame.closed, single_blocks(place(design.core, design.windings))

    def grid():  # type: ignore[no-untyped-def]
        thinnest = THINNEST_GAP * frame.window_width
        return end_region_grid(frame, blocks, (), mu_r=4000.0, resolution=resolution, thinnest=thinnest)

    def run() -> float:
        found = linear_field(grid(), frame, blocks, (1.0, -1.0))
        return float(found.ampere_turns @ found.fluxes)

    return grid().nodes, run


def conductors(count: float) -> Prepared:
    """The slice of a winding of so many turns, solid, at 400 Hz, beside one that stays a block; meshing included."""
    design = design_of("shell")
    windings = Windings(
        arrangement=Arrangement.SIDE_BY_SIDE,
        spacing="2 mm",
        leg_clearance="1.5 mm",
        yoke_clearance="1 mm",
        primary=Winding(turns=200, conductor=Conductor(round="1 mm")),
        secondary=Winding(turns=int(count), conductor=Conductor(strip="3 mm x 2 mm")),
    )
    pair = windings.primary, windings.secondary
    state = AcState(design.core, pair, place(design.core, windings), frequency=400.0, temperature=293.15)
    return int(count), lambda: ac_slice(state).resistance_ratios["secondary"]


def designs(count: float) -> Prepared:
    """Designs of a sweep whose field is kept, from the points to rows, which are let go as they come."""
    job = read_tables(EXAMPLE)

    def run(count: int = round(count)) -> int:
        side = min(count, 100)
        axes = (
            Axis(key="leads.length", values=tuple(np.linspace(0.8, 1.7, count // side).tolist())),
            Axis(key="load.resistance", values=tuple(np.linspace(1e-3, 1e-2, side).tolist())),
        )
        return sum(row.status is Status.DONE for rows in sweep(varied(job, points(axes))) for row in rows)

    run(1)
    return round(count), run


@dataclass(frozen=True, kw_only=True, slots=True)
class Series:
    """What grows, over which sizes, and what bounds the exponents of time and memory, with the reason.

    Elimination of a planar mesh in nested dissection takes n^1.5 operations and n log n memory, of a spatial one n^2
    and n^(4/3) (A. George, SIAM J. Numer. Anal. 10 (1973) 345, and the same argument in space, from memory).
    n log n has the slope 1 + 1 / ln n = 1.1 here.
    """

    panel: str
    unit: str
    prepare: Callable[[float], Prepared]
    sizes: tuple[float, ...]
    time_below: float
    memory_below: float
    label: str = "rewound"


FINENESS = (0.12, 0.5, 1.0, 1.8, 3.1, 5.4)
"""2 000 to 200 000 unknowns."""
SERIES = {
    "planar": Series(
        panel="planar field", unit="unknowns", prepare=planar, sizes=FINENESS, time_below=1.5, memory_below=1.25
    ),
    "planar, NGSolve": Series(
        panel="planar field",
        unit="unknowns",
        prepare=planar_elsewhere,
        sizes=FINENESS,
        time_below=1.5,
        memory_below=1.25,
        label="NGSolve",
    ),
    "bricks": Series(
        panel="bricks, linear",
        unit="unknowns",
        prepare=bricks,
        sizes=(0.4, 0.7, 1.0, 1.4, 1.8, 2.2),
        time_below=2.0,
        memory_below=4 / 3 + 0.1,
    ),
    # Unknowns go with conductors at most, and each is a right side more.
    "conductors": Series(
        panel="a.c. slice",
        unit="conductors",
        prepare=conductors,
        sizes=(2, 4, 8, 15, 30, 60),
        time_below=2.0,
        memory_below=1.25,
    ),
    "designs": Series(
        panel="designs, field kept",
        unit="designs",
        prepare=designs,
        sizes=(1, 10, 100, 1000, 10_000, 100_000),
        time_below=1.1,
        memory_below=1.1,
    ),
}


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Cost]]:
    """Return what each series costs; draw the chart."""
    found = {name: costs(series.prepare, series.sizes) for name, series in SERIES.items()}
    bench = os.environ.get("REWOUND_BENCH")
    chart = (tmp_path_factory.mktemp("growth") if bench is None else Path(bench).parent) / "growth.png"
    draw(found, chart)
    tell(f"chart: {chart}")
    return found


def draw(found: dict[str, list[Cost]], chart: Path) -> None:
    """Draw a panel for each thing that grows: time full, memory broken, each with its exponent."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    figure = Figure(figsize=(11, 8.5), layout="constrained")
    panels = dict(zip(dict.fromkeys(s.panel for s in SERIES.values()), figure.subplots(2, 2).flat, strict=True))
    for panel, left in panels.items():
        right = left.twinx()
        for k, (name, series) in enumerate((n, s) for n, s in SERIES.items() if s.panel == panel):
            size = [cost.size for cost in found[name]]
            for axes, what, line, said in ((left, "seconds", "o-", "time"), (right, "megabytes", "s--", "memory")):
                p = exponent(found[name], what)
                axes.loglog(
                    size,
                    [getattr(cost, what) for cost in found[name]],
                    line,
                    color=f"C{k}" if axes is left else f"C{k + 2}",
                    label=f"{series.label}, {said}: {series.unit}^{p:.2f}",
                )
        left.set(title=panel, xlabel=f"{series.unit} [-]", ylabel="processor time [s]")
        right.set_ylabel("peak memory besides what was there [MB]")
        for axis in (left.xaxis, left.yaxis, right.yaxis):
            low, high = axis.get_view_interval()
            axis.set_major_locator(LogLocator(subs=(1.0,) if high / low > 300 else (1.0, 2.0, 5.0)))
            axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
            axis.set_minor_formatter(NullFormatter())
        handles = [*left.get_lines(), *right.get_lines()]
        left.legend(handles=handles, loc="upper left", fontsize="small")
        left.grid(visible=True, alpha=0.3)
    figure.suptitle("Growth; exponents fitted over the last decade")
    figure.savefig(chart, dpi=110)


@pytest.mark.parametrize("name", SERIES)
def test_growth(grown: dict[str, list[Cost]], name: str) -> None:
    """Neither time nor memory grows faster than the bounds that `Series` argues."""
    series, found = SERIES[name], grown[name]
    time, memory = exponent(found, "seconds"), exponent(found, "megabytes")
    anchors = "; ".join(f"{cost.size} in {cost.seconds:.3g} s, {cost.megabytes:.3g} MB" for cost in found)
    tell(f"growth, {name}: time {time:.2f}, memory {memory:.2f} of {series.unit} ({anchors})")
    assert time < series.time_below
    assert memory < series.memory_below


def test_both_libraries_find_the_same_flux(grown: dict[str, list[Cost]]) -> None:
    for ours, theirs in zip(grown["planar"], grown["planar, NGSolve"], strict=True):
        assert ours.size == theirs.size
        assert ours.result == pytest.approx(theirs.result, rel=1e-6)
