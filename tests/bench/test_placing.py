"""Places for parts that have none: on the board, apart from each other, from left to right."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import maps

import railmap as rm
from railmap.bench.placing import TILE_MM, depths, place_parts


def chain(board="", place=None):
    return [
        rm.Load("L1", "B", "0V", amps=0.1, board=board),
        rm.Resistor("R2", "A", "B", ohms=10, board=board, place=place),
        rm.Resistor("R1", "RAW", "A", ohms=10, board=board),
        rm.Source("V1", "RAW", "0V", volts=20, board=board),
    ]


def map_with(parts, **boards):
    m = rm.RailMap()
    for name, (width_mm, height_mm) in boards.items():
        m.add_board(name, width_mm, height_mm)
    for part in parts:
        m.add(part)
    return m


def overlapping(one, other):
    return abs(one.x_mm - other.x_mm) < TILE_MM[0] and abs(one.y_mm - other.y_mm) < TILE_MM[1]


def on_floor(m, part, place):
    board = m.boards.get(part.board)
    return (place.x_mm + board.x_mm, place.y_mm + board.y_mm) if board else (place.x_mm, place.y_mm)


def test_how_far_parts_are_from_a_source():
    assert depths(map_with(chain())) == {"V1": 0, "R1": 1, "R2": 2, "L1": 3}


def test_the_nearest_source_counts_and_zero_volts_is_no_way():
    m = map_with(chain())
    m.add(rm.Winding("T1", "S", "0V", volts_rms=12))
    m.add(rm.Diode("D1", "S", "B"))
    assert depths(m) == {"V1": 0, "R1": 1, "R2": 2, "L1": 2, "T1": 0, "D1": 1}


def test_without_a_source_nothing_is_far_from_it():
    m = map_with([rm.Resistor("R1", "A", "B", ohms=1), rm.Resistor("R2", "0V", "0V", ohms=1)])
    assert depths(m) == {"R1": 0, "R2": 0}
    assert depths(rm.RailMap()) == place_parts(rm.RailMap()) == {}


def test_what_hangs_on_nothing_is_not_far():
    m = map_with([*chain(), rm.Resistor("R9", "X", "Y", ohms=1), rm.Source("V9", "0V", "0V", 5)])
    assert (depths(m)["R9"], depths(m)["V9"]) == (0, 0)


def test_from_the_source_to_the_right():
    places = place_parts(map_with(chain("Main"), Main=(300, 120)))
    assert sorted(places, key=lambda ref: places[ref].x_mm) == ["V1", "R1", "R2", "L1"]


def test_given_places_are_kept_free_and_left_alone():
    given_place = rm.Place(24, 28)
    places = place_parts(map_with(chain("Main", given_place), Main=(300, 120)))
    assert set(places) == {"V1", "R1", "L1"}
    assert not any(overlapping(place, given_place) for place in places.values())


@st.composite
def boards_full(draw):
    """A board with as many parts as it has room for, or fewer; some have a place in the grid."""
    across, rows = draw(st.integers(1, 6)), draw(st.integers(1, 5))
    m = rm.RailMap()
    m.add_board("Main", 48 + 44 * (across - 1) + draw(st.floats(0, 43)),
                40 + 27 * (rows - 1) + draw(st.floats(0, 26)))  # fmt: skip
    nodes = st.sampled_from(["0V", "A", "B", "C", "D"])
    taken = draw(st.integers(0, 2))
    for i in range(draw(st.integers(0, across * rows))):
        place = rm.Place(24 + 44 * (i % across), 28 + 27 * (i // across)) if i < taken else None
        part = draw(st.sampled_from([rm.Source, rm.Resistor]))
        more = {"volts": 5} if part is rm.Source else {"ohms": 5}
        m.add(part(f"X{i}", draw(nodes), draw(nodes), board="Main", place=place, **more))
    return m


@given(m=boards_full())
def test_while_there_is_room_all_are_on_the_board_and_apart(m):
    places = place_parts(m)
    board = m.boards["Main"]
    all_places = [p.place or places[p.ref] for p in m.parts.values()]
    assert not any(overlapping(*pair) for pair in combinations(all_places, 2))
    for place in places.values():
        assert TILE_MM[0] / 2 <= place.x_mm <= board.width_mm - TILE_MM[0] / 2
        assert TILE_MM[1] / 2 <= place.y_mm <= board.height_mm - TILE_MM[1] / 2


@given(m=maps())
def test_any_map(m):
    before = m.document()
    places = place_parts(m)
    assert set(places) == {p.ref for p in m.parts.values() if p.place is None}
    assert m.document() == before
    assert place_parts(m) == place_parts(m.copy()) == places
    for board in ("", *m.boards):
        found = [places[p.ref] for p in m.parts.values() if p.board == board and p.place is None]
        held = [p.place for p in m.parts.values() if p.board == board and p.place is not None]
        assert not any(overlapping(one, other) for one, other in combinations(found, 2))
        assert not any(overlapping(one, other) for one in found for other in held)


@pytest.mark.parametrize("parts", [7, 40])
def test_a_full_board_goes_on_below(parts):
    m = map_with(
        [rm.Resistor(f"R{i}", "A", "0V", ohms=1, board="Small") for i in range(parts)],
        Small=(60, 50),
    )
    places = list(place_parts(m).values())
    assert len(places) == parts
    assert not any(overlapping(*pair) for pair in combinations(places, 2))
    assert all(place.x_mm <= 60 - TILE_MM[0] / 2 for place in places)


@pytest.mark.parametrize("parts", [1, 5, 60])
def test_parts_of_no_board_are_left_of_all_boards(parts):
    m = map_with([rm.Resistor(f"R{i}", "A", "0V", ohms=1) for i in range(parts)])
    m.add_board("Main", 100, 100, x_mm=-50, y_mm=20)
    m.add_board("Rear", 100, 100, x_mm=80)
    right = max(place.x_mm + TILE_MM[0] / 2 for place in place_parts(m).values())
    assert right <= -50


def test_a_full_board_does_not_go_on_over_the_board_below():
    m = map_with(
        [rm.Resistor(f"R{i}", "A", "0V", ohms=1, board="Small") for i in range(9)], Small=(60, 50)
    )
    m.add_board("Below", 400, 300, x_mm=-20, y_mm=60)
    m.add(rm.Resistor("R10", "A", "0V", ohms=1))
    places = place_parts(m)
    at = {ref: on_floor(m, m.parts[ref], place) for ref, place in places.items()}
    assert len(set(at.values())) == 10
    wide, high = TILE_MM
    for (x, y), (other_x, other_y) in combinations(at.values(), 2):
        assert abs(x - other_x) >= wide or abs(y - other_y) >= high
    # One has room on the board; the others wait on the left.
    assert sum(x > 0 for x, _ in at.values()) == 1
    assert all(y < 60 or x + wide / 2 <= -20 for x, y in at.values())
