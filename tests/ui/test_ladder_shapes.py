"""The ladder laid out: no texts in each other's way, rungs in the order of their volts."""

import math
from dataclasses import replace
from itertools import combinations, pairwise

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

import railmap as rm
from railmap.bench.rungs import Ladder, alternating_nodes, ladder_of
from railmap.resources import example_paths
from railmap.ui.ladder.arrange import arrange
from railmap.ui.ladder.crowd import Crowd, spread
from railmap.ui.ladder.figures import Figures, Mark, Sight, around, figures_of, whole
from railmap.ui.ladder.ground import Order, ground_of
from railmap.ui.ladder.plan import named_rungs
from railmap.ui.ladder.shapes import HAIR, Box, Drawing, elide
from railmap.ui.ladder.steps import keys_at, row_of, rungs_in_order

SIZES = [(260, 500), (260, 900), (400, 500), (400, 900), (800, 500), (800, 900)]


class Typewriter:
    """Letters of one width, so that the layout is tested without a font."""

    def width(self, text: str, bold: bool, size: int) -> float:
        return len(text) * size * (0.68 if bold else 0.6)

    def height(self, size: int) -> float:
        return size * 1.17


def order_of(m: rm.RailMap, ladder: Ladder, figures: Figures, size: tuple[int, int]) -> Order:
    sight = whole(ladder, figures)
    return Order(ladder, m.parts, figures, sight, Box(0, 0, *size), Typewriter())


def solved_order(m: rm.RailMap, size: tuple[int, int] = (800, 900)) -> Order:
    solution = rm.solve(m)
    volts = {node: solution.volts(node) for node in m.nodes}
    ladder = ladder_of(m, alternating_nodes(m, solution), volts)
    return order_of(m, ladder, figures_of(ladder, solution), size)


def assert_apart(drawing: Drawing) -> None:
    for one, other in combinations(drawing.texts, 2):
        assert not one.box.overlaps(other.box), f"{one.plain!r} runs into {other.plain!r}"


@st.composite
def ladders(draw: st.DrawFn) -> tuple[rm.RailMap, Ladder, Figures]:
    """A map of up to 30 rails on up to 8 boards, many of them within a tenth of a volt."""
    m = rm.RailMap()
    boards = [f"Board {n}" for n in range(draw(st.integers(1, 8)))]
    for name in boards:
        m.add_board(name, 100, 80)
    some = st.sampled_from(boards)
    ends = {1: "RAW", -1: "RAWN"}
    m.add(rm.Source("V1", "RAW", "0V", volts=40, board=boards[0]))
    m.add(rm.Source("V2", "0V", "RAWN", volts=40, board=boards[0]))
    volts = {"RAW": 40.0, "RAWN": -40.0}
    cluster = st.floats(20.0, 20.1)
    for number in range(draw(st.integers(1, 30))):
        side, board = draw(st.sampled_from((1, -1))), draw(some)
        node, way = f"{'P' if side > 0 else 'N'}{number}", draw(st.booleans())
        kind = draw(st.sampled_from(("R", "U", "J")))
        if kind == "R":
            m.add(rm.Resistor(f"R{number}", ends[side], node, ohms=100, board=board))
        elif kind == "U":
            m.add(rm.Regulator(f"U{number}", ends[side], node, "0V", volts=5, board=board))
        else:
            m.add(rm.Link(f"J{number}", ends[side], node, board=board))
        m.add(rm.Load(f"L{number}", node, "0V", ohms=100, board=draw(some)))
        m.add_rail(node, label_volts=side * 20.0, max_volts=draw(st.none() | st.just(25.0)))
        volts[node] = side * draw(cluster if way else st.floats(0.01, 40.0))
        if draw(st.booleans()):
            ends[side] = node
    refs = dict.fromkeys(m.parts, 0.01)
    stress = {ref: draw(st.floats(0, 3) | st.just(math.nan)) for ref in m.parts}
    return m, ladder_of(m, frozenset(), volts), Figures({**volts, "0V": 0.0}, {}, refs, stress)


@settings(max_examples=60)
@given(ladders(), st.sampled_from(SIZES))
def test_no_two_texts_overlap_and_all_are_inside(
    made: tuple[rm.RailMap, Ladder, Figures], size: tuple[int, int]
) -> None:
    drawing = arrange(order_of(*made, size))
    assert_apart(drawing)
    for text in drawing.texts:
        assert text.box.left >= 0
        assert text.box.top >= 0
        assert text.box.right <= size[0] + HAIR
        assert text.box.bottom <= size[1] + HAIR


