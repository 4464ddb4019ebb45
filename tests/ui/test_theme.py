"""Colours that can be read, and icons that take them."""

from collections.abc import Callable
from xml.etree import ElementTree

import numpy as np
import pytest
from PySide6.QtGui import QColor, QIcon

from railmap.errors import FileError
from railmap.resources import data_dir
from railmap.ui import theme as themes
from railmap.ui.actions import COMMANDS
from railmap.ui.card.pages import KIND_WORDS
from railmap.ui.icons import icon
from railmap.ui.theme import STEPS, ink_on, palette, stress_step

NAMES = sorted(path.stem for path in data_dir("icons").glob("*.svg"))


def luminance(colour: QColor) -> float:
    """Relative luminance, WCAG 2.1."""
    parts = np.array([colour.redF(), colour.greenF(), colour.blueF()])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(one: QColor, other: QColor) -> float:
    """Contrast ratio, WCAG 2.1; 21 is black on white."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_is_the_most_there_is() -> None:
    assert contrast(QColor("#000000"), QColor("#ffffff")) == pytest.approx(21)


def test_text_can_be_read(theme: themes.Theme) -> None:
    """WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text."""
    grounds = (theme.window, theme.panel, theme.field, theme.floor, theme.board, theme.tile)
    assert all(contrast(theme.ink, ground) >= 7 for ground in grounds)
    assert all(contrast(theme.warn, ground) >= 4.5 for ground in (theme.panel, theme.field))
    assert all(contrast(theme.soft_ink, ground) >= 4.5 for ground in (theme.panel, theme.field))
    assert contrast(theme.accent_ink, theme.accent) >= 4.5


def test_figures_on_tiles_can_be_read(theme: themes.Theme) -> None:
    """Large and bold figures: WCAG 2.1, success criterion 1.4.3, asks for 3 to 1."""
    for ground in (theme.tile, *theme.stress):
        ink = ink_on(ground, theme)
        assert contrast(ink, ground) >= 4.1
        other = theme.on_light if ink == theme.on_dark else theme.on_dark
        assert contrast(ink, ground) >= contrast(other, ground) - 0.6


def test_runs_stand_out_against_the_board(theme: themes.Theme) -> None:
    """WCAG 2.1, success criterion 1.4.11: 3 to 1 for what has to be seen."""
    assert all(contrast(colour, theme.board) >= 3 for colour in theme.rails)
    assert len({colour.name() for colour in theme.rails}) == len(theme.rails)


def test_more_stress_is_never_a_step_back_in_lightness(theme: themes.Theme) -> None:
    steps = np.diff([luminance(colour) for colour in theme.stress])
    wanted = steps > 0 if theme.dark else steps < 0
    assert wanted.all()


def test_stress_in_steps() -> None:
    assert stress_step(float("nan")) == -1
    assert stress_step(0.0) == 0
    assert stress_step(-0.1) == 0
    assert stress_step(0.36) == 7
    assert stress_step(1.0) == 20
    assert stress_step(float("inf")) == STEPS - 1
    theme = themes.light()
    assert theme.tile_colour(float("nan")) == theme.tile
    assert theme.tile_colour(0.36) == theme.stress[7]


def test_the_palette_is_that_of_the_theme(theme: themes.Theme) -> None:
    found = palette(theme)
    assert found.color(found.ColorRole.WindowText) == theme.ink
    assert found.color(found.ColorRole.Base) == theme.field
    disabled = found.color(found.ColorGroup.Disabled, found.ColorRole.Text)
    assert disabled == theme.soft_ink


def inks(found: QIcon, mode: QIcon.Mode = QIcon.Mode.Normal) -> set[str]:
    """Colours of the parts of an icon that are fully covered."""
    image = found.pixmap(48, 48, mode).toImage()
    seen = [image.pixelColor(x, y) for x in range(image.width()) for y in range(image.height())]
    return {colour.name() for colour in seen if colour.alpha() > 250}


@pytest.mark.parametrize("name", [name for name in NAMES if name != "railmap"])
def test_icons_take_the_ink_of_the_theme(plain_app: object, name: str) -> None:
    found = icon(name, QColor("#123456"), QColor("#aabbcc"))
    assert "#123456" in inks(found)
    assert "#aabbcc" in inks(found, QIcon.Mode.Disabled)
    assert "#000000" not in inks(found)


def test_every_command_has_its_icon(plain_app: object) -> None:
    wanted = {command.icon for command in COMMANDS if command.icon}
    wanted |= {f"kind-{kind.lower()}" for kind in KIND_WORDS}
    assert wanted <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_icons_are_plain_drawings(name: str) -> None:
    text = (data_dir("icons") / f"{name}.svg").read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert root.tag.endswith("svg")
    tags = {element.tag.rsplit("}", 1)[-1] for element in root.iter()}
    assert not tags & {"script", "image", "foreignObject", "text"}


def test_an_icon_that_is_missing_is_named(plain_app: object) -> None:
    with pytest.raises(FileError, match="'nothing'"):
        icon("nothing", QColor("#000000"), QColor("#000000"))


def test_icons_are_sharp_on_fine_screens(
    plain_app: object, rgb: Callable[[QColor], np.ndarray]
) -> None:
    found = icon("fit", QColor("#000000"), QColor("#888888"))
    assert found.actualSize(found.availableSizes()[0]).width() >= 16
    assert max(size.width() for size in found.availableSizes()) >= 40
