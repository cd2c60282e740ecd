"""What an estimate shows of itself at a prompt and in a notebook."""

from dataclasses import replace
from html.parser import HTMLParser

import pytest
from matplotlib.figure import Figure

import fem
from fem.quantity import Band, Unknown


def test_one_line_with_units_and_bands(hand_made: fem.Estimate) -> None:
    key = "idle.current_rms_A"
    found = replace(hand_made, title="two\nlines", bands={key: Band(low=0.5, high=2.5)})
    assert "\n" not in repr(found)
    assert repr(found).startswith("<Estimate 'two lines': ")
    assert f"no-load current {found.idle.current_rms:.3g} A (0.5 to 2.5 A)" in repr(found)


def test_what_is_not_known_says_why(hand_made: fem.Estimate) -> None:
    idle = replace(hand_made.idle, current_rms=Unknown("it hums too loud"))
    assert "no-load current unknown: it hums too loud" in repr(replace(hand_made, idle=idle))


def test_table_escapes_what_users_typed(hand_made: fem.Estimate) -> None:
    title = "<script>alert('&')</script>"
    tags, texts = set(), []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: object) -> None:
            tags.add(tag)

        def handle_data(self, data: str) -> None:
            texts.append(data)

    Reader().feed(replace(hand_made, title=title)._repr_html_())
    assert tags == {"table", "caption", "tr", "th", "td"}
    assert title in texts


def test_plot_draws_one_figure_or_names_those_there_are(hand_made: fem.Estimate) -> None:
    assert isinstance(fem.plot(hand_made, "idle-current"), Figure)
    with pytest.raises(ValueError, match=r"what: .*waves.* there are cross-section, window"):
        fem.plot(hand_made, "waves")
    with pytest.raises(ValueError, match="keeps no fields"):
        fem.plot(replace(hand_made, pictures=None))
