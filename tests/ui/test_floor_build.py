"""A whole map built on the floor as hands do it: by mouse, and by keys into the card's fields."""

from collections.abc import Callable
from typing import Any

import pytest
from floor_builder import BOARDS, PARTS, RAILS, Builder
from test_examples import MAINS_OF_SETUPS, printed
from test_examples import RAILS as PRINTED

from railmap.ui.window import Window


@pytest.fixture
def window(make_window: Callable[[], Window]) -> Window:
    """A window with a new map."""
    return make_window()


@pytest.fixture
def builder(window: Window, hand: Any, clerk: Any, push: Callable[[str], None]) -> Builder:
    return Builder(window, hand, clerk, push)


def test_the_three_boards_by_mouse(builder: Builder) -> None:
    m, window = builder.m, builder.window
    empty = m.document()
    builder.build()
    assert list(m.boards) == list(BOARDS)
    # Two rails go to another board by a plug.
    assert len(m.parts) == len(PARTS.splitlines()) + 2
    assert list(m.rails) == list(RAILS)
    full = m.document()
    for column, volts in enumerate(MAINS_OF_SETUPS.values()):
        builder.set_mains(volts)
        solution = window.bridge.solution
        assert solution is not None
        assert solution.findings == ()
        for node, figures in PRINTED["portable_tape_recorder"].items():
            assert solution.volts(node) == printed(figures[column]), (node, volts)
    undone = builder.push_until_it_ends("undo")
    assert m.document() == empty
    assert builder.push_until_it_ends("redo") == undone
    assert m.document() == full
