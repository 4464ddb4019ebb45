"""Fonts of the ladder and the widths of what is set in them."""

from __future__ import annotations

from PySide6.QtGui import QFont, QFontInfo, QFontMetricsF


class QtLettering:
    """Measures text in the system's font, and keeps what it has measured.

    Parameters
    ----------
    font : QFont
        The font of the window.
    """

    MOST_KEPT = 5000

    def __init__(self, font: QFont) -> None:
        self._base = QFont(font)
        self._fonts: dict[tuple[bool, int], QFont] = {}
        self._metrics: dict[tuple[bool, int], QFontMetricsF] = {}
        self._widths: dict[tuple[str, bool, int], float] = {}

    def usual_size(self) -> int:
        """Return the size of the window's text, pixels."""
        return min(max(QFontInfo(self._base).pixelSize(), 10), 20)

    def font(self, bold: bool, size: int) -> QFont:
        """Return a font by weight and size in pixels."""
        key = (bold, size)
        if key not in self._fonts:
            font = QFont(self._base)
            font.setPixelSize(size)
            font.setBold(bold)
            # So that text takes the same room at every resolution.
            font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
            self._fonts[key] = font
            self._metrics[key] = QFontMetricsF(font)
        return self._fonts[key]

    def _measure(self, bold: bool, size: int) -> QFontMetricsF:
        self.font(bold, size)
        return self._metrics[bold, size]

    def width(self, text: str, bold: bool, size: int) -> float:
        """Return the width of a text, in pixels."""
        key = (text, bold, size)
        found = self._widths.get(key)
        if found is None:
            if len(self._widths) >= self.MOST_KEPT:
                self._widths.clear()
            found = self._widths[key] = self._measure(bold, size).horizontalAdvance(text)
        return found

    def height(self, size: int) -> float:
        """Return the height of a line, in pixels."""
        metrics = self._measure(True, size)
        return metrics.ascent() + metrics.descent()

    def ascent(self, size: int) -> float:
        """Return how far the base line is below the top of a line, in pixels."""
        return self._measure(True, size).ascent()
