"""Where the lines of the rails run: right-angled, joined up, and through plugs at the edges."""

from collections.abc import Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPointF, QRectF

import railmap as rm
from railmap.resources import example_paths
from railmap.ui.canvas.layout import Layout, lay_out
from railmap.ui.canvas.routing import Router, Run, Segment

HAIR = 1e-6
Point = tuple[float, float]


def touch(line: Segment, point: Point) -> bool:
    x, y = point
    x0, x1 = sorted((line[0], line[2]))
    y0, y1 = sorted((line[1], line[3]))
    return x0 - HAIR <= x <= x1 + HAIR and y0 - HAIR <= y <= y1 + HAIR


def meet(one: Segment, other: Segment) -> bool:
    """Tell whether two right-angled lines have a point in common."""
    a = np.sort(np.array(one).reshape(2, 2), axis=0)
    b = np.sort(np.array(other).reshape(2, 2), axis=0)
    return bool(np.all(a[0] <= b[1] + HAIR) and np.all(b[0] <= a[1] + HAIR))


def connected(lines: list[Segment]) -> bool:
    """Tell whether lines make one piece."""
    reached, waiting = {0}, [0]
    while waiting:
        here = waiting.pop()
        near = {i for i, line in enumerate(lines) if meet(lines[here], line)} - reached
        reached |= near
        waiting += near
    return len(reached) == len(lines)


def on_edge(rect: QRectF, point: Point) -> bool:
    x, y = point
    return beside(rect, x) and rect.top() - HAIR <= y <= rect.bottom() + HAIR


def beside(rect: QRectF, x: float) -> bool:
    return min(abs(x - rect.left()), abs(x - rect.right())) < HAIR


def check(layout: Layout, runs: Iterable[Run]) -> None:
    """Check what holds for the runs of any layout."""
    found = {run.node: run for run in runs}
    assert set(found) == set(layout.pins)
    for node, pins in layout.pins.items():
        run = found[node]
        assert run.lines
        assert all(np.isfinite(line).all() for line in run.lines)
        assert all(x0 == x1 or y0 == y1 for x0, y0, x1, y1 in run.lines)
        for pin in pins:
            assert any(touch(line, (pin.x, pin.y)) for line in run.lines), (node, pin)
        assert connected(run.lines), node
        for dot in (*run.dots, *((x, y) for _, x, y in run.tags)):
            assert any(touch(line, dot) for line in run.lines), (node, dot)
        assert {board for board, _, _ in run.tags} == {pin.board for pin in pins}


def check_plugs(layout: Layout, runs: Iterable[Run]) -> None:
    for run in runs:
        for plug in run.plugs:
            assert any(touch(line, plug) for line in run.lines)
            assert any(beside(rect, plug[0]) for rect in layout.boards.values()), (run.node, plug)


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    """Up to three boards side by side or one below the other, with a few parts on each."""
    m = rm.RailMap()
    x = y = 0.0
    for number in range(draw(st.integers(1, 3))):
        wide, high = draw(st.integers(90, 200)), draw(st.integers(60, 160))
        m.add_board(f"Board {number}", wide, high, x, y)
        if draw(st.booleans()):
            x += wide + draw(st.integers(20, 80))
        else:
            y += high + draw(st.integers(20, 80))
    nodes = st.sampled_from(["0V", "A", "B", "C", "D"])
    kinds = st.sampled_from(["resistor", "bridge", "regulator"])
    for number in range(draw(st.integers(1, 9))):
        board = draw(st.sampled_from(["", *m.boards]))
        place = None
        if board and draw(st.booleans()):
            sheet = m.boards[board]
            across = draw(st.integers(15, round(sheet.width_mm) - 15))
            down = draw(st.integers(12, round(sheet.height_mm) - 12))
            place = rm.Place(across, down, draw(st.sampled_from([0, 180])))
        ref = f"Z{number}"
        match draw(kinds):
            case "resistor":
                part: rm.Part = rm.Resistor(
                    ref, draw(nodes), draw(nodes), ohms=1, board=board, place=place
                )
            case "bridge":
                pins = [draw(nodes) for _ in range(4)]
                part = rm.Bridge(ref, *pins, board=board, place=place)
            case _:
                pins = [draw(nodes) for _ in range(3)]
                part = rm.Regulator(ref, *pins, volts=5, board=board, place=place)
        m.add(part)
    return lay_out(m)


