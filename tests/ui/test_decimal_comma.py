"""The decimal sign reaches every figure in the window, at once, and what is typed in its way."""

import ast
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication, QImage, QPainter
from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget
from window_reader import COMMAED, POINTED, Reader, with_comma

import railmap as rm
from railmap.bench.parts_sheet import to_csv
from railmap.figures import Figures
from railmap.model.railmap import Change
from railmap.resources import example_paths
from railmap.solve.solution import Finding
from railmap.ui import theme as themes
from railmap.ui.bridge import Picked
from railmap.ui.canvas.group import picked_of
from railmap.ui.canvas.scene import FloorScene
from railmap.ui.card import sweeping
from railmap.ui.card.figures import Figures as CardFigures
from railmap.ui.drawer import SHEETS
from railmap.ui.faces import COLOURINGS
from railmap.ui.habits import Habits
from railmap.ui.ladder.figures import Sight
from railmap.ui.ladder.view import LadderView
from railmap.ui.settings import Settings
from railmap.ui.window import Window
from railmap.ui.worksheets.notes import said

RECORDER = next(path for path in example_paths() if path.stem == "portable_tape_recorder")
UI = Path(themes.__file__).parent
FILLED = ("Hot list", "Rails", "Parts", "Ripple", "Cautions")
"""Worksheets that have figures to show of the recorder as it is opened."""


@pytest.fixture
def reader(
    window: Window, habits: Habits, settings: Settings, settle: Callable[[], None],
    monkeypatch: pytest.MonkeyPatch,
) -> Reader:  # fmt: skip
    """A reader of the recorder at 236.5 V, with drift and a caution, in a window with a comma."""
    found = Reader(window, settings, settle)
    whole = QPainter.drawText

    def draw_text(painter: QPainter, *given: Any) -> Any:
        found.painted += [text for text in given if isinstance(text, str)]
        return whole(painter, *given)

    monkeypatch.setattr(QPainter, "drawText", draw_text)
    # The curve of a part comes when things are at rest; it has a test of its own.
    monkeypatch.setattr(sweeping, "REST_MS", 10_000_000)
    found.turn(",")
    window.open_path(RECORDER)
    about = replace(window.bridge.map.about, mains_volts=220.5)
    # One end of a winding, which alternates and so stands below the ladder.
    rail = rm.Rail(AC_NODE, "AC")
    changes = [Change("about", None, about), Change("rails", None, rail)]
    assert window.bridge.do("Edit", changes)
    window.bridge.set_mains(236.5)
    window.bridge.set_drift("R102", 118.5)
    settle()
    assert not [name for name in _names(window.bridge.map) if POINTED.search(name)]
    return found


def _names(m: rm.RailMap) -> list[str]:
    rails = [name for rail in m.rails.values() for name in (rail.node, rail.name, rail.notes)]
    parts = [name for part in m.parts.values() for name in (*part.nodes, part.notes)]
    return [m.title, m.about.notes, *m.parts, *m.boards, *m.setups, *rails, *parts]


def _check(reader: Reader, places: tuple[str, ...], filled: bool = True) -> None:
    """Compare what is said with a comma, with a point, and with a comma again."""
    first = reader.texts(places)
    for place, texts in first.items():
        assert [text for text in texts if POINTED.search(text)] == [], place
        assert any(COMMAED.search(text) for text in texts) or not filled, place
    reader.turn(".")
    pointed = reader.texts(places)
    for place, texts in first.items():
        assert [with_comma(text) for text in pointed[place]] == texts, place
        assert [text for text in pointed[place] if COMMAED.search(text)] == [], place
        assert any(POINTED.search(text) for text in pointed[place]) or not filled, place
    reader.turn(",")
    again = reader.texts(places)
    for place, texts in first.items():
        assert again[place] == texts, place


def _picks(m: rm.RailMap) -> dict[str, Picked]:
    kinds = {part.kind: Picked("part", ref) for ref, part in m.parts.items()}
    picks = {"nothing": Picked(), **kinds, "drifting": Picked("part", "R102")}
    picks |= {f"rail {node}": Picked("rail", node) for node in list(m.rails)[:3]}
    picks |= {f"board {name}": Picked("board", name) for name in list(m.boards)[:1]}
    return {**picks, "several": picked_of(list(m.parts)[:4])}


