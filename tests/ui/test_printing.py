"""Floor and ladder on paper: printed to a PDF file and read back."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter

import railmap as rm
from railmap.errors import MapError, NotYetError
from railmap.figures import POINT, Figures
from railmap.resources import example_paths
from railmap.ui import bridge as bridge_module
from railmap.ui import theme as themes
from railmap.ui.picture import sheet_of
from railmap.ui.printing import Page, page_of, prepare, print_page
from railmap.ui.title_block import NOTE, heading_of
from railmap.ui.window import Window

LYING, UPRIGHT = QPageLayout.Orientation.Landscape, QPageLayout.Orientation.Portrait
A4_POINTS = (595, 842)
"""ISO 216: 210 by 297 mm."""
Accepted, Rejected = QPrintDialog.DialogCode.Accepted, QPrintDialog.DialogCode.Rejected


def to_file(path: Path, paper: Any = QPageSize.PageSizeId.A4) -> QPrinter:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(path))
    printer.setPageSize(QPageSize(paper))
    return printer


def size_of(data: bytes) -> tuple[int, int]:
    """The size of the only page of a PDF file, points."""
    assert data.startswith(b"%PDF-")
    assert data.count(b"/Type /Page\n") == 1
    found = re.search(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", data)
    assert found is not None
    return round(float(found[1])), round(float(found[2]))


def printed(page: Page, path: Path, paper: Any = QPageSize.PageSizeId.A4) -> bytes:
    printer = to_file(path, paper)
    prepare(printer, page)
    print_page(printer, page)
    page.close()
    return path.read_bytes()


@pytest.mark.parametrize("view", ["floor", "ladder"])
@pytest.mark.parametrize("example", example_paths(), ids=lambda path: path.stem)
def test_every_example_is_one_page_of_lines_and_words(
    plain_app: object, example: Path, view: str, tmp_path: Path
) -> None:
    m = rm.load(example)
    data = printed(page_of(m, rm.solve(m), POINT, view), tmp_path / "out.pdf")
    assert size_of(data) == A4_POINTS[::-1]
    assert len(data) > 20_000
    assert b"/Subtype /Image" not in data


@pytest.mark.parametrize("view", ["floor", "ladder"])
@pytest.mark.parametrize("paper", [QPageSize.PageSizeId.A3, QPageSize.PageSizeId.A6])
def test_every_paper_will_do(
    plain_app: object, divider: rm.RailMap, tmp_path: Path, view: str, paper: Any
) -> None:
    page = page_of(divider, rm.solve(divider), POINT, view)
    wide, high = size_of(printed(page, tmp_path / "out.pdf", paper))
    wanted = QPageSize(paper).sizePoints()
    assert (wide, high) == (wanted.height(), wanted.width())


def test_the_paper_stands_for_an_upright_floor(plain_app: object, tmp_path: Path) -> None:
    m = rm.RailMap("Tall")
    m.add_board("A", 100, 400)
    m.add(rm.Source("V1", "A", "0V", volts=5, board="A"))
    page = page_of(m, rm.solve(m), POINT, "floor")
    assert page.sheet.is_upright
    assert size_of(printed(page, tmp_path / "out.pdf")) == A4_POINTS


def test_the_page_is_filled_and_ends_with_the_title_block(
    plain_app: object, divider: rm.RailMap, render_sheet: Callable[..., Any]
) -> None:
    """The same painting, into a picture in place of a printer."""
    for view in ("floor", "ladder"):
        page = page_of(divider, rm.solve(divider), POINT, view)
        page.sheet.set_size(1047, 720)
        found = render_sheet(page.sheet, 1047, 720)
        page.close()
        ground = found[2, 2]
        assert (ground == 255).all()
        inked = (found < 200).any(axis=2)
        assert inked[30:600].any()
        # The block stands in the lowest tenth, and nothing is cut off at the edge.
        assert inked[630:710, 10:].any()
        assert not inked[716:].any()


@pytest.fixture
def render_sheet(pixels: Callable[[Any], Any]) -> Callable[..., Any]:
    def render(sheet: Any, wide: int, high: int) -> Any:
        image = QImage(wide, high, QImage.Format.Format_RGB32)
        painter = QPainter(image)
        sheet.paint(painter, 1.0)
        painter.end()
        return pixels(image)

    return render


def test_values_that_are_tried_stand_in_the_title_block(
    plain_app: object, divider: rm.RailMap
) -> None:
    plain = heading_of(rm.solve(divider, mains_volts=253), "Floor", POINT)
    assert "tried" not in plain.under
    tried = rm.solve(divider, change=rm.what_if(R1=150.5, R3=47))
    assert heading_of(tried, "Floor", Figures(",")).under.endswith(" · tried: R1 150R5, R3 47R")
    many = rm.solve(divider, change=rm.what_if(V1=9, R1=1, R2=2, R3=3, L1=4))
    assert heading_of(many, "Floor", POINT).under.endswith("R3 3R and 1 more")
    assert heading_of(tried, "Floor", POINT).lines[-1] == NOTE


@pytest.mark.parametrize("view", ["floor", "ladder"])
def test_print_by_command(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, view: str
) -> None:
    path, asked = tmp_path / "out.pdf", []

    def accept(dialog: QPrintDialog) -> Any:
        printer = dialog.printer()
        asked.append((dialog.windowTitle(), printer.docName(), printer.pageLayout().orientation()))
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(path))
        return Accepted

    monkeypatch.setattr(QPrintDialog, "exec", accept)
    window.commands["print" if view == "floor" else "print_ladder"].trigger()
    assert asked == [(f"Print the {view}", f"Divider, {view}", LYING)]
    assert len(path.read_bytes()) > 10_000


def test_nothing_is_printed_when_it_is_given_up(
    window: Window, monkeypatch: pytest.MonkeyPatch, troubles: list[str]
) -> None:
    monkeypatch.setattr(QPrintDialog, "exec", lambda _: Rejected)
    monkeypatch.setattr("railmap.ui.printing.print_page", pytest.fail)
    window.commands["print"].trigger()
    assert troubles == []


def test_a_file_that_cannot_be_written_is_one_sentence(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, troubles: list[str]
) -> None:
    def accept(dialog: QPrintDialog) -> Any:
        dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        dialog.printer().setOutputFileName(str(tmp_path / "none" / "out.pdf"))
        return Accepted

    monkeypatch.setattr(QPrintDialog, "exec", accept)
    window.commands["print_ladder"].trigger()
    assert troubles == [
        f"{tmp_path / 'none' / 'out.pdf'} cannot be written: no such file or directory."
    ]


def test_nothing_is_printed_without_a_solution(
    window: Window, settle: Callable[[], None], monkeypatch: pytest.MonkeyPatch,
    troubles: list[str],
) -> None:  # fmt: skip
    def refuse(*_: Any) -> None:
        raise NotYetError("not yet")

    monkeypatch.setattr(bridge_module, "solve_on", refuse)
    window.bridge.set_mains(240)
    settle()
    troubles.clear()
    window.commands["print"].trigger()
    assert troubles == ["There is nothing to print before the map is solved."]


def test_a_view_that_is_none_is_refused(divider: rm.RailMap, plain_app: object) -> None:
    with pytest.raises(MapError, match="the views are floor and ladder"):
        sheet_of(divider, rm.solve(divider), themes.light(), "roof")
