"""Many rectangles at once, against Qt's rectangles one by one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF

from railmap.ui.canvas.boxes import boxes_of, meets, touched

rects = st.builds(
    QRectF, st.integers(0, 9), st.integers(0, 9), st.integers(1, 5), st.integers(1, 5)
)  # fmt: skip
some = st.lists(rects, max_size=8)


@given(some, st.lists(rects, min_size=1, max_size=8))
def test_what_boxes_reach_into(held: list[QRectF], asked: list[QRectF]) -> None:
    boxes = boxes_of(asked)
    found = touched(boxes_of(held), boxes[:, :2], boxes[:, 2:])
    assert found.tolist() == [sum(one.intersects(rect) for one in held) for rect in asked]


@given(some, rects)
def test_boxes_that_touch_on_an_edge_meet(held: list[QRectF], asked: QRectF) -> None:
    found = meets(boxes_of(held), boxes_of([asked])[0])
    grown = asked.adjusted(-0.5, -0.5, 0.5, 0.5)
    # Whole numbers: half a millimetre more reaches what touches, and nothing else.
    assert found.tolist() == [grown.intersects(rect) for rect in held]


def test_no_boxes_at_all() -> None:
    assert boxes_of([]).shape == (0, 4)
    assert touched(boxes_of([]), np.zeros((3, 2)), np.ones((3, 2))).tolist() == [0, 0, 0]