MAP = rm.load(RECORDER)
PICKS = _picks(MAP)
LOAD = next(ref for ref, part in MAP.parts.items() if part.kind == "Load")
AC_NODE = next(part.nodes[0] for part in MAP.parts.values() if part.kind == "Winding")


@pytest.mark.parametrize("what", PICKS.values(), ids=PICKS.keys())
def test_every_card_with_all_that_is_around_it(
    reader: Reader, what: Picked, settle: Callable[[], None], qtbot: Any
) -> None:
    reader.window.bridge.pick(what)
    settle()
    qtbot.waitUntil(lambda: _nothing_is_awaited(reader.window.card.page), timeout=10_000)
    places = ("floor", "ladder", "faces", "words", "status", "mains", "actions", "card")
    _check(reader, places)


def _nothing_is_awaited(page: QWidget) -> bool:
    """Tell whether every figure is there: those of the surge take a moment."""
    return all("…" not in some.accessibleName() for some in page.findChildren(CardFigures))


@pytest.mark.parametrize("title", SHEETS)
def test_every_worksheet(reader: Reader, title: str, settle: Callable[[], None]) -> None:
    window = reader.window
    window.drawer.show_sheet(title)
    node = next(n for n, rail in window.bridge.map.rails.items() if rail.max_volts)
    rail = rm.Rail(node, max_volts=0.125)
    assert window.bridge.do("Edit", [Change("rails", node, rail)])
    window.bridge.pick(Picked("rail", node))
    settle()
    _check(reader, ("sheet",), filled=title in FILLED)


@pytest.mark.parametrize("colouring", COLOURINGS, ids=lambda colouring: colouring.word)
def test_every_colouring(reader: Reader, colouring: Any, settle: Callable[[], None]) -> None:
    reader.window.bridge.set_colouring(colouring)
    settle()
    _check(reader, ("floor", "ladder", "faces"))


@pytest.fixture
def ladder(reader: Reader, settle: Callable[[], None], qtbot: Any) -> LadderView:
    """A ladder with room for a scale and for words beside its tiles."""
    found = LadderView(reader.window.bridge, reader.window.theme)
    qtbot.addWidget(found)
    found.resize(1000, 700)
    found.show()
    settle()
    return found


@pytest.mark.parametrize("colouring", COLOURINGS, ids=lambda colouring: colouring.word)
def test_a_ladder_with_room(
    reader: Reader, ladder: LadderView, colouring: Any, settle: Callable[[], None]
) -> None:
    reader.window.bridge.set_colouring(colouring)
    found: dict[str, list[str]] = {}
    for sign in (",", ".", ","):
        ladder.set_theme(themes.light(Figures(sign)))
        texts: list[str] = []
        for sight in (Sight(-40.0, 60.0), Sight(14.0, 16.5)):
            ladder.scene.show_sight(sight)
            ladder.update()
            settle()
            reader.painted.clear()
            ladder.grab()
            texts += reader.painted
        assert [with_comma(text) for text in texts] == found.setdefault(",", texts)
        assert any("V AC" in text and sign in text for text in texts)
        scale = [text for text in texts if re.fullmatch(r"[+−]\d+[.,]\d", text)]
        assert scale
        assert all(sign in text for text in scale)
        if colouring.word == "Shift":
            assert any(re.search(rf"\{sign}\d %", text) for text in texts)


def test_the_scale_of_a_trace(reader: Reader) -> None:
    sheet = reader.window.drawer.ripple
    reader.window.drawer.setCurrentWidget(sheet)
    sheet.plot.setYRange(26.1, 26.9)
    sheet.plot.setXRange(0.0, 1.0)
    for sign in (".", ","):
        # An axis paints its figures once, and plays that back until something has changed.
        reader.painted.clear()
        reader.turn(sign)
        sheet.plot.grab()
        assert {f"0{sign}2", f"26{sign}4"} <= set(reader.painted)