@given(layouts())
@settings(max_examples=60)
def test_runs_are_right_angled_and_reach_every_pin(layout: Layout) -> None:
    check(layout, Router(layout).route())


@given(layouts())
@settings(max_examples=60)
def test_plugs_lie_on_the_edge_of_a_board(layout: Layout) -> None:
    check_plugs(layout, Router(layout).route())


@given(layouts())
@settings(max_examples=15)
def test_the_same_layout_gives_the_same_runs(layout: Layout) -> None:
    assert Router(layout).route() == Router(layout).route()


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
def test_runs_of_the_examples(path: object) -> None:
    layout = lay_out(rm.load(str(path)))
    runs = Router(layout).route()
    check(layout, runs)
    check_plugs(layout, runs)


def test_a_rail_leaves_each_board_by_a_plug(divider: rm.RailMap) -> None:
    layout = lay_out(divider)
    run = next(run for run in Router(layout).route() if run.node == "A")
    for rect in layout.boards.values():
        assert any(on_edge(rect, plug) for plug in run.plugs)


def test_a_run_has_no_plug_past_the_corner_of_its_board() -> None:
    m = rm.RailMap()
    for number in range(3):
        m.add_board(f"Board {number}", 90, 64, 0, 84 * number)
    m.add(rm.Resistor("R1", "0V", "0V", ohms=1, board="Board 0"))
    m.add(rm.Resistor("R2", "0V", "A", ohms=1))
    m.add(rm.Regulator("U1", "0V", "0V", "A", volts=5, board="Board 0"))
    layout = lay_out(m)
    plugs = [plug for run in Router(layout).route() for plug in run.plugs]
    assert all(any(on_edge(rect, plug) for rect in layout.boards.values()) for plug in plugs)


def test_a_rail_on_one_board_stays_on_it(divider: rm.RailMap) -> None:
    layout = lay_out(divider)
    main = layout.boards["Main"]
    run = next(run for run in Router(layout).route() if run.node == "RAW")
    assert run.plugs == []
    ends = [QPointF(*end) for line in run.lines for end in (line[:2], line[2:])]
    assert all(main.contains(end) for end in ends)


def test_a_node_with_one_pin_ends_in_a_stub(divider: rm.RailMap) -> None:
    divider.add(rm.Resistor("R9", "A", "OPEN", ohms=1, board="Main", place=rm.Place(30, 70)))
    layout = lay_out(divider)
    run = next(run for run in Router(layout).route() if run.node == "OPEN")
    assert len(run.lines) == 1
    assert run.lines[0][:2] == (45, 70 - 4.4)


def test_0_v_has_no_run(divider: rm.RailMap) -> None:
    layout = lay_out(divider)
    assert "0V" not in {run.node for run in Router(layout).route()}
    assert {(pin.ref, pin.pin) for pin in layout.grounds} == {
        ("V1", "minus"), ("R2", "b"), ("L1", "b")
    }  # fmt: skip


def test_two_rails_do_not_lie_on_each_other(divider: rm.RailMap) -> None:
    layout = lay_out(divider)
    runs = Router(layout).route()
    uprights = [(run.node, line) for run in runs for line in run.lines if line[0] == line[2]]
    for node, line in uprights:
        for other_node, other in uprights:
            if node != other_node and abs(line[0] - other[0]) < 1:
                assert not meet((line[0], line[1], line[0], line[3]),
                                (line[0], other[1], line[0], other[3]))  # fmt: skip


def test_an_empty_map_has_no_runs() -> None:
    assert Router(lay_out(rm.RailMap())).route() == []
