"""Whether a figure can be read: no words over others, none cropped."""

from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.text import Text


def texts_of(figure: Figure) -> list[Text]:
    """Return all words of a figure but the numbers of ticks."""
    ticks = {label for axis in figure.findobj(Axis) for label in axis.get_ticklabels(which="both")}  # type: ignore[attr-defined]
    return [t for t in figure.findobj(Text) if t.get_text() and t.get_visible() and t not in ticks]  # type: ignore[attr-defined]


def assert_readable(figure: Figure) -> None:
    """Assert that no words of a figure lie over others or beyond its edge."""
    figure.draw_without_rendering()
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts_of(figure)]
    assert boxes
    for number, (words, box) in enumerate(boxes):
        inside = box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1
        assert inside, words
        assert not [other for other, b in boxes[number + 1 :] if b.overlaps(box)], words
