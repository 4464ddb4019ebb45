"""The drift slider: it tries another value of a part."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, Qt, Signal, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSlider,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from railmap.errors import RailmapError
from railmap.ui.bridge import sentence
from railmap.ui.card.form import write_into
from railmap.ui.theme import Theme

DECADES = 1.0
"""The slider goes this many decades either way."""
STEPS = 400


class DriftSlider(QSlider):
    """A slider on a logarithmic scale, with marks at half, once and twice the value."""

    def __init__(self, theme: Theme) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self.theme = theme
        self.setRange(-STEPS, STEPS)
        self.setSingleStep(4)
        self.setPageStep(40)
        self.setMinimumHeight(34)
        self.setAccessibleName("Drift")

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        painter = QPainter(self)
        painter.setPen(QPen(self.theme.soft_ink, 1))
        font = painter.font()
        font.setPointSizeF(font.pointSizeF() * 0.8)
        painter.setFont(font)
        for factor, text in ((0.1, "÷10"), (0.5, "½"), (1.0, "1"), (2.0, "2"), (10.0, "×10")):
            x = self._x_of(math.log10(factor) / DECADES)
            painter.drawLine(int(x), self.height() - 13, int(x), self.height() - 10)
            box = QRectF(x - 18, self.height() - 11, 36, 11)
            if factor < 0.2:
                box.moveLeft(0)
                painter.drawText(box, Qt.AlignmentFlag.AlignLeft, text)
            elif factor > 5:
                box.moveRight(self.width())
                painter.drawText(box, Qt.AlignmentFlag.AlignRight, text)
            else:
                painter.drawText(box, Qt.AlignmentFlag.AlignHCenter, text)
        painter.end()
        super().paintEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """See Qt."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()

    def _x_of(self, part: float) -> float:
        """Return where a place on the scale, -1 to 1, is in pixels."""
        handle = 14
        return handle / 2 + (self.width() - handle) * (part + 1) / 2


class DriftPanel(QWidget):
    """Slider, typed value and a way back, for the main value of one part.

    Attributes
    ----------
    tried : Signal(object)
        The value to try, SI; None to end it.
    """

    tried = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._base, self._unit, self._figures = 1.0, "", theme.figures
        self._busy = False
        self._title = QLabel()
        self._value = QLineEdit()
        self._value.setFixedWidth(86)
        self._value.setAccessibleName("Value to try")
        self._change = QLabel()
        self.reset = QToolButton()
        self.reset.setText("Back")
        self.reset.setToolTip("Back to the last known value")
        self.slider = DriftSlider(theme)
        self._reason = QLabel()
        self._reason.setWordWrap(True)
        self._reason.setVisible(False)
        self._lay_out()
        self.slider.valueChanged.connect(self._slid)
        self._value.editingFinished.connect(self._typed)
        self.reset.clicked.connect(self._back)

    def _lay_out(self) -> None:
        row = QHBoxLayout()
        row.addWidget(self._value)
        row.addWidget(self._change, 1)
        row.addWidget(self.reset)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(4)
        whole.addWidget(self._title)
        whole.addLayout(row)
        whole.addWidget(self.slider)
        whole.addWidget(self._reason)

    def show_part(self, base: float, unit: str, tried: float | None, theme: Theme) -> None:
        """Show a part's last known value, and what is tried in its place."""
        self._base, self._unit = base, unit
        self.slider.theme, self._figures = theme, theme.figures
        # A scale of ratios has no place for nought.
        self.slider.setEnabled(base != 0)
        self._busy = True
        value = base if tried is None else tried
        self._title.setText(f"What if it were not {self._figures.code(base, unit)}?")
        if not (self._value.hasFocus() and self._value.isModified()):
            write_into(self._value, self._figures.code(value, unit))
            self._say("")
        if base and value / base > 0 and not self.slider.isSliderDown():
            self.slider.setValue(round(math.log10(value / base) / DECADES * STEPS))
        percent = 100 * (value / base - 1) if base else 0.0
        self._change.setText(f"{percent:+.0f} %" if tried is not None else "as last known")
        self.reset.setEnabled(tried is not None)
        self._busy = False

    @Slot(int)
    def _slid(self, place: int) -> None:
        if self._busy:
            return
        factor = 10 ** (place / STEPS * DECADES)
        if place == 0:
            self.tried.emit(None)
            return
        digits = 3 - math.ceil(math.log10(abs(self._base * factor)))
        self.tried.emit(round(self._base * factor, digits))

    @Slot()
    def _typed(self) -> None:
        if not self._value.isModified():
            return
        self._value.setModified(False)
        try:
            value = self._figures.parse(self._value.text(), self._unit)
        except RailmapError as error:
            self._say(str(error))
            return
        if value * self._base <= 0 and self._base:
            self._say(f"the value has to be {'above' if self._base > 0 else 'below'} 0")
            return
        self._say("")
        self.tried.emit(None if value == self._base else value)

    def _say(self, reason: str) -> None:
        self._reason.setText(self._figures.words(sentence(reason)) if reason else "")
        self._reason.setVisible(bool(reason))

    @Slot()
    def _back(self) -> None:
        self.tried.emit(None)
