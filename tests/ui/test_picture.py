"""Pictures: every example, all formats, the title block, and what cannot be written."""

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import msgspec
import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

import railmap as rm
from railmap.errors import FileError, MapError
from railmap.model.railmap import Change
from railmap.resources import example_paths
from railmap.ui import theme as themes
from railmap.ui.picture import draw

EXAMPLES = pytest.mark.parametrize("path", example_paths(), ids=lambda path: path.stem)
Read = Callable[..., np.ndarray]


@pytest.fixture
def read(pixels: Callable[[QImage], np.ndarray]) -> Read:
    """Read a picture file; an SVG is painted at a size."""

    def load(path: Path, width: int = 0, height: int = 0) -> np.ndarray:
        if path.suffix != ".svg":
            image = QImage(str(path))
            assert not image.isNull()
            return pixels(image)
        renderer = QSvgRenderer(str(path))
        assert renderer.isValid()
        image = QImage(width, height, QImage.Format.Format_RGB32)
        image.fill(QColor("#ff00ff"))
        painter = QPainter(image)
        renderer.render(painter)
        painter.end()
        return pixels(image)

    return load


@pytest.fixture
def solved(divider: rm.RailMap) -> rm.Solution:
    return rm.solve(divider)


@EXAMPLES
def test_a_png_of_every_example(read: Read, plain_app: object, path: Path, tmp_path: Path) -> None:
    m = rm.load(path)
    draw(m, rm.solve(m), tmp_path / "out.png", width_px=900)
    found = read(tmp_path / "out.png")
    assert found.shape[1] == 900
    theme = themes.light()
    plain = np.array(theme.board.getRgb()[:3])
    # Boards, tiles and words: neither bare nor black.
    assert 0.1 < np.mean(np.abs(found - plain).max(axis=2) < 4) < 0.9
    colours = {tuple(colour) for colour in found[::3, ::3].reshape(-1, 3)}
    assert len(colours) > 50


def words_of(path: Path) -> list[str]:
    root = ElementTree.parse(path).getroot()
    return ["".join(e.itertext()) for e in root.iter() if e.tag.endswith("}text")]


@EXAMPLES
def test_an_svg_of_every_example(plain_app: object, path: Path, tmp_path: Path) -> None:
    m = rm.load(path)
    draw(m, rm.solve(m), tmp_path / "out.svg")
    words = words_of(tmp_path / "out.svg")
    assert set(m.boards) <= set(words)
    assert any(m.title in text for text in words)
    assert any("not a permission" in text for text in words)


def test_an_svg_is_all_lines_and_words(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "out.svg")
    assert "<image" not in (tmp_path / "out.svg").read_text(encoding="utf-8")
    assert set(divider.parts) <= set(words_of(tmp_path / "out.svg"))


def test_both_formats_show_the_same(
    read: Read, plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "out.png", width_px=800)
    draw(divider, solved, tmp_path / "out.svg", width_px=800)
    one = read(tmp_path / "out.png")
    other = read(tmp_path / "out.svg", one.shape[1], one.shape[0])
    assert np.mean(np.abs(one - other)) < 4
    assert np.mean(np.abs(one - other).max(axis=2) > 40) < 0.02


