"""Edits of several parts at once: what they do, and that undoing gives the equal map."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import maps

import railmap as rm
from railmap.bench import groups
from railmap.bench.boards import resized
from railmap.bench.clips import clip_bytes as as_bytes
from railmap.bench.clips import clip_from_bytes, clip_from_text, clip_of, pasted
from railmap.bench.clips import clip_text as as_text
from railmap.bench.history import History
from railmap.bench.joining import join_pins, joined, linked, taken_off
from railmap.bench.placing import place_parts, size_mm
from railmap.errors import MapError, RailmapError

Places = dict[str, rm.Place]


def places_of(m: rm.RailMap) -> Places:
    return {r: p.place for r, p in m.parts.items() if p.place is not None} | place_parts(m)


def board_map(*places: rm.Place | None) -> rm.RailMap:
    """Resistors in a row of nodes, on one board where they have a place."""
    m = rm.RailMap()
    m.add_board("Main", 200, 150, x_mm=40, y_mm=10)
    m.add_board("Side", 200, 150, x_mm=300, y_mm=10)
    for number, place in enumerate(places, 1):
        m.add(rm.Resistor(f"R{number}", f"N{number}", f"N{number + 1}", ohms=10, board="Main",
                          place=place))  # fmt: skip
    return m


def change(m: rm.RailMap, changes: list[groups.Change]) -> rm.RailMap:
    m.change(changes)
    return m


def at(m: rm.RailMap) -> list[tuple[float, float, int]]:
    return [(p.place.x_mm, p.place.y_mm, p.place.turn) for p in m.parts.values() if p.place]


ROW = rm.Place(20, 30), rm.Place(70, 50), rm.Place(150, 40, 90)


@pytest.mark.parametrize(
    ("edge", "expected"),
    [
        # A part that stands is 18 mm wide and 30 mm high.
        ("left", [(20, 30), (20, 50), (14, 40)]),
        ("right", [(144, 30), (144, 50), (150, 40)]),
        ("top", [(20, 30), (70, 30), (150, 36)]),
        ("bottom", [(20, 50), (70, 50), (150, 44)]),
        ("column", [(82, 30), (82, 50), (82, 40)]),
        ("row", [(20, 40), (70, 40), (150, 40)]),
    ],
)
def test_line_up(edge: groups.Edge, expected: list[tuple[float, float]]) -> None:
    m = board_map(*ROW)
    change(m, groups.aligned(m, places_of(m), list(m.parts), edge))
    assert [(x, y) for x, y, _ in at(m)] == expected


def test_space_out_between_the_outermost() -> None:
    m = board_map(*ROW)
    change(m, groups.spread(m, places_of(m), list(m.parts), across=True))
    assert [x for x, _, _ in at(m)] == [20, 85, 150]
    assert groups.spread(m, places_of(m), ["R1", "R2"], across=True) == []


def test_a_quarter_turn_is_clockwise_about_the_common_middle() -> None:
    m = board_map(rm.Place(20, 30), rm.Place(60, 30))
    change(m, groups.rotated(m, places_of(m), ["R1", "R2"], 1))
    # Clockwise on a floor whose y goes down: the left one comes to the top.
    assert at(m) == [(40, 10, 90), (40, 50, 90)]


@pytest.mark.parametrize("quarters", [1, 2, 3, -1])
def test_four_times_the_same_turn_is_none(quarters: int) -> None:
    m = board_map(*ROW)
    before = m.document()
    for _ in range(4):
        change(m, groups.rotated(m, places_of(m), list(m.parts), quarters))
    assert m.document() == before


def test_a_part_without_a_place_that_is_moved_shifts_no_other() -> None:
    m = board_map(None, None, None, None)
    before = places_of(m)
    change(m, groups.put(m, before, {"R2": ("Side", rm.Place(90, 90))}))
    after = places_of(m)
    assert after.pop("R2") == rm.Place(90, 90)
    before.pop("R2")
    assert after == before


def test_places_found_before_are_kept() -> None:
    m = board_map(None, None, None)
    before = place_parts(m)
    m.add(rm.Source("V1", "N1", "0V", volts=5, board="Main"))
    held = place_parts(m, before)
    assert list(held) == ["V1"]
    assert held["V1"] not in before.values()


def test_repeated_parts_are_on_the_same_nodes() -> None:
    m = board_map(*ROW)
    changes, names = groups.repeated(m, places_of(m), ["R3", "R1"], (10, 5))
    change(m, changes)
    assert names == ["R4", "R5"]
    assert m.parts["R5"].nodes == m.parts["R1"].nodes
    assert m.parts["R4"].place == rm.Place(160, 45, 90)


def test_a_common_field() -> None:
    m = board_map(*ROW)
    m.add(rm.Link("J1", "A", "B"))
    assert groups.common_fields([m.parts["R1"], m.parts["J1"]]) == ["board", "tolerance_pct"]
    change(m, groups.with_field(m, ["R1", "R2"], "technology", "wirewound"))
    assert [getattr(p, "technology", None) for p in m.parts.values()] == [
        "wirewound", "wirewound", "", None,
    ]  # fmt: skip
    with pytest.raises(MapError, match="R1: tolerance_pct must be at least 0"):
        groups.with_field(m, ["R1", "R2"], "tolerance_pct", -1)


def test_another_board_gives_another_place() -> None:
    m = board_map(*ROW)
    change(m, groups.with_field(m, ["R1", "R3"], "board", "Side"))
    assert [p.board for p in m.parts.values()] == ["Side", "Main", "Side"]
    assert [p.place for p in m.parts.values()] == [None, ROW[1], None]


def edits(m: rm.RailMap, data: st.DataObject) -> list[groups.Change]:
    """Changes of some edit of a map."""
    places = places_of(m)
    refs = data.draw(st.lists(st.sampled_from(list(m.parts)), min_size=1, unique=True))
    ref = refs[0]
    pin = m.parts[ref].pins[0]
    other = data.draw(st.sampled_from(list(m.parts)))
    far = data.draw(st.floats(-500, 500))
    made: dict[str, Callable[[], list[groups.Change]]] = {
        "shift": lambda: groups.shifted(m, places, refs, far, -far),
        "turn": lambda: groups.rotated(m, places, refs, data.draw(st.integers(-3, 3))),
        "line": lambda: groups.aligned(m, places, refs, data.draw(
            st.sampled_from(["left", "right", "top", "bottom", "row", "column"]))),
        "space": lambda: groups.spread(m, places, refs, data.draw(st.booleans())),
        "repeat": lambda: groups.repeated(m, places, refs, (far, 3.0))[0],
        "field": lambda: groups.with_field(m, refs, "tolerance_pct", 5.0),
        "board": lambda: groups.with_field(m, refs, "board",
                                           data.draw(st.sampled_from(["", *m.boards]))),
        "paste": lambda: pasted(m, places, clip_of(m, places, refs), (far, far))[0],
        "join": lambda: join_pins(m, (ref, pin), (other, m.parts[other].pins[-1])),
        "name": lambda: joined(m, ref, pin, "fresh"),
        "off": lambda: taken_off(m, ref, pin),
        "link": lambda: linked(m, ref, pin, m.parts[other].nodes[0], rm.Place(far, far)),
    }  # fmt: skip
    if m.boards:
        name = data.draw(st.sampled_from(list(m.boards)))
        made["resize"] = lambda: resized(m, places, name, (far, -far, 30.0, 40.0))
    return made[data.draw(st.sampled_from(list(made)))]()


@given(m=maps().filter(lambda m: m.parts), data=st.data())
def test_every_edit_undone_gives_the_equal_map(m: rm.RailMap, data: st.DataObject) -> None:
    history = History(m)
    before = m.document()
    done = 0
    for _ in range(3):
        history.do("Edit", edits(m, data))
        m.check()
        done = len(history._done)
    after = m.document()
    for _ in range(done):
        history.undo()
    assert m.document() == before
    for _ in range(done):
        history.redo()
    assert m.document() == after


@given(m=maps().filter(lambda m: m.parts), other=maps())
def test_a_clip_comes_to_any_map_whole(m: rm.RailMap, other: rm.RailMap) -> None:
    places = places_of(m)
    clip = clip_from_bytes(as_bytes(clip_of(m, places, list(m.parts))))
    changes, names = pasted(other, places_of(other), clip)
    held = set(other.parts)
    other.change(changes)
    assert len(set(names)) == len(m.parts)
    assert not held & set(names)
    for ref, name in zip(m.parts, names, strict=True):
        part, copy = m.parts[ref], other.parts[name]
        assert name == ref or ref in held
        plain = {"ref": "X", "board": "", "place": None}
        assert copy.changed(**plain) == part.changed(**plain)
    for node in clip.rails:
        assert node in other.rails


def test_nodes_keep_their_names_and_rails_come_along() -> None:
    m = rm.RailMap()
    m.add(rm.Resistor("R1", "RAW", "A", ohms=1, place=rm.Place(0, 0)))
    m.add_rail("A", "+12", label_volts=12)
    m.add_rail("RAW", "raw")
    target = rm.RailMap()
    target.add(rm.Resistor("R1", "A", "B", ohms=2, place=rm.Place(0, 0)))
    target.add_rail("A", "mine")
    target.add_rail("B", "raw")
    changes, names = pasted(target, places_of(target), clip_of(m, places_of(m), ["R1"]))
    target.change(changes)
    assert names == ["R2"]
    assert target.parts["R2"].nodes == ("RAW", "A")
    assert target.rails["A"].name == "mine"
    # Its name is taken by another node.
    assert target.rails["RAW"].name == ""


def test_a_table_from_a_spreadsheet_is_a_clip() -> None:
    m = board_map(*ROW)
    clip = clip_from_text(as_text(clip_of(m, places_of(m), ["R1", "R3"])))
    assert [p.nodes for p in clip.parts.values()] == [("N1", "N2"), ("N3", "N4")]
    assert all(p.place is not None for p in clip.parts.values())


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b'{"format": "railmap"}', b"\xff\xfe", b'{"format": "railmap", "version": 1}',
     b'{"format": "railmap", "version": 1, "parts": [{"kind": "Resistor", "ref": "R1"}]}'],
)  # fmt: skip
def test_a_clip_that_is_none_is_refused_in_one_sentence(data: bytes) -> None:
    with pytest.raises(RailmapError) as caught:
        clip_from_bytes(data)
    assert "what was copied" in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=60) | st.binary(max_size=60).map(lambda data: data.decode("latin-1")))
def test_any_text_is_a_clip_or_one_sentence(text: str) -> None:
    said = ""
    try:
        assert clip_from_text(text).parts
    except RailmapError as error:
        said = str(error)
    assert "\n" not in said


def test_resizing_leaves_everything_where_it_is_on_the_floor() -> None:
    m = board_map(rm.Place(20, 30), None)
    places = places_of(m)
    before = {ref: groups.floor_xy(m, ref, places) for ref in m.parts}
    change(m, resized(m, places, "Main", (10, 0, 260, 170)))
    assert {ref: groups.floor_xy(m, ref, places_of(m)) for ref in m.parts} == before
    assert (m.boards["Main"].width_mm, m.boards["Main"].x_mm) == (260, 10)


def test_size_of_a_turned_part() -> None:
    assert [size_mm(turn) for turn in (0, 90, 180, 270)] == [(30, 18), (18, 30)] * 2


def test_a_reference_of_two_lines_is_refused_on_one() -> None:
    with pytest.raises(RailmapError) as refused:
        clip_from_text('"0\n0')
    assert "to be put right. 0 0, reference:" in str(refused.value)
