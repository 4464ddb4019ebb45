"""Where the lines of the rails run: right-angled, joined up, and through plugs at the edges."""

from collections.abc import Iterable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
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
def maps(draw: st.DrawFn) -> rm.RailMap:
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
            place = rm.Place(across, down, draw(st.sampled_from([0, 90, 180, 270])))
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
    return m


def layouts() -> st.SearchStrategy[Layout]:
    return maps().map(lay_out)


@st.composite
def changed(draw: st.DrawFn) -> tuple[Layout, Layout]:
    """A map before and after one of its parts is moved, joined to another node, or gone."""
    m = draw(maps())
    before = lay_out(m)
    part = m.parts[draw(st.sampled_from(list(m.parts)))]
    match draw(st.sampled_from(["move", "join", "remove"])):
        case "move":
            place = rm.Place(draw(st.integers(-40, 200)), draw(st.integers(-40, 160)))
            m.parts[part.ref] = part.changed(place=place)
        case "join":
            pin = draw(st.sampled_from(part.pins))
            m.parts[part.ref] = part.changed(**{pin: draw(st.sampled_from("ABCDE"))})
        case _:
            del m.parts[part.ref]
    return before, lay_out(m)


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


def laid(layout: Layout) -> Router:
    router = Router(layout)
    router.route()
    return router


@given(changed())
@settings(max_examples=80)
def test_after_a_change_the_runs_are_those_of_a_fresh_start(change: tuple[Layout, Layout]) -> None:
    before, after = change
    assert Router(after, laid(before)).route() == Router(after).route()


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
def test_parts_of_an_example_moved_one_after_the_other(path: object) -> None:
    m = rm.load(str(path))
    router = laid(lay_out(m))
    for number, (ref, part) in enumerate(list(m.parts.items())[::5]):
        place = lay_out(m).places[ref]
        step = (3.0, -31.0, 58.0)[number % 3]
        m.parts[ref] = part.changed(
            place=rm.Place(place.x_mm + step, place.y_mm + step, place.turn)
        )
        router = Router(lay_out(m), router)
        assert router.route() == Router(lay_out(m)).route()


def test_a_part_that_is_moved_leaves_the_runs_of_other_boards_alone() -> None:
    m = rm.load(str(next(path for path in example_paths() if path.stem == "mixing_console")))
    before = lay_out(m)
    for ref, place in before.places.items():
        m.parts[ref] = m.parts[ref].changed(place=place)
    place = before.places["C803"]
    m.parts["C803"] = m.parts["C803"].changed(place=rm.Place(place.x_mm + 2, place.y_mm))
    router = Router(lay_out(m), laid(before))
    runs = router.route()
    assert runs == Router(lay_out(m)).route()
    assert set(m.parts["C803"].nodes) - {"0V"} <= set(router.laid_anew)
    boards = {
        node: {pin.board for pin in pins} for node, pins in router.layout.pins.items()
    }  # fmt: skip
    elsewhere = {
        n for n, names in boards.items() if len(names) == 1 and "Logic and lamps" not in names
    }
    assert len(elsewhere) > 5
    assert not elsewhere & set(router.laid_anew)


def test_nothing_is_laid_anew_if_nothing_has_changed(divider: rm.RailMap) -> None:
    first = laid(lay_out(divider))
    again = Router(lay_out(divider), first)
    assert again.route() == first.route()
    assert again.laid_anew == []


def test_a_board_that_is_moved_lays_everything_anew(divider: rm.RailMap) -> None:
    first = laid(lay_out(divider))
    divider.boards["Side"] = replace(divider.boards["Side"], y_mm=40.0)
    again = Router(lay_out(divider), first)
    assert again.route() == Router(lay_out(divider)).route()
    assert set(again.laid_anew) == set(again.layout.pins)


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
def test_runs_of_the_examples_go_around_the_tiles_of_others(path: object) -> None:
    layout = lay_out(rm.load(str(path)))
    for run in Router(layout).route():
        own = {pin.ref for pin in layout.pins[run.node]}
        others = [rect for ref, rect in layout.tiles.items() if ref not in own]
        for x0, y0, x1, y1 in run.lines:
            line = QRectF(QPointF(x0, y0), QPointF(x1, y1)).normalized()
            assert not any(line.adjusted(-0.1, -0.1, 0.1, 0.1).intersects(r) for r in others)


def test_a_rail_with_many_pins() -> None:
    m = rm.RailMap()
    m.add_board("Main", 500, 500)
    for number in range(60):
        m.add(rm.Resistor(f"R{number}", "A", f"N{number % 7}", ohms=1, board="Main"))
    layout = lay_out(m)
    runs = Router(layout).route()
    check(layout, runs)
    assert len(next(run for run in runs if run.node == "A").lines) == 61


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
