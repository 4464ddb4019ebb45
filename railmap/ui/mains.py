"""The mains dial: a slider with the design mains marked, and the volts to type."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QDoubleSpinBox, QHBoxLayout, QLabel, QSlider, QWidget

from railmap.ui.bridge import Bridge
from railmap.ui.theme import Theme

LOW, HIGH = 0.45, 1.15
"""The slider goes from this to that part of the design mains."""


class MainsSlider(QSlider):
    """A slider with a mark at the design mains."""

    def __init__(self, theme: Theme) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self.theme = theme
        self.design = 230.0
        self.setAccessibleName("Mains volts")
        self.setMinimumWidth(100)

    def paintEvent(self, event: QPaintEvent) -> None:
        """See Qt."""
        super().paintEvent(event)
        painter = QPainter(self)
        handle = 14
        part = (self.design - self.minimum()) / max(1, self.maximum() - self.minimum())
        x = handle / 2 + (self.width() - handle) * part
        painter.setPen(QPen(self.theme.accent, 2))
        painter.drawLine(int(x), self.height() - 5, int(x), self.height() - 1)


class MainsDial(QWidget):
    """Slider and typed volts for the mains that the map is solved at."""

    def __init__(self, bridge: Bridge, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bridge, self._figures = bridge, theme.figures
        self.slider = MainsSlider(theme)
        self.volts = QDoubleSpinBox()
        self.volts.setRange(1.0, 1000.0)
        self.volts.setDecimals(1)
        self.volts.setSuffix(" V")
        self.volts.setKeyboardTracking(False)
        self.volts.setAccessibleName("Mains volts, typed")
        self.label = QLabel("Mains")
        self.design = QLabel()
        self.design.setToolTip("Design mains; marked on the slider as well")
        row = QHBoxLayout(self)
        row.setContentsMargins(6, 0, 6, 0)
        for widget in (self.label, self.slider, self.volts, self.design):
            row.addWidget(widget)
        self.slider.valueChanged.connect(self._slid)
        self.volts.valueChanged.connect(self._typed)
        self.volts.editingFinished.connect(self._end_typing)
        bridge.map_changed.connect(self._follow)
        bridge.solved.connect(self._follow)
        self._follow(None)

    def set_theme(self, theme: Theme) -> None:
        """Paint in another theme."""
        self.slider.theme, self._figures = theme, theme.figures
        self._follow(None)

    @Slot(object)
    def _follow(self, _: object) -> None:
        design = self._bridge.map.mains_volts
        self.slider.design = design
        said = self._figures.sign(f"{design:g} V")
        self.design.setText(f"of {said}")
        self.design.setAccessibleName(f"Design mains {said}")
        for widget in (self.slider, self.volts):
            widget.blockSignals(True)
        self.slider.setRange(round(design * LOW), round(design * HIGH))
        self.slider.setValue(round(self._bridge.mains_volts))
        typing = self.volts.hasFocus() and self.volts.lineEdit().isModified()
        if not typing:
            self.volts.setValue(self._bridge.mains_volts)
        for widget in (self.slider, self.volts):
            widget.blockSignals(False)
        self.slider.update()

    @Slot(int)
    def _slid(self, volts: int) -> None:
        self._bridge.set_mains(float(volts))

    @Slot(float)
    def _typed(self, volts: float) -> None:
        self._bridge.set_mains(volts)

    @Slot()
    def _end_typing(self) -> None:
        # Qt takes this mark off only where it has to write the figure in another way.
        self.volts.lineEdit().setModified(False)
