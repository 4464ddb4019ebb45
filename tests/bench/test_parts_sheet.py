"""Sheets of parts: headers, delimiters, formulas, files, and nothing lost on the way."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from parts_rows import enter
from strategies import maps, texts

import railmap as rm
from railmap.bench.history import History
from railmap.bench.part_columns import (
    MAIN_COLUMNS,
    TITLES,
)
from railmap.bench.parts_entry import entered, paste_name
from railmap.bench.parts_sheet import (
    column_named,
    is_header,
    read_file,
    read_sheet,
    to_csv,
    to_text,
    write_file,
)
from railmap.bench.parts_table import read_rows
from railmap.errors import FileError, MapError, UnitError
from railmap.figures import POINT, Figures


def enter_text(m, text):
    return enter(m, *read_sheet(text).typed())


@pytest.fixture
def small():
    m = rm.RailMap()
    m.add_board("Main", 160, 100)
    m.add(rm.Resistor("R1", "RAW", "A", ohms=150.00000001, board="Main", place=rm.Place(30, 30),
                      technology="wirewound").with_found(160.0, date="2020-01-02"))  # fmt: skip
    m.add(rm.Link("J1", "A", "B", accessory=True))
    m.add_rail("A", "+12", label_volts=12)
    m.add_setup(accessories_out=["J1"], unplugged=["Main"])
    return m


def test_one_paste_is_one_step(small) -> None:
    history = History(small)
    before = small.copy()
    readings = read_rows(small, read_sheet("R5\t\t1k\t\t\t1W\tA\tB\t\t\tNew").typed())
    history.do(paste_name(readings), entered(small, readings))
    after = small.copy()
    assert history.undo_name == "Paste 1 row"
    history.undo()
    assert small == before
    history.redo()
    assert small == after


def test_headers_in_any_order_and_in_trade_words() -> None:
    text = (
        "Board,Rated power (W),Value (ohm),Node 1,Node 2,Circuit ref.,Supplier\nA,2,33,P0,P1,R1,x"
    )
    sheet = read_sheet(text)
    assert sheet.unknown == ("Supplier",)
    m = rm.RailMap()
    enter(m, *sheet.typed())
    part = m.parts["R1"]
    assert (part.ohms, part.rated_watts, part.nodes, part.board) == (33, 2, ("P0", "P1"), "A")


def test_a_unit_in_the_title_holds_for_bare_figures() -> None:
    m = rm.RailMap()
    enter_text(m, "Ref;Kind;Current [mA];From\nL1;load;105;A\nL2;load;0,2A;A")
    assert [part.amps for part in m.parts.values()] == [0.105, 0.2]


def test_without_a_header_the_order_is_that_of_the_table() -> None:
    assert [TITLES[c] for c in MAIN_COLUMNS] == [
        "Reference", "Kind", "Drawn", "Fitted", "Found", "Rating", "From", "To", "3rd pin",
        "4th pin", "Board", "Limit", "Notes",
    ]  # fmt: skip
    m = rm.RailMap()
    enter_text(m, "R1\tresistor\t33R\t\t39R2\t2W\tP0\tP1\t\t\tA\t\tscorched\n\n")
    assert m.parts["R1"].notes == "scorched"
    assert read_sheet("39R2\n40R", start="found").typed()[1].texts == {"found": "40R"}


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_the_delimiter_is_found(delimiter) -> None:
    rows = [["Reference", "Drawn", "From", "To", "Notes"], ["R1", "4,7k", "A", "B", 'say "a;b,c"']]
    sheet = read_sheet(to_text(rows, delimiter))
    assert sheet.typed()[0].texts["notes"] == 'say "a;b,c"'
    assert sheet.typed()[0].texts["drawn"] == "4,7k"


@pytest.mark.parametrize(
    ("text", "cells"),
    [
        ("39,2R\n40,5R", [{"drawn": "39,2R"}, {"drawn": "40,5R"}]),
        ("\n1,5W\t1,5A", [{"drawn": "1,5W", "fitted": "1,5A"}]),
        ("1,5W;a, b", [{"drawn": "1,5W", "fitted": "a, b"}]),
        ("33R,39R", [{"drawn": "33R", "fitted": "39R"}]),
        ("5", [{"drawn": "5"}]),
    ],
)
def test_a_decimal_comma_parts_no_cells(text, cells) -> None:
    comma = Figures(",")
    rows = read_sheet(text, "drawn", comma).typed()
    assert [(row.texts, row.figures) for row in rows] == [(one, comma) for one in cells]
    assert all(row.figures == comma for row in read_sheet(text, "drawn", comma).typed_by_place())


def test_a_complete_sheet_has_a_point_for_every_reader() -> None:
    m = rm.RailMap()
    m.add(rm.Resistor("R1", "A", "B", ohms=1, rated_watts=1.234))
    sheet = read_sheet(to_csv(m), figures=Figures(","))
    assert {row.figures for row in sheet.typed()} == {POINT}
    assert [reading.item for reading in read_rows(m, sheet.typed())] == [m.parts["R1"]]


def test_headers_that_cannot_be() -> None:
    with pytest.raises(MapError, match=r"^the columns Value and Drawn both mean drawn$"):
        read_sheet("Ref,Value,Drawn\nR1,1,2")
    with pytest.raises(MapError, match=r"^row 3 has 3 cells, but there are 2 columns$"):
        read_sheet("Ref,Value\nR1,1\nR2,2,3").typed()
    assert read_sheet("").typed() == []
    assert column_named("") == ("", "")
    assert not is_header(["Load"])


def test_formulas_go_out_as_text() -> None:
    m = rm.RailMap()
    m.add(rm.Resistor("=1+1", "+29", "@A", ohms=1, board="", notes=" =cmd()\n-1"))
    m.add(rm.Source("'V1", "-28", "\N{FULLWIDTH EQUALS SIGN}B", volts=-24))
    text = to_csv(m)
    for line in read_sheet_raw(text):
        for cell in line:
            assert cell.lstrip()[:1] not in tuple("=+-@\uff1d\t\r")
    assert copied(m).parts == m.parts


def read_sheet_raw(text):
    """The cells as a spreadsheet would see them."""
    import csv
    import io

    return list(csv.reader(io.StringIO(text, newline="")))


def copied(m):
    twin = rm.RailMap()
    readings = read_rows(twin, read_sheet(to_csv(m)).typed())
    assert [reading.reasons or reading.missing for reading in readings if not reading.item] == []
    twin.change(entered(twin, readings))
    return twin


@given(maps())
def test_nothing_is_lost_through_a_sheet(m) -> None:
    """Every field of every part, rail and board, in order; pictures and history are no text."""
    twin = copied(m)
    for name, board in m.boards.items():
        m.boards[name] = replace(board, photo=None, marks=())
    for ref, part in m.parts.items():
        m.parts[ref] = part.changed(earlier=())
    for table in ("boards", "rails", "parts"):
        assert list(twin.table(table).items()) == list(m.table(table).items())
    before = m.copy()
    readings = read_rows(m, read_sheet(to_csv(m)).typed())
    m.change(entered(m, readings))
    assert m == before


@given(st.lists(st.lists(texts, min_size=2, max_size=5), min_size=1, max_size=4))
def test_cells_come_back_from_text(rows) -> None:
    rows = [
        ["Reference", "Kind", "Notes", "From", "To"],
        *(["R1", *r[1:], *"x" * (5 - len(r))] for r in rows),
    ]
    for delimiter in ",;\t":
        assert read_sheet(to_text(rows, delimiter)).rows == rows[1:]


def _refusal(text):
    """What is said of a sheet that cannot be taken; empty if it can."""
    m = rm.RailMap()
    try:
        m.change(entered(m, read_rows(m, read_sheet(text).typed())))
    except (MapError, UnitError) as error:
        return str(error)
    return ""


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_a_sentence(text) -> None:
    assert "\n" not in _refusal(text)


def test_files(tmp_path: Path, small) -> None:
    path = tmp_path / "parts.csv"
    write_file(path, to_csv(small))
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    assert read_file(path) == to_csv(small)
    assert list(tmp_path.iterdir()) == [path]
    path.write_bytes("Ref\tDrawn".encode("utf-16"))
    assert read_file(path) == "Ref\tDrawn"
    path.write_bytes(b"R1,4\xb5")
    with pytest.raises(FileError, match=r"parts.csv is not text in UTF-8; save the sheet"):
        read_file(path)
    with pytest.raises(FileError, match="cannot be read: no such file"):
        read_file(tmp_path / "none.csv")
    with pytest.raises(FileError, match="cannot be written: no such file"):
        write_file(tmp_path / "none" / "a.csv", to_csv(small))
