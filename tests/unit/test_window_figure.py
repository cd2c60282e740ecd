"""The window as it is drawn: to scale, every length told once and right, no words over others, alike on every run."""

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Annotation

from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.report.figures.dimensions import spread
from fem.report.figures.estimate import save
from fem.report.figures.window import draw_window, layers_text, window
from geometries.assembly.section_of import section_of
from geometries.windings.arrangement import place
from tests.support.drawn import assert_readable, texts_of
from tests.support.every_kind import SHELL, TWO_LEG, WINDINGS, design_of

FREE: dict[str, Any] = {"height": None, "build": None}
CABLE: dict[str, Any] = {"turns": 2, "conductor": {"cable": "35 mm2", "insulated": "11 mm"}, **FREE}
FINE: dict[str, Any] = {"turns": 1400, "conductor": {"round": "0.4 mm"}, **FREE}
EXTRA: dict[str, Any] = {"extra": {"turns": 20, "conductor": {"round": "1.2 mm"}}}
MANY: dict[str, Any] = {"arrangement": "interleaved", "sections": 4, "spacing": "1 mm"}
DESIGNS: dict[str, tuple[dict[str, Any], dict[str, Any], dict[str, Any], dict[str, Any]]] = {
    "cable": (SHELL, {}, {**CABLE, "wires_in_hand": 2, "turns": 1}, {}),
    "fine wire": (SHELL, FINE, {"turns": 6, "lay": "across", "conductor": {"strip": "9 mm x 2.5 mm"}, **FREE}, {}),
    "extra beside": (SHELL, {"height": "24 mm", **EXTRA}, CABLE, {}),
    "extra outside": (
        SHELL,
        {"height": None, "build": "5 mm", "turns": 120, **EXTRA},
        {"turns": 4, "conductor": {"strip": "12 mm x 3 mm"}, "height": "50 mm", "build": "5 mm"},
        {"arrangement": "concentric", "spacing": "1.5 mm"},
    ),
    "many coils": (
        SHELL,
        {"turns": 240, "height": "25 mm", "conductor": {"round": "0.9 mm"}},
        {"turns": 24, "height": "22 mm", "conductor": {"strip": "1.5 mm x 2 mm"}},
        MANY,
    ),
    "each on a leg": (
        {**TWO_LEG, "window_width": "120 mm"},
        {"height": None, "build": "12 mm"},
        {"turns": 5, "conductor": {"cable": "95 mm2", "insulated": "17 mm"}, **FREE},
        {"legs": "each"},
    ),
    "shunts": (SHELL, {"turns": 150, "height": "19 mm", "build": None}, {"height": "20 mm"}, {"spacing": "12 mm"}),
    "small": (
        {**SHELL, "leg_width": "16 mm", "outer_leg_width": "8 mm", "yoke_height": "8 mm", "window_width": "8 mm",
         "window_height": "24 mm"},
        {"turns": 300, "conductor": {"round": "0.3 mm"}, "height": "9 mm", "build": "5 mm"},
        {"turns": 2, "conductor": {"round": "4 mm"}, **FREE},
        {"spacing": "1 mm", "yoke_clearance": "1 mm", "leg_clearance": "0.8 mm"},
    ),
}  # fmt: skip
RING = {"metal": "carbon steel", "section": {"strip": "20 mm x 0.9 mm"}, "duration": "5 s", "ring": {"length": "2 m"}}


def _design(kind: str) -> Design:
    if kind not in DESIGNS and kind != "ring":
        return design_of(kind)
    core, primary, secondary, rest = DESIGNS.get(kind, DESIGNS["cable"])
    windings = {
        **WINDINGS,
        **rest,
        "primary": {**WINDINGS["primary"], **primary},
        "secondary": {**WINDINGS["secondary"], **secondary},
    }
    more: dict[str, Any] = {"shunt": {"height": "8 mm", "total_gap": "1 mm"}} if kind == "shunts" else {}
    more |= {"work_piece": RING} if kind == "ring" else {}
    mains = {"voltage": "230 V", "frequency": "50 Hz"}
    return in_use(Design.model_validate({"mains": mains, "core": core, "windings": windings, **more}))


def _found(kind: str) -> Any:
    """Return as much of an estimate as a drawing of the window looks at."""
    design = _design(kind)
    blocks = place(design.core, design.windings)
    section = section_of(design.core, blocks, shunt=design.shunt)
    pictures = SimpleNamespace(
        core=design.core, windings=design.windings, blocks=blocks, section=section, work=design.work_piece
    )
    return SimpleNamespace(title="A supply for bandsaw blades", drawn=pictures)


KINDS = (*DESIGNS, "ring", "concentric", "interleaved", "two cores", "two-leg", "extra turns")