def test_the_sweep_curve(
    reader: Reader, settle: Callable[[], None], qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweeping, "REST_MS", 0)
    reader.window.bridge.pick(Picked("part", "R102"))
    settle()
    said_with: dict[str, list[str]] = {}
    for sign in (",", "."):
        reader.turn(sign)
        curve = reader.window.card.page.sweep.curve  # type: ignore[attr-defined]
        qtbot.waitUntil(lambda curve=curve: curve._sweep is not None, timeout=10_000)
        reader.painted.clear()
        curve.grab()
        said_with[sign] = list(reader.painted)
    assert any(POINTED.search(text) for text in said_with["."])
    assert [with_comma(text) for text in said_with["."]] == said_with[","]


def test_without_figures_values_are_written_all_the_same(
    reader: Reader, settle: Callable[[], None]
) -> None:
    # As where a map cannot be solved any more.
    reader.window.bridge._forget()
    reader.window.bridge.unsolved.emit()
    settle()
    floor = reader.window.view.floor
    assert floor.parts["R102"].face.figure == ""
    _check(reader, ("faces",))


def test_a_view_without_a_bridge(plain_app: object, divider: rm.RailMap) -> None:
    scene = FloorScene(themes.light())
    scene.show_map(divider)
    scene.show_solution(rm.solve(divider))
    assert next(tag.text for tag in scene.tags if tag.node == "A") == "+6  +6.00 V"
    scene.set_theme(themes.dark(Figures(",")))
    assert next(tag.text for tag in scene.tags if tag.node == "A") == "+6  +6,00 V"
    scene.deleteLater()


def test_everything_is_painted_anew_at_once(reader: Reader, settle: Callable[[], None]) -> None:
    """With the caches on, as in use: no view keeps a picture of the other sign."""
    window = reader.window
    window.bridge.pick(Picked("part", "R102"))
    settle()
    window.view.zoom_to(Picked("part", "R102"))
    views = (window.view.viewport(), window.ladder, window.card, window.drawer, window.mains)

    def seen() -> list[QImage]:
        settle()
        return [v.grab().toImage() for v in (*views, window.statusBar())]

    comma = seen()
    reader.turn(".")
    point = seen()
    assert [one == other for one, other in zip(comma, point, strict=True)] == [False] * len(comma)
    reader.turn(",")
    assert seen() == comma


# Sentences


def test_a_reason_above_the_floor_follows(reader: Reader) -> None:
    message = reader.window.message
    reader.window.bridge.trouble.emit("R1.5: ohms must be above 0.5, is -1.25.")
    assert message.text.text() == "R1.5: ohms must be above 0,5, is -1,25."
    reader.turn(".")
    assert message.text.accessibleName() == "R1.5: ohms must be above 0.5, is -1.25."


def test_what_the_circuit_says(reader: Reader, settle: Callable[[], None]) -> None:
    m = rm.RailMap("Low")
    m.add(rm.Source("V1", "+5.1", "0V", volts=4.5))
    m.add(rm.Regulator("U1", "+5.1", "OUT", "0V", volts=5.25))
    m.add(rm.Load("L1", "OUT", "0V", amps=0.1))
    reader.window.bridge.open_map(m, None)
    settle()
    texts = [item.text() for item in _items(reader.window.drawer.cautions)]
    assert any(text.endswith("its input is too low to hold 5,25 V.") for text in texts)
    assert any("5.25 V" in finding.sentence for finding in rm.solve(m).findings)


def _items(cautions: Any) -> list[Any]:
    return [cautions.item(row) for row in range(cautions.count())]


def test_names_in_a_sentence_stay() -> None:
    told = Finding("island", "+5.1 has no path to 0 V at 1.5 V.", ("R1",), ("+5.1",))
    assert said(told, Figures(",")) == "+5.1 has no path to 0 V at 1,5 V."
    assert said(told, Figures()) == told.sentence


def test_reasons_on_the_card(reader: Reader, clerk: Any) -> None:
    page = clerk.pick("part", "R102")
    clerk.fill("ohms", "-1,25")
    assert page.form.complaint() == "Ohms must be above 0, is -1,25."
    clerk.fill("ohms", "1.234")
    assert page.form.complaint().startswith("'1.234' could be 1,23 Ω or 1,23 kΩ")
    assert "write 1R234 or 1k234" in page.form.complaint()