def test_the_same_map_gives_the_same_picture(
    read: Read, plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    for name in ("a.png", "b.png"):
        draw(divider, solved, tmp_path / name, width_px=600)
    assert np.array_equal(read(tmp_path / "a.png"), read(tmp_path / "b.png"))


def test_another_solution_gives_another_picture(
    read: Read, plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "a.png", width_px=600)
    draw(divider, rm.solve(divider, mains_volts=253), tmp_path / "b.png", width_px=600)
    change = np.abs(read(tmp_path / "a.png") - read(tmp_path / "b.png")).max(axis=2)
    # Figures and a tile or two, not the boards.
    assert 0.0005 < np.mean(change > 24) < 0.2


def test_a_dark_picture(
    read: Read, plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "dark.png", width_px=600, theme=themes.dark())
    draw(divider, solved, tmp_path / "light.png", width_px=600)
    assert read(tmp_path / "dark.png").mean() < 90
    assert read(tmp_path / "light.png").mean() > 180


def test_the_mains_stand_in_the_title(
    plain_app: object, divider: rm.RailMap, tmp_path: Path
) -> None:
    draw(divider, rm.solve(divider, mains_volts=236), tmp_path / "out.svg")
    assert "Divider at 236 V mains" in (tmp_path / "out.svg").read_text(encoding="utf-8")


def test_the_title_block_says_what_it_is_of_and_when(
    plain_app: object, divider: rm.RailMap, tmp_path: Path
) -> None:
    divider.change([Change("about", None, msgspec.structs.replace(
        divider.about, notes="Serial 1234,\nlent by the museum"))])  # fmt: skip
    side_out = divider.setups["side out"]
    solution = rm.solve(divider, setup=side_out, mains_volts=236)
    for view in ("floor", "ladder"):
        draw(divider, solution, tmp_path / "out.svg", view=view, setup="side out")
        words = words_of(tmp_path / "out.svg")
        assert "Divider at 236 V mains" in words
        assert "Serial 1234, lent by the museum" in words
        (under,) = [line for line in words if line.startswith(view.capitalize())]
        assert under == (
            f"{view.capitalize()} · setup side out · design mains 230 V · {date.today()}"
        )


def test_the_scale_of_colours_stands_below_the_floor(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    for width in (1600, 500):
        draw(divider, solved, tmp_path / "out.svg", width_px=width)
        words = words_of(tmp_path / "out.svg")
        assert "Load in percent of the rating where it stands" in words
        assert {"0", "50", "80", "100", "over"} <= set(words)


def test_the_caution_is_never_cut(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    for view in ("floor", "ladder"):
        for width in (340, 500, 620, 701, 1000):
            draw(divider, solved, tmp_path / "out.svg", width_px=width, view=view)
            words = " ".join(words_of(tmp_path / "out.svg"))
            assert "Forecast from the map, not a permission:" in words, width
            assert "prove the unit dead before you touch it." in words, width


def test_long_words_are_cut_and_not_drawn_over_the_edge(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    divider.change([Change("about", None, msgspec.structs.replace(
        divider.about, title="A very long title " * 30))])  # fmt: skip
    draw(divider, rm.solve(divider), tmp_path / "out.svg", width_px=900)
    assert any(line.startswith("A very long") and line.endswith("…")
               for line in words_of(tmp_path / "out.svg"))  # fmt: skip


def test_a_pdf_is_one_page_of_the_width_of_a_sheet(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "out.pdf", width_px=4000)
    data = (tmp_path / "out.pdf").read_bytes()
    assert data.startswith(b"%PDF-")
    assert data.count(b"/Type /Page\n") == 1
    # 0.75 points a pixel.
    assert b"/MediaBox [0 0 825." in data
    assert b"/Subtype /Image" not in data


def test_another_view_is_refused(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    with pytest.raises(MapError, match="there is no view 'roof'; the views are floor and ladder"):
        draw(divider, solved, tmp_path / "out.png", view="roof")


def test_an_unsolved_map_can_be_drawn(
    read: Read, plain_app: object, divider: rm.RailMap, tmp_path: Path
) -> None:
    divider.add(rm.Source("V9", "RAW", "0V", volts=9))
    draw(divider, rm.solve(divider), tmp_path / "out.png", width_px=600)
    assert read(tmp_path / "out.png").std() > 10


def test_an_empty_map_can_be_drawn(read: Read, plain_app: object, tmp_path: Path) -> None:
    m = rm.RailMap("Nothing yet")
    draw(m, rm.solve(m), tmp_path / "out.png", width_px=300)
    assert read(tmp_path / "out.png").shape[1] == 300


def test_the_ending_may_be_in_capitals(
    read: Read, plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path
) -> None:
    draw(divider, solved, tmp_path / "OUT.PNG", width_px=300)
    assert read(tmp_path / "OUT.PNG").shape[1] == 300


@pytest.mark.parametrize("name", ["out.bmp", "out", "out.png.txt"])
def test_another_ending_is_refused(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path, name: str
) -> None:
    with pytest.raises(
        MapError, match=r"^a picture file ends in \.png, \.svg or \.pdf, not in "
    ) as caught:
        draw(divider, solved, tmp_path / name)
    assert "\n" not in str(caught.value)
    assert not (tmp_path / name).exists()


@pytest.mark.qt_log_ignore("could not open output device", "Returned false", extend=True)
@pytest.mark.parametrize("name", ["out.png", "out.svg"])
def test_a_place_that_cannot_be_written_is_one_sentence(
    plain_app: object, divider: rm.RailMap, solved: rm.Solution, tmp_path: Path, name: str
) -> None:
    (tmp_path / name).mkdir()
    for out in (tmp_path / "no folder" / name, tmp_path / name):
        with pytest.raises(FileError, match="cannot be written") as caught:
            draw(divider, solved, out)
        assert str(out) in str(caught.value)
        assert "\n" not in str(caught.value)


def test_the_command_draws_without_a_window(tmp_path: Path) -> None:
    out = tmp_path / "out.svg"
    found = subprocess.run(
        [sys.executable, "-m", "railmap", "picture", str(example_paths()[0]), "-o", str(out)],
        cwd=Path(rm.__file__).parents[1], capture_output=True, encoding="utf-8", check=False,
        timeout=20,
    )  # fmt: skip
    assert (found.returncode, found.stderr) == (0, "")
    assert QSvgRenderer(str(out)).isValid()