@settings(max_examples=60)
@given(ladders(), st.sampled_from(SIZES))
def test_every_rail_is_there_with_its_name(
    made: tuple[rm.RailMap, Ladder, Figures], size: tuple[int, int]
) -> None:
    m, _, figures = made
    drawing = arrange(order_of(*made, size))
    assert {bar.key[1] for bar in drawing.bars} >= set(m.rails)
    named = {key[1] for text in drawing.texts for key in text.keys if key[0] == "rail"}
    # 30 rails, 0 V and the legend need some 420 pixels at 8 pixels a line.
    assert set(m.rails) <= named
    assert all(math.isfinite(v) for v in figures.volts.values())


@settings(max_examples=60)
@given(ladders(), st.sampled_from(SIZES))
def test_rungs_are_in_the_order_of_their_volts_either_side_of_0_v(
    made: tuple[rm.RailMap, Ladder, Figures], size: tuple[int, int]
) -> None:
    _, _, figures = made
    drawing = arrange(order_of(*made, size))
    assert drawing.zero is not None
    rungs = sorted(drawing.bars, key=lambda bar: figures.of(bar.key[1]))
    for low, high in pairwise(rungs):
        assert high.line.top <= low.line.top + HAIR
    for bar in rungs:
        volts = figures.of(bar.key[1])
        assert (bar.line.top < drawing.zero.top) == (volts > 0)


@settings(max_examples=40)
@given(ladders(), st.sampled_from(SIZES), st.floats(1.0, 2000.0), st.floats(-40, 40))
def test_no_two_texts_overlap_at_any_zoom(
    made: tuple[rm.RailMap, Ladder, Figures], size: tuple[int, int], factor: float, about: float
) -> None:
    order = order_of(*made, size)
    first = frozenset({("rail", "RAW")})
    drawing = arrange(replace(order, sight=order.sight.zoomed(factor, about), first=first))
    assert_apart(drawing)
    for bar in drawing.bars:
        assert drawing.clip.top <= bar.line.top <= drawing.clip.bottom


@settings(max_examples=40)
@given(ladders(), st.sampled_from(SIZES))
def test_texts_keep_off_the_tiles_of_others(
    made: tuple[rm.RailMap, Ladder, Figures], size: tuple[int, int]
) -> None:
    drawing = arrange(order_of(*made, size))
    noted = [t for t in drawing.texts if t.keys and t.keys[0][0] == "part"]
    assert not any(t.box.overlaps(fall.tile) for t in noted for fall in drawing.falls)


@given(st.lists(st.floats(-500, 1500), max_size=40).map(sorted), st.floats(1, 20))
def test_things_in_a_row_do_not_overlap(wanted: list[float], size: float) -> None:
    places = spread(wanted, size, 0, 1000)
    assert len(places) == len(wanted)
    for one, other in pairwise(places):
        assert other - one >= size - 1e-6
    assert all(place >= 0 and place + size <= 1000 + 1e-6 for place in places)


@given(st.lists(st.floats(0, 900), max_size=12, unique=True).map(sorted))
def test_things_with_room_stay_where_they_are_wanted(wanted: list[float]) -> None:
    if all(other - one >= 10 for one, other in pairwise(wanted)):
        assert spread(wanted, 10, 0, 1000) == pytest.approx(wanted)


def test_a_crowded_spot_is_left_for_a_free_one_and_the_old_one_kept() -> None:
    crowd = Crowd([Box(0, 0, 10, 10)], [Box(40, 0, 41, 100)], Box(0, 0, 100, 100), 5)
    about = Box(20, 20, 30, 30)
    on_taken, on_line, free = Box(5, 5, 15, 15), Box(35, 5, 45, 15), Box(60, 5, 70, 15)
    offers = [(on_taken, 0.0), (on_line, 0.0), (free, 1.0)]
    assert crowd.settle(about, offers, 10) == 2
    assert crowd.settle(about, offers, 10, kept=1) == 1
    assert crowd.settle(about, offers[:1], 10) == -1
    crowd.take(free)
    assert crowd.settle(about, offers, 10) == 1
    assert crowd.settle(about, [(Box(95, 5, 105, 15), 0.0)], 10) == -1


@pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
@pytest.mark.parametrize("size", SIZES)
def test_the_examples_are_whole_and_apart(path, size: tuple[int, int]) -> None:
    m = rm.load(path)
    drawing = arrange(solved_order(m, size))
    assert_apart(drawing)
    named = {key[1] for text in drawing.texts for key in text.keys if key[0] == "rail"}
    assert set(m.rails) <= named
    assert {text.plain for text in drawing.texts} >= {"forecast", "label", "acceptable", "limit"}


def divider() -> rm.RailMap:
    m = rm.RailMap()
    m.add_board("Main", 100, 80)
    m.add(rm.Source("V1", "RAW", "0V", volts=12, board="Main"))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100, rated_watts=0.1, board="Main"))
    m.add(rm.Load("L1", "A", "0V", ohms=100, board="Main"))
    m.add(rm.Load("L2", "A", "0V", ohms=100, board="Main"))
    m.add_rail("RAW", "+12", label_volts=12)
    m.add_rail("A", "+6", label_volts=6, band_pct=10, max_volts=7)
    return m


def words(drawing: Drawing) -> str:
    return "\n".join(text.plain for text in drawing.texts)


def test_a_drop_says_its_part_and_load_and_is_hatched_above_its_rating() -> None:
    drawing = arrange(solved_order(divider()))
    # 12 V over 100 and 50 ohms: 80 mA, 0.64 W in 0.1 W (by Ohm's law).
    fall = next(f for f in drawing.falls if f.keys == (("part", "R1"),))
    assert fall.over
    assert fall.line.top < fall.tile.top < fall.tile.bottom < fall.line.bottom
    said = [t.plain for t in drawing.texts if ("part", "R1") in t.keys]
    assert said == ["R1", "640 %"]


def test_many_loads_are_one_foot_with_their_sum() -> None:
    drawing = arrange(solved_order(divider()))
    assert [f.keys for f in drawing.falls if f.kind == "foot"] == [(("part", "L1"), ("part", "L2"))]
    assert "2 loads 80.0 mA" in words(drawing)


def test_volts_outside_the_band_have_an_arrow_and_beyond_the_limit_a_mark() -> None:
    m = divider()
    assert "+6 +4.00 ▼" in words(arrange(solved_order(m)))
    m.parts["L1"] = rm.Load("L1", "A", "0V", ohms=10000, board="Main")
    m.parts["L2"] = rm.Load("L2", "A", "0V", ohms=127, board="Main")
    assert "+6 +6.68 ▲" in words(arrange(solved_order(m)))
    m.parts["L2"] = rm.Load("L2", "A", "0V", ohms=10000, board="Main")
    assert "+6 +11.76 !" in words(arrange(solved_order(m)))


def test_the_thickness_of_a_line_tells_its_current() -> None:
    m = divider()
    m.add(rm.Resistor("R2", "RAW", "0V", ohms=100000, board="Main"))
    thick = {f.keys[0][1]: f.thick for f in arrange(solved_order(m)).falls}
    assert thick["R1"] > 2 * thick["R2"]
    assert thick["L1"] == pytest.approx(thick["R1"])


def test_band_label_and_limit_stand_at_their_volts() -> None:
    order = solved_order(divider())
    ground, drawing = ground_of(order), arrange(order)
    tops = {round(box.top, 3) for box in drawing.bands}
    assert {round(ground.y(v), 3) for v in (6.6, 13.2)} <= tops
    assert {round(line.top, 3) for line in drawing.labels} == {
        round(ground.y(v), 3) for v in (6, 12)
    }
    assert [round(line.top, 3) for line in drawing.limits] == [round(ground.y(7), 3)]


def test_readings_are_drawn_only_where_there_are_any() -> None:
    order = solved_order(divider())
    assert arrange(order).signs == ()
    assert "read as received" not in words(arrange(order))
    marks = (
        Mark("A", 4.1), Mark("A", 5.9, "act", "after renewal", "high"),
        Mark("A", 5.5, "watch", "later visit"), Mark("gone", 1.0),
    )  # fmt: skip
    drawing = arrange(replace(order, figures=replace(order.figures, marks=marks)))
    assert [(s.verdict, s.stage, s.elsewhere) for s in drawing.signs] == [
        ("ok", "as received", False), ("act", "after renewal", True),
        ("watch", "later visit", False),
    ]  # fmt: skip
    assert "(+5.90)" in words(drawing)
    assert "in another setup" in words(drawing)
    assert "+4.10" in words(drawing)
    assert "read after renewal" in words(drawing)