# What is typed is read as it is shown.


def test_values_of_the_card_are_read_back(reader: Reader, clerk: Any) -> None:
    m = reader.window.bridge.map
    page = clerk.pick("part", LOAD)
    clerk.fill("at_volts", "1,234")
    assert m.parts[page.ref].at_volts == 1.234
    assert page.form.editors["at_volts"].text() == "1,234V"
    undo = reader.window.bridge.history.undo_name
    clerk.fill("at_volts", "1,234V")
    assert reader.window.bridge.history.undo_name == undo
    reader.turn(".")
    assert clerk.page.form.editors["at_volts"].text() == "1.234V"


def test_drift_is_typed_with_it(reader: Reader, clerk: Any) -> None:
    page = clerk.pick("part", "R102")
    clerk.write(page.drift._value, "1,234k")
    assert reader.window.bridge.drift["R102"] == 1234.0


def test_it_is_found_as_it_is_shown(reader: Reader) -> None:
    window, ref = reader.window, "R101"
    part = window.bridge.map.parts[ref].changed(rated_watts=1.234)
    assert window.bridge.change_part("Edit", part)
    window.finder.line.setText("1,234W")
    assert Picked("part", ref) in window.finder.matches
    reader.turn(".")
    # With a point it may mark thousands, so it is no value.
    assert window.finder.matches == ()


@pytest.fixture
def grid(reader: Reader, settle: Callable[[], None]) -> Any:
    """The parts table in front, with a load whose cells have figures of four digits."""
    window = reader.window
    part = window.bridge.map.parts["R101"].changed(rated_watts=1.234)
    assert window.bridge.change_part("Edit", part)
    window.drawer.go_to("Parts")
    settle()
    return window.drawer.parts.grid


def _cell(grid: Any, column: str) -> Any:
    titles = [
        grid.table.headerData(i, Qt.Orientation.Horizontal) for i in range(grid.table.columnCount())
    ]
    return grid.table.index(grid.table.row_of("parts", "R101"), titles.index(column))


def test_a_cell_is_edited_as_it_is_shown(reader: Reader, grid: Any) -> None:
    m, cell = reader.window.bridge.map, _cell(grid, "Rating")
    assert cell.data() == cell.data(Qt.ItemDataRole.EditRole) == "1,234W"
    assert not grid.table.setData(cell, "1,234W")
    assert grid.table.setData(cell, "2,345W")
    assert m.parts["R101"].rated_watts == 2.345
    assert grid.table.setData(cell, "1.234 V")
    reason = cell.data(Qt.ItemDataRole.ToolTipRole)
    assert reason == "R101, rating: '1.234 V' is in volts; watts are wanted here."
    assert grid.table.setData(cell, "much")
    assert cell.data(Qt.ItemDataRole.ToolTipRole).startswith("R101, rating: 'much' cannot be read")
    reader.turn(".")
    assert cell.data() == "much"


def test_what_a_cell_takes_is_told_with_it(reader: Reader, grid: Any) -> None:
    row = next(r for r, line in enumerate(grid.table.lines) if line.row.key == LOAD)
    grid.setCurrentIndex(_cell(grid, "Drawn").siblingAtRow(row))
    told = reader.window.drawer.parts.line
    assert "like 105mA at 27,5V resistive" in told.text()
    reader.turn(".")
    assert "like 105mA at 27.5V resistive" in told.text()


def test_a_cell_that_is_open_follows(reader: Reader, grid: Any, settle: Callable[[], None]) -> None:
    cell = _cell(grid, "Rating")
    grid.setCurrentIndex(cell)
    grid.edit(cell)
    editor = grid.indexWidget(cell) or grid.viewport().findChild(QLineEdit)
    assert editor.text() == "1,234W"
    reader.turn(".")
    assert editor.text() == "1.234W"
    editor.setText("1.25W")
    editor.setModified(True)
    reader.turn(",")
    assert editor.text() == "1.25W"


