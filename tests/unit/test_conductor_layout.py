"""Single conductors in their cells, discs in sections and their meshes."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from geometries.assembly.conductors import conductor_layout, conductor_section, round_pair_section
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.cores.shell import ShellCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Region, Role, Section, Shape
from geometries.windings.arrangement import Arrangement, Windings, place
from geometries.windings.conductors import Conductor
from geometries.windings.lays import MOST_PLACED
from geometries.windings.turns import Winding

CORE = ShellCore(lamination="EI 120", stack_depth=0.05, joint="welded", steel="M530-50A")


def windings(secondary: Winding) -> tuple[Windings, tuple[Block, Block]]:
    both = Windings(
        arrangement=Arrangement.SIDE_BY_SIDE,
        spacing="2 mm",
        leg_clearance="1.5 mm",
        yoke_clearance="1 mm",
        primary=Winding(turns=150, conductor=Conductor(round="1 mm")),
        secondary=secondary,
    )
    return both, place(CORE, both)


def disc(name: str, x: float, y: float, radius: float, sense: int = 1) -> Region:
    return Region(
        name=name, role=Role.CONDUCTOR, winding="w", sense=sense, shape=Shape.DISC,
        x0=x - radius, x1=x + radius, y0=y - radius, y1=y + radius,
    )  # fmt: skip


@pytest.mark.parametrize(
    "secondary",
    [
        Winding(turns=7, conductor=Conductor(round="4 mm")),
        Winding(turns=3, conductor=Conductor(strip="6 mm x 3 mm"), wires_in_hand=4),
        Winding(turns=2, conductor=Conductor(cable="25 mm2")),
        Winding(turns=11, conductor=Conductor(round="3 mm"), height="24 mm", build="15 mm"),
    ],
)
def test_conductors_lie_in_their_block_and_apart(secondary: Winding) -> None:
    _, (_, block) = windings(secondary)
    placed = conductor_layout(CORE, secondary, block)
    assert len({c.name for c in placed}) == len(placed) == secondary.turns * secondary.wires_in_hand
    assert {(c.turn, c.wire) for c in placed} == {
        (t, w) for t in range(secondary.turns) for w in range(secondary.wires_in_hand)
    }
    left = CORE.leg_width / 2 + block.leg_clearance
    for k, c in enumerate(placed):
        assert left - 1e-12 <= c.x - c.width / 2
        assert c.x + c.width / 2 <= left + block.build + 1e-12
        assert block.bottom - 1e-12 <= c.y - c.height / 2
        assert c.y + c.height / 2 <= block.top + 1e-12
        for other in placed[:k]:
            apart = max(abs(c.x - other.x) - c.width, abs(c.y - other.y) - c.height)
            assert apart > -1e-12
    # Equal cells: the conductors' centroid is the block's when the last layer is spread over its whole height.
    assert np.mean([c.y for c in placed]) == pytest.approx(block.bottom + block.height / 2, rel=1e-12)


def test_order_goes_up_and_down() -> None:
    secondary = Winding(turns=3, conductor=Conductor(strip="6 mm x 3 mm"), wires_in_hand=2, height="19 mm")
    _, (_, block) = windings(secondary)
    placed = conductor_layout(CORE, secondary, block)
    first, second = placed[:3], placed[3:]
    assert len({round(c.x, 9) for c in first}) == len({round(c.x, 9) for c in second}) == 1
    assert first[0].x < second[0].x
    assert first[0].y < first[1].y < first[2].y
    assert second[0].y > second[1].y > second[2].y
    assert [(c.turn, c.wire) for c in placed] == [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)]


def test_section_has_both_windows_and_its_mirror() -> None:
    secondary = Winding(turns=5, conductor=Conductor(round="4 mm"))
    _, blocks = windings(secondary)
    section = conductor_section(CORE, blocks, {"secondary": conductor_layout(CORE, secondary, blocks[1])})
    assert section.mirror_symmetric
    mine = [r for r in section.regions if r.winding == "secondary"]
    assert len(mine) == 10
    assert sum(r.sense for r in mine) == 0
    assert sum(r.area for r in mine) == pytest.approx(2 * secondary.copper_area, rel=1e-12)
    assert {r.name for r in section.regions if r.winding == "primary"} == {"primary right", "primary left"}
    half = section.half()
    assert [r.name for r in half.regions if r.winding == "secondary"] == [
        f"secondary turn {k} wire 1 right" for k in range(1, 6)
    ]
    with pytest.raises(ValueError, match="no block for"):
        conductor_section(CORE, blocks, {"tertiary": ()})


def test_too_many_or_too_large_is_refused() -> None:
    many = Winding(turns=MOST_PLACED + 1, conductor=Conductor(round="1 mm"))
    _, blocks = windings(many)
    with pytest.raises(ValueError, match="61 conductors in a window; at most 60"):
        conductor_layout(CORE, many, blocks[1])
    few = Winding(turns=4, conductor=Conductor(strip="6 mm x 3 mm"))
    _, blocks = windings(few)
    with pytest.raises(ValueError, match="4 conductors of 3 mm across do not go into a build of 1 mm"):
        conductor_layout(CORE, few, replace(blocks[1], build=1e-3, places=()))


def test_leads_that_touch_are_refused() -> None:
    with pytest.raises(ValueError, match="would touch"):
        round_pair_section(5e-3, 10e-3)


def pair() -> Section:
    return Section(
        regions=(disc("go", 12e-3, 0, 5e-3), disc("back", -12e-3, 0, 5e-3, sense=-1)), outline=(-0.1, -0.1, 0.1, 0.1)
    )


def area(mesh: SectionMesh, region: int) -> float:
    p = mesh.points[:, mesh.triangles[:, mesh.region == region]]
    u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    return float(0.5 * np.abs(u[0] * v[1] - u[1] * v[0]).sum())


@pytest.mark.parametrize(("sizes", "sides"), [({}, 24), ({"go": 0.5e-3}, 64)])
def test_disc_is_meshed_with_its_own_area(sizes: dict[str, float], sides: int) -> None:
    mesh = mesh_section(pair().half(), sizes=sizes)
    assert area(mesh, 0) == pytest.approx(pi * 25e-6, rel=1e-9)
    # Corners of the polygon: the farthest points, all at one distance, the first straight to the right.
    inside = np.unique(mesh.triangles[:, mesh.region == 0])
    distance = np.hypot(mesh.points[0, inside] - 12e-3, mesh.points[1, inside])
    assert (distance > distance.max() - 1e-12).sum() == sides
    angle = 2 * pi / sides
    assert distance.max() == pytest.approx(5e-3 * np.sqrt(angle / np.sin(angle)), rel=1e-9)


def test_element_sizes_are_kept() -> None:
    section = Section(
        regions=(replace(disc("bar", 0, 0, 5e-3), shape=Shape.RECTANGLE),), outline=(-0.05, -0.05, 0.05, 0.05)
    )
    mesh = mesh_section(section, sizes={"bar": 0.5e-3})
    p = mesh.points[:, mesh.triangles[:, mesh.region == 0]]
    sides = np.hypot(*(p - np.roll(p, 1, axis=1)))
    assert sides.mean() < 1.1 * 0.5e-3
    finer = mesh_section(section, sizes={"bar": 0.5e-3}, level=1)
    assert 3 < (finer.region == 0).sum() / (mesh.region == 0).sum() < 5


def test_digest_and_symmetry_see_the_shape() -> None:
    section = pair()
    square = replace(section, regions=(replace(section.regions[0], shape=Shape.RECTANGLE), section.regions[1]))
    assert section.mirror_symmetric
    assert not square.mirror_symmetric
    assert square.digest != section.digest


def test_faulty_discs_are_refused() -> None:
    with pytest.raises(ValueError, match=r"disc 'egg' is 0\.01 m wide and 0\.02 m high"):
        Region(name="egg", role=Role.CONDUCTOR, x0=0, y0=0, x1=0.01, y1=0.02, shape=Shape.DISC)
    across = Section(regions=(replace(disc("leg", 0, 0, 5e-3), sense=0),), outline=(-0.1, -0.1, 0.1, 0.1))
    with pytest.raises(ValueError, match="'leg' lies across the mirror line"):
        across.half()
    close = replace(pair(), regions=(*pair().regions, disc("third", 22e-3, 0, 5e-3)))
    with pytest.raises(ValueError, match="touches or overlaps"):
        mesh_section(close)
    with pytest.raises(ValueError, match="element sizes for"):
        mesh_section(pair(), sizes={"there": 1e-3})
    with pytest.raises(ValueError, match="must be above 0, got 0"):
        mesh_section(pair(), sizes={"go": 0.0})