def test_rails_without_a_path_are_named_below() -> None:
    m = divider()
    m.add(rm.Resistor("R9", "X", "Y", ohms=10, board="Main"))
    m.add_rail("X", "+lost")
    drawing = arrange(solved_order(m))
    assert "No path to 0 V: +lost" in words(drawing)
    assert "X" not in {bar.key[1] for bar in drawing.bars}


def test_an_alternating_rail_is_named_below() -> None:
    m = rm.RailMap(mains_volts=230)
    m.add(rm.Winding("T1", "HEAT", "0V", volts_rms=6.3))
    m.add(rm.Load("L1", "HEAT", "0V", ohms=10))
    m.add_rail("HEAT", "heater")
    order = solved_order(m)
    assert "HEAT" not in order.ladder.rungs
    assert order.figures.rms["heater"] == pytest.approx(6.3)


def test_more_rungs_than_lines_keep_the_selected_one() -> None:
    m = rm.RailMap()
    m.add(rm.Source("V1", "RAW", "0V", volts=40))
    for n in range(80):
        m.add(rm.Resistor(f"R{n}", "RAW", f"P{n}", ohms=10))
        m.add(rm.Load(f"L{n}", f"P{n}", "0V", ohms=10))
        m.add_rail(f"P{n}")
    order = solved_order(m, (300, 400))
    first = frozenset({("rail", "P77")})
    drawing = arrange(
        Order(
            order.ladder, m.parts, order.figures, order.sight, order.box, order.letters, 12, first
        )
    )
    assert_apart(drawing)
    assert ("rail", "P77") in {key for text in drawing.texts for key in text.keys}
    assert len(drawing.bars) == 81


def test_an_empty_map_says_so() -> None:
    drawing = arrange(solved_order(rm.RailMap()))
    assert "No rungs yet." in words(drawing)
    assert drawing.bars == ()


def test_zoomed_in_the_rest_is_counted() -> None:
    order = solved_order(divider())
    near = replace(order, sight=Sight(3, 5))
    assert "▲ 1" in words(arrange(near))
    assert [bar.key[1] for bar in arrange(near).bars] == ["A"]


def test_zoom_keeps_the_volts_under_the_pointer() -> None:
    sight = Sight(-40, 40).zoomed(4, 20)
    assert sight == Sight(5, 25)
    assert sight.zoomed(0.25, 20) == Sight(-40, 40)
    assert sight.moved(1) == Sight(6, 26)


def test_a_span_around_close_rungs_tells_them_apart() -> None:
    found = around([20.0], [20.0, 20.05, 19.9, 40.0, 0.0])
    assert found is not None
    assert found.low < 19.9
    assert found.high > 20.05
    assert found.high - found.low < 60
    assert around([math.nan], [1.0]) is None


def test_from_rung_to_rung_and_along_one() -> None:
    order = solved_order(divider())
    assert rungs_in_order(order.ladder, order.figures) == ["RAW", "A"]
    assert row_of(order.ladder, "RAW") == [("rail", "RAW"), ("part", "V1"), ("part", "R1")]
    assert row_of(order.ladder, "A")[1:] == [("part", "R1"), ("part", "L1"), ("part", "L2")]


def test_what_is_at_a_point() -> None:
    drawing = arrange(solved_order(divider()))
    for fall in drawing.falls:
        tile = fall.tile
        assert keys_at(drawing, (tile.left + tile.right) / 2, tile.top + 3) == fall.keys
    bar = next(b for b in drawing.bars if b.key == ("rail", "A"))
    assert keys_at(drawing, bar.line.right - 2, bar.line.top + 2) == (("rail", "A"),)
    assert keys_at(drawing, 790, 300) == ()


def test_long_words_are_cut() -> None:
    letters = Typewriter()
    assert elide("Oscillator", 40, False, 10, letters) == "Oscil…"
    assert elide("Oscillator", 1000, False, 10, letters) == "Oscillator"
    assert elide("Oscillator", 3, False, 10, letters) == ""


def test_rails_are_named_and_other_nodes_only_where_there_are_none() -> None:
    m = divider()
    assert [r.node for r in named_rungs(solved_order(m).ladder)] == ["RAW", "A"]
    bare = rm.RailMap()
    bare.add(rm.Source("V1", "RAW", "0V", volts=12))
    assert [r.node for r in named_rungs(ladder_of(bare))] == ["RAW"]
