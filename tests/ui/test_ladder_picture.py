"""The ladder as a picture file or sheet."""

from functools import partial
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

import railmap as rm
from railmap.errors import FileError, MapError
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.ladder.figures import Mark
from railmap.ui.ladder.lettering import QtLettering
from railmap.ui.ladder.paint import paint_ladder
from railmap.ui.ladder.scene import LadderScene
from railmap.ui.picture import draw

draw_ladder = partial(draw, view="ladder")
EXAMPLES = pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)


def words_of(path: Path) -> str:
    root = ElementTree.parse(path).getroot()
    return "\n".join("".join(e.itertext()) for e in root.iter() if e.tag.endswith("}text"))


@EXAMPLES
def test_an_svg_of_every_example_names_every_rail(
    plain_app: object, path: Path, tmp_path: Path
) -> None:
    m = rm.load(path)
    draw_ladder(m, rm.solve(m), tmp_path / "out.svg")
    words = words_of(tmp_path / "out.svg").split("\n")
    assert {rail.title for rail in m.rails.values()} <= set(words)
    assert any(m.title in text for text in words)
    assert any("not a permission" in text for text in words)
    assert "<image" not in (tmp_path / "out.svg").read_text(encoding="utf-8")


def test_png_and_svg_show_the_same(
    plain_app: object, divider: rm.RailMap, tmp_path: Path, pixels: Any
) -> None:
    solution = rm.solve(divider)
    for name in ("out.png", "out.svg"):
        draw_ladder(divider, solution, tmp_path / name, 700)
    one = QImage(str(tmp_path / "out.png"))
    other = QImage(one.size(), QImage.Format.Format_RGB32)
    other.fill(0)
    painter = QPainter(other)
    QSvgRenderer(str(tmp_path / "out.svg")).render(painter)
    painter.end()
    assert one.width() == 700
    assert np.mean(np.abs(pixels(one) - pixels(other)).max(axis=2) > 60) < 0.03


def test_a_pdf_is_one_page_of_lines_and_words(
    plain_app: object, divider: rm.RailMap, tmp_path: Path
) -> None:
    draw_ladder(divider, rm.solve(divider), tmp_path / "OUT.PDF", 800)
    data = (tmp_path / "OUT.PDF").read_bytes()
    assert data.startswith(b"%PDF-")
    # 0.75 points a pixel.
    assert b"600" in data
    assert data.count(b"/Type /Page\n") == 1
    assert b"/Subtype /Image" not in data


def test_dark_and_readings(
    plain_app: object, divider: rm.RailMap, tmp_path: Path, pixels: Any
) -> None:
    solution = rm.solve(divider)
    draw_ladder(divider, solution, tmp_path / "a.png", theme=themes.dark())
    marks = (Mark("A", 5.0, "act"),)
    draw_ladder(divider, solution, tmp_path / "b.png", theme=themes.dark(), marks=marks)
    one, other = (pixels(QImage(str(tmp_path / name))) for name in ("a.png", "b.png"))
    assert one.mean() < 90
    assert (np.abs(one - other).max(axis=2) > 30).sum() > 20


@pytest.mark.parametrize("name", ["out.bmp", "out"])
def test_another_ending_is_refused(
    plain_app: object, divider: rm.RailMap, tmp_path: Path, name: str
) -> None:
    with pytest.raises(MapError, match=r"ends in \.png, \.svg or \.pdf, not in "):
        draw_ladder(divider, rm.solve(divider), tmp_path / name)


@pytest.mark.parametrize("name", ["out.png", "out.svg", "out.pdf"])
def test_a_place_that_cannot_be_written_is_one_sentence(
    plain_app: object, divider: rm.RailMap, tmp_path: Path, name: str
) -> None:
    with pytest.raises(FileError, match="cannot be written") as caught:
        draw_ladder(divider, rm.solve(divider), tmp_path / "no folder" / name)
    assert "\n" not in str(caught.value)


def test_one_code_paints_at_every_place_and_scale(
    plain_app: Any, divider: rm.RailMap, pixels: Any
) -> None:
    scene = LadderScene(QtLettering(plain_app.font()))
    scene.show_map(divider)
    scene.show_solution(rm.solve(divider))
    images = []
    for left, scale in ((0, 1), (40, 1), (0, 2)):
        image = QImage(440 * scale, 500 * scale, QImage.Format.Format_RGB32)
        image.fill(themes.light().floor)
        painter = QPainter(image)
        painter.scale(scale, scale)
        paint_ladder(painter, QRectF(left, 0, 400, 500), scene, themes.light())
        painter.end()
        images.append(image)
    plain, moved = pixels(images[0]), pixels(images[1])
    assert np.array_equal(plain[:, :400], moved[:, 40:])
    # Twice as large it shows the same, only finer.
    small = images[2].scaledToWidth(440)
    assert np.mean(np.abs(pixels(small) - plain).max(axis=2) > 90) < 0.05