def test_a_row_that_waits_keeps_its_sign(reader: Reader, grid: Any) -> None:
    """Typed with a comma it means the same when the sign is turned before the row is good."""
    m, rating = reader.window.bridge.map, _cell(grid, "Rating")
    assert grid.table.setData(_cell(grid, "From"), "")
    assert grid.table.setData(rating, "2,345W")
    assert m.parts["R101"].rated_watts == 1.234
    reader.turn(".")
    assert rating.data() == "2,345W"
    assert reader.window.bridge.change_part("Edit", m.parts["R103"].changed(notes="seen"))
    assert "2,345" not in str(rating.data(Qt.ItemDataRole.ToolTipRole))


def test_cells_are_copied_and_pasted_with_it(reader: Reader, grid: Any) -> None:
    m, cell = reader.window.bridge.map, _cell(grid, "Rating")
    grid.setCurrentIndex(cell)
    grid.copy()
    assert QGuiApplication.clipboard().text().strip() == "1,234W"
    assert grid.table.setData(cell, "5W")
    grid.paste()
    assert m.parts["R101"].rated_watts == 1.234


def test_parts_are_copied_and_pasted_with_it(
    reader: Reader, grid: Any, settle: Callable[[], None]
) -> None:
    window = reader.window
    window.bridge.pick(Picked("part", "R101"))
    window.view.commands.copy()
    text = QGuiApplication.clipboard().text()
    assert "1,234W" in text
    QGuiApplication.clipboard().setText(text)
    before = set(window.bridge.map.parts)
    window.view.commands.paste()
    settle()
    (new,) = set(window.bridge.map.parts) - before
    assert window.bridge.map.parts[new].rated_watts == 1.234


# Files keep the point; pictures have the sign of the window.


def test_files_keep_the_point(reader: Reader, grid: Any, tmp_path: Path) -> None:
    window, sheet = reader.window, reader.window.drawer.parts
    sheet.write(tmp_path / "parts.csv")
    assert (tmp_path / "parts.csv").read_bytes().decode("utf-8-sig") == to_csv(window.bridge.map)
    assert "1.234W" in to_csv(window.bridge.map)
    before = window.bridge.map.copy()
    sheet.read(tmp_path / "parts.csv")
    assert grid.table.waiting == 0
    assert window.bridge.map == before
    rm.save(window.bridge.map, tmp_path / "a.railmap")
    assert rm.load(tmp_path / "a.railmap") == before


@pytest.mark.parametrize("view", ["picture", "picture_ladder"])
@pytest.mark.parametrize("sign", [",", "."])
def test_pictures_have_the_sign_of_the_window(
    reader: Reader, view: str, sign: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.svg"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(out), ""))
    reader.turn(sign)
    reader.window.commands[view].trigger()
    root = ElementTree.parse(out).getroot()
    texts = ["".join(e.itertext()) for e in root.iter() if e.tag.endswith("}text")]
    wanted, other = (COMMAED, POINTED) if sign == "," else (POINTED, COMMAED)
    assert [text for text in texts if other.search(text)] == []
    assert sum(bool(wanted.search(text)) for text in texts) > 10
    assert any(f"at 236{sign}5 V mains" in text for text in texts)


# Nothing in the window writes figures past the style that it was handed.

WAYS = {"sign", "words"}


@pytest.mark.parametrize("path", sorted(UI.rglob("*.py")), ids=lambda p: str(p.relative_to(UI)))
def test_nothing_writes_figures_in_a_way_of_its_own(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "railmap.units":
            assert {alias.name for alias in node.names} <= {"DecimalSign"}
        if isinstance(node, ast.FunctionDef) and any(map(_has_decimals, ast.walk(node))):
            names = {n.attr for n in ast.walk(node) if isinstance(n, ast.Attribute)}
            assert names & WAYS, f"{node.name} writes decimals"


def _has_decimals(node: ast.AST) -> bool:
    """Tell whether a value in a text is written with a decimal sign, if it has decimals."""
    if not isinstance(node, ast.FormattedValue) or node.format_spec is None:
        return False
    spec = ast.unparse(node.format_spec)[2:-1]
    return bool(re.search(r"[gfe]$", spec)) and not spec.endswith(".0f")