def _chains(figure: Figure, upright: bool) -> Iterator[tuple[float, float]]:
    """Yield from where to where each dimension line goes, arrows that point from outside left out."""
    along = 1 if upright else 0
    for note in figure.findobj(Annotation):
        assert isinstance(note, Annotation)
        assert note.arrow_patch is not None
        same = note.xy[1 - along] == note.xyann[1 - along]
        if same and type(note.arrow_patch.get_arrowstyle()).__name__ != "CurveFilledB":
            yield note.xyann[along], note.xy[along]


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_overprinted_or_cropped_and_chains_are_whole(kind: str) -> None:
    """Each chain goes from yoke to yoke or leg to leg without a hole; blocks stand where `place` puts them."""
    found = _found(kind)
    core, figure = found.drawn.core, window(found)
    assert_readable(figure)
    whole = 1e3 * core.window_height, 1e3 * core.window_width
    for upright, size in zip((True, False), whole, strict=True):
        lengths = set(_chains(figure, upright))
        assert lengths
        for start, end in lengths:
            assert start == pytest.approx(0, abs=1e-6) or any(abs(start - other) < 1e-6 for _, other in lengths)
            assert end == pytest.approx(size) or any(abs(end - other) < 1e-6 for other, _ in lengths)
        if upright:
            for block in found.drawn.blocks:
                pair = pytest.approx((1e3 * block.bottom, 1e3 * block.top))
                assert any(length == pair for length in lengths), block.name


@pytest.mark.parametrize("kind", ["cable", "each on a leg"])
def test_single_conductors_are_drawn_to_scale_where_they_lie(kind: str) -> None:
    found = _found(kind)
    figure = window(found)
    figure.draw_without_rendering()
    (axes,) = figure.axes
    across, along = axes.transData.transform((1.0, 1.0)) - axes.transData.transform((0.0, 0.0))
    assert across == pytest.approx(along, rel=1e-9)
    block = found.drawn.blocks[-1]
    conductor = found.drawn.windings.secondary.conductor
    boxes = [path.get_extents() for held in axes.collections for path in held.get_paths()]
    outside = [box for box in boxes if box.width == pytest.approx(1e3 * conductor.insulated_width)]
    far = 1e3 * found.drawn.core.window_width if block.leg_axis else 0.0
    expected = [
        (abs(far - 1e3 * (block.leg_clearance + place.x)), 1e3 * (block.bottom + place.y)) for place in block.places
    ]
    np.testing.assert_allclose([((b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2) for b in outside], expected, rtol=1e-9)
    bare = [box for box in boxes if box.width == pytest.approx(1e3 * block.places[0].width)]
    assert len(bare) == len(outside) == len(block.places)


def test_the_same_drawing_goes_into_axes_of_any_size() -> None:
    figure = Figure(figsize=(8.0, 11.0))
    axes = figure.add_axes((0.5, 0.1, 0.4, 0.5))
    caption = draw_window(_found("cable"), axes)
    figure.draw_without_rendering()
    box = axes.get_window_extent()
    for text in texts_of(figure):
        inside = text.get_window_extent()
        assert box.x0 <= inside.x0 < inside.x1 <= box.x1
        assert box.y0 <= inside.y0 < inside.y1 <= box.y1
    # 5.5 mm from the block's corner, which lies the clearance from leg and, above primary and spacing, from the yoke
    assert f"1a: 7|{2 + 26 + 3 + 5.5:g}" in caption
    assert "mirror image" in caption


def test_a_drawing_is_the_same_on_every_run(tmp_path: Any) -> None:
    runs = [[p.read_bytes() for p in save(window(_found("small")), tmp_path / run, "window")] for run in "ab"]
    assert runs[0] == runs[1]


def test_words_are_spread_as_little_as_they_can_be() -> None:
    np.testing.assert_allclose(spread([10, 50], [4, 4], (0, 100)), [10, 50])
    np.testing.assert_allclose(spread([10, 11], [4, 4], (0, 100)), [8.5, 12.5])  # apart by a size, middle kept
    np.testing.assert_allclose(spread([0, 1], [4, 4], (0, 100)), [2, 6])
    rng = np.random.default_rng(3)
    for _ in range(50):
        middles, sizes = np.sort(rng.uniform(0, 100, 8)), rng.uniform(1, 10, 8)
        places = spread(middles.tolist(), sizes.tolist(), (0, 100))
        assert np.all(np.diff(places) >= (sizes[1:] + sizes[:-1]) / 2 - 1e-9)
        assert sizes[0] / 2 - 1e-9 <= places[0] < places[-1] <= 100 - sizes[-1] / 2 + 1e-9


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((3, 3), "3 + 3 from the leg outwards"),
        ((18,) * 12 + (14,), "13 layers, 12 of 18, 1 of 14"),
        ((9,) * 5, "5 layers of 9"),
    ],
)
def test_layers_in_words(counts: tuple[int, ...], words: str) -> None:
    assert layers_text(counts) == words
