"""The rows of the parts table, and the boards, rails and places that come of them."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from parts_rows import R1, enter, row

import railmap as rm
from railmap.bench.part_columns import (
    COLUMNS,
    SPECS,
    TITLES,
)
from railmap.bench.parts_entry import entered, paste_name, refused_sentence, removal_name, removed
from railmap.bench.parts_sheet import (
    read_sheet,
)
from railmap.bench.parts_table import Row, describe, of_known_item, read_row, read_rows
from railmap.bench.placing import TILE_MM


def test_a_row_makes_a_part() -> None:
    reading = read_row(rm.RailMap(), row(**R1, rating="2W", board="A", fitted="33R", found="39R2"))
    part = reading.item
    assert isinstance(part, rm.Resistor)
    assert (part.ohms, part.rated_watts, part.nodes, part.board) == (33, 2, ("P0", "P1"), "A")
    assert part.now() == 39.2
    assert part.fitted == {"ohms": rm.Known(33.0)}


def test_what_hangs_on_zero_needs_no_second_node() -> None:
    m = rm.RailMap()
    for ref, more in (("X1", "0.1A"), ("C1", "470u"), ("ZD1", "6.8V"), ("V1", "24V")):
        assert read_row(m, row(ref=ref, drawn=more, from_="A")).item.nodes == ("A", "0V")
    regulator = read_row(m, row(ref="U1", drawn="12V", from_="A", to="B")).item
    assert regulator.nodes == ("A", "B", "0V")
    assert read_row(m, row(ref="R1", drawn="1k", from_="A")).missing == {
        "to": "R1, to: name the node that it goes to."
    }


@pytest.mark.parametrize("name", ["0", "0v", "0 V", "GND", "ground"])
def test_other_names_of_zero(name) -> None:
    m = rm.RailMap()
    assert read_row(m, row(**{**R1, "to": name})).item.b == "0V"
    m.add(rm.Resistor("R9", name, "B", ohms=1))
    assert read_row(m, row(**{**R1, "to": name})).item.b == name


@pytest.mark.parametrize(
    ("typed", "column", "reason"),
    [
        ({**R1, "ref": "R\x07"}, "ref",
         "R\x07, reference: the reference 'R\\x07' holds a character that cannot be printed."),
        ({**R1, "ref": "R9"}, "ref", "R9, reference: there is already a part 'R9'."),
        ({**R1, "kind": "resister"}, "kind", "R1, kind: 'resister' is no kind known here; the kinds"
         " are Source, Winding, Diode, Bridge rectifier, Resistor, Capacitor, Choke, Load, Zener"
         " diode, Linear regulator, Switching converter, Pass transistor, Link, Switch, Fuse, Rail,"
         " Board."),
        ({**R1, "drawn": "33 V"}, "drawn",
         "R1, drawn: '33 V' is in volts; ohms are wanted here."),
        ({**R1, "fitted": "lots"}, "fitted",
         "R1, fitted: 'lots' cannot be read as ohms; write it like 4k7 or 150R."),
        ({**R1, "found": "-5"}, "found", "R1, found: ohms must be above 0, is -5."),
        ({**R1, "rating": "2A"}, "rating",
         "R1, rating: '2A' is in amps; watts are wanted here."),
        ({**R1, "from_": "A\tB"}, "from",
         "R1, from: the name 'A\\tB' holds a character that cannot be printed."),
        ({**R1, "to": "N" * 130}, "to", "R1, to: the name is longer than 120 characters."),
        ({**R1, "third": "X"}, "third",
         "R1, 3rd pin: a resistor has nothing here; leave it empty."),
        ({**R1, "fourth": "X"}, "fourth",
         "R1, 4th pin: a resistor has nothing here; leave it empty."),
        ({**R1, "board": "A\x00"}, "board",
         "R1, board: the name 'A\\x00' holds a character that cannot be printed."),
        ({**R1, "limit": "high"}, "limit",
         "R1, limit: 'high' cannot be read as volts; write it like 24mV or 12.5V."),
        ({**R1, "tolerance_pct": "200%"}, "tolerance_pct",
         "R1, tolerance: tolerance must be at least 0 and at most 100, is 200."),
        ({**R1, "found_date": "2024-05-01"}, "found",
         "R1, found: there is a date or a source, but no found value."),
        ({**R1, "fitted_other": "[1]"}, "fitted",
         'R1, fitted: other fitted values are written like {"esr_ohms": {"value": 0.3}}.'),
        ({**R1, "place_x_mm": "3"}, "place_x_mm",
         "R1, place from left: a place needs both its lengths, from left and from top."),
        ({**R1, "rated_c": "70", "zero_c": "60"}, "zero_c",
         "R1, no power from: temperature of no power must be above temperature of full power"
         " (70), is 60."),
        ({"ref": "X1", "drawn": "20mA lamp", "from_": "A"}, "drawn",
         "X1, drawn: a lamp load given in amps needs the volts at which that holds, as in 105mA at"
         " 27.5V resistive."),
        ({"ref": "ZD1", "drawn": "5V 6R", "test_amps": "1A", "from_": "A"}, "drawn",
         "ZD1, drawn: ohms times test amps must be below zener volts."),
        ({"ref": "A1\n", "kind": "board", "drawn": "1m"}, "drawn",
         "A1, drawn: '1m' cannot be read here; write it like 160mm x 100mm."),
        ({"ref": "P1", "kind": "rail", "board": "A"}, "board",
         "P1, board: a rail has nothing here; leave it empty."),
    ],
)  # fmt: skip
def test_a_bad_row_says_where_and_why(typed, column, reason) -> None:
    m = rm.RailMap()
    m.add(rm.Resistor("R9", "A", "B", ohms=1))
    before = m.copy()
    reading = read_row(m, row(**typed))
    assert reading.item is None
    assert reading.reasons == {column: reason}
    assert m == before


def test_a_row_that_is_not_complete_says_what_it_needs() -> None:
    m = rm.RailMap()
    assert set(read_row(m, row(drawn="33R")).missing) == {"ref", "kind"}
    assert set(read_row(m, row(ref="R1")).missing) == {"drawn", "from", "to"}
    assert set(read_row(m, row(ref="X1")).missing) == {"drawn", "from"}
    assert set(read_row(m, row(ref="D1", kind="bridge")).missing) == {
        "from", "to", "third", "fourth",
    }  # fmt: skip


@pytest.fixture
def small():
    m = rm.RailMap()
    m.add_board("Main", 160, 100)
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150.00000001, board="Main", place=rm.Place(30, 30),
                      technology="wirewound").with_found(160.0, date="2020-01-02"))  # fmt: skip
    m.add(rm.Link("J1", "A", "B", accessory=True))
    m.add_rail("A", "+12", label_volts=12)
    m.add_setup(accessories_out=["J1"], unplugged=["Main"])
    m.add_revision("late", values={"R1": {"ohms": 120, "rated_watts": 2}})
    return m


def edit(m, table, key, **typed):
    texts_typed = row(**typed).texts
    reading = read_row(m, Row(texts_typed, table, key))
    assert not reading.reasons
    old = m.table(table)[key]
    name = describe(old, reading.item)
    m.change(entered(m, [reading]))
    return name


def test_an_edit_touches_only_its_column(small) -> None:
    before = small.parts["R1"]
    assert edit(small, "parts", "R1", rating="1/2W") == "Change rating of R1"
    assert small.parts["R1"] == before.changed(rated_watts=0.5)
    assert edit(small, "parts", "R1", to="C") == "Join R1 to C"
    assert edit(small, "parts", "R1", drawn="120R") == "Change drawn value of R1"
    assert small.parts["R1"] == before.changed(rated_watts=0.5, b="C", ohms=120.0)
    assert edit(small, "parts", "R1", found="") == "Change R1"
    assert small.parts["R1"].found == {}


def test_another_kind_takes_over_what_it_can(small) -> None:
    small.change([rm.model.railmap.Change("parts", "R1", small.parts["R1"].changed(notes="hot"))])
    assert edit(small, "parts", "R1", kind="fuse") == "Change R1"
    part = small.parts["R1"]
    assert isinstance(part, rm.Fuse)
    assert (part.ohms, part.nodes, part.notes, part.place) == (
        150.00000001, ("RAW", "A"), "hot", rm.Place(30, 30),
    )  # fmt: skip
    assert small.revisions["late"].values == {"R1": {"ohms": 120.0}}
    reading = read_row(small, Row({"kind": "rail"}, "parts", "R1"))
    assert reading.reasons == {"kind": "R1, kind: a row of the parts cannot become a rail."}


def test_renaming_reaches_all_mentions(small) -> None:
    assert edit(small, "parts", "J1", ref="J9") == "Rename J1 to J9"
    assert edit(small, "boards", "Main", ref="Supply") == "Rename Main to Supply"
    assert edit(small, "rails", "A", ref="B2") == "Rename A to B2"
    assert small.setups["as used"].accessories_out == ("J9",)
    assert small.setups["as used"].unplugged == ("Supply",)
    assert (small.parts["R1"].board, small.parts["R1"].b, small.parts["J9"].a) == (
        "Supply", "B2", "B2",
    )  # fmt: skip
    assert small.rails["B2"].label_volts == 12


def test_a_part_on_another_board_gets_a_place_there(small) -> None:
    assert edit(small, "parts", "R1", board="Other") == "Move R1 to Other"
    assert small.boards["Other"].width_mm > 100
    assert small.parts["R1"].place not in (None, rm.Place(30, 30))
    edit(small, "parts", "R1", rating="1W")
    place = small.parts["R1"].place
    edit(small, "parts", "R1", board="")
    assert small.parts["R1"].place != place


def test_a_place_that_was_typed_stays(small) -> None:
    edit(small, "parts", "R1", board="Other", place_x_mm="11", place_y_mm="12", turn="90")
    assert small.parts["R1"].place == rm.Place(11, 12, 90)


def test_rows_take_each_other_into_account(small) -> None:
    rows = [row(**R1 | {"ref": "R2"}), row(**R1 | {"ref": "R2"}), row(ref="P1", drawn="27V")]
    first, second, rail = read_rows(small, rows)
    assert first.item is not None
    assert second.reasons == {"ref": "R2, reference: it stands in the sheet twice."}
    assert rail.item == rm.Rail("P1", label_volts=27)
    said = refused_sentence([first, second, rail])
    assert said == "1 row waits to be put right. R2, reference: it stands in the sheet twice."
    assert refused_sentence([first]) == ""
    assert paste_name([first, second, rail]) == "Paste 2 rows"


def test_a_sheet_changes_the_parts_it_names(small) -> None:
    readings = read_rows(small, read_sheet("Ref\tMeasured\nR1\t161\nJ1\t").typed())
    small.change(entered(small, readings))
    assert small.parts["R1"].now() == 161.0
    assert small.parts["R1"].found["ohms"].date == "2020-01-02"
    assert small.parts["J1"].found == {}
    assert of_known_item(small, row(ref="A")).table == "rails"
    assert of_known_item(small, row(ref="Main")).table == "boards"


@given(st.sampled_from(COLUMNS), st.text(max_size=30), st.sampled_from(sorted(SPECS)))
def test_any_cell_is_read_or_refused_with_its_place(column, text, kind) -> None:
    reading = read_row(rm.RailMap(), Row({"ref": "R1", "kind": kind, column: text}))
    for where, reason in reading.reasons.items():
        assert f", {TITLES[where].lower()}: " in reason
        assert reason.endswith(".")


def test_boards_and_rails_come_by_being_named() -> None:
    m = rm.RailMap()
    enter(m, row(**R1 | {"from_": "+33", "to": "-6,8V"}, board="A"))
    assert list(m.boards) == ["A"]
    assert {r.node: r.label_volts for r in m.rails.values()} == {"+33": 33.0, "-6,8V": -6.8}
    enter(m, row(ref="R2", drawn="1k", from_="+33", to="0V", board="B"))
    assert list(m.boards) == ["A", "B"]
    one, two = m.boards.values()
    assert two.x_mm >= one.x_mm + one.width_mm
    assert len(m.rails) == 2


def test_a_rail_that_has_its_row_is_not_made_twice() -> None:
    m = rm.RailMap()
    enter(m, row(ref="+33", drawn="32V", limit="50V"), row(**R1 | {"from_": "+33"}))
    assert m.rails == {"+33": rm.Rail("+33", label_volts=32, max_volts=50)}


def _apart(m) -> None:
    for one, other in combinations(m.parts.values(), 2):
        if one.board == other.board:
            a, b = one.place, other.place
            assert abs(a.x_mm - b.x_mm) >= TILE_MM[0] or abs(a.y_mm - b.y_mm) >= TILE_MM[1]


@pytest.mark.parametrize("at_once", [True, False])
def test_parts_lie_apart_on_boards_that_grow(at_once) -> None:
    m = rm.RailMap()
    rows = [
        row(ref=f"R{i}", drawn="1k", from_=f"N{i}", to=f"N{i + 1}", board="AB"[i % 2])
        for i in range(50)
    ]
    for some in [rows] if at_once else [[one] for one in rows]:
        enter(m, *some)
    _apart(m)
    for part in m.parts.values():
        board = m.boards[part.board]
        assert 0 < part.place.x_mm < board.width_mm
        assert 0 < part.place.y_mm < board.height_mm
    one, two = m.boards.values()
    assert two.x_mm >= one.x_mm + one.width_mm


def test_a_board_of_given_size_does_not_grow(small) -> None:
    for i in range(30):
        enter(small, row(ref=f"R{i + 10}", drawn="1k", from_="A", to="B", board="Main"))
    assert (small.boards["Main"].width_mm, small.boards["Main"].height_mm) == (160, 100)
    _apart(small)


def test_a_board_does_not_grow_into_another() -> None:
    m = rm.RailMap()
    enter(m, row(**R1, board="A"))
    board = m.boards["A"]
    m.add_board("Below", 100, 100, x_mm=0, y_mm=board.height_mm + 1)
    for i in range(30):
        enter(m, row(ref=f"R{i + 10}", drawn="1k", from_="A", to="B", board="A"))
    assert m.boards["A"] == board


def test_rows_go_with_all_mentions(small) -> None:
    keys = [("parts", "J1"), ("rails", "A"), ("boards", "Main"), ("parts", "R1")]
    assert removal_name(keys) == "Delete 4 rows"
    assert removal_name([("rails", "A")]) == "Delete rail A"
    small.change(removed(small, keys))
    assert [len(small.table(table)) for table in ("parts", "boards", "rails")] == [0, 0, 0]
    assert small.revisions["late"].values == {}
    assert small.setups["as used"].accessories_out == ()
