"""The surge at switch-on on the card of a rectifier: worked out beside the window, and kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject, QTimer, Signal, Slot
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from railmap.errors import RailmapError
from railmap.figures import Figures as Style
from railmap.model.railmap import RailMap
from railmap.solve.surge import Surge, surges
from railmap.solve.what_if import WhatIf
from railmap.ui.bridge import Bridge
from railmap.ui.card.figures import Figures, StressBar
from railmap.ui.faces import percent
from railmap.ui.theme import Theme

REST_MS = 600
"""How long nothing may have changed before the surges are worked out: they take longer than a
curve does, and would keep a hand waiting that only pauses."""
COMPUTING = "Computing…"
FAILED = "It cannot be worked out as things are."
OUT = "It is not in the circuit as things are."
BASIS = (
    "Switched on at the worst moment, reservoirs empty; I²t over the first half turn of the mains."
)
UNRATED = "No surge rating is noted for it."


@dataclass(frozen=True)
class _Order:
    """What the surges were ordered for; they are shown only while it is still that."""

    map_number: int
    change: WhatIf


class Surging(QObject):
    """Has the surges of all rectifiers worked out when somebody wants to see one, and keeps them.

    Parameters
    ----------
    bridge : Bridge
        Where map, mains, setup and drift come from.

    Attributes
    ----------
    changed : Signal()
        There are other surges, or none any more.
    """

    changed = Signal()

    def __init__(self, bridge: Bridge, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bridge, self._desk = bridge, bridge.desk.beside()
        self._map_number = 0
        self._order: _Order | None = None
        self._found: tuple[_Order, Mapping[str, Surge] | None] | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(REST_MS)
        self._timer.timeout.connect(self._go)
        self._desk.done.connect(self._came)
        bridge.map_changed.connect(self._outdated)

    def want(self) -> None:
        """Have the surges worked out as things are, unless they are known or on their way."""
        order = _Order(self._map_number, self._bridge.what_is_tried())
        if order != self._order:
            self._order = order
            self._timer.start()

    @property
    def known(self) -> bool:
        """True if what was wanted last is there."""
        return self._found is not None and self._found[0] == self._order

    @property
    def found(self) -> Mapping[str, Surge] | None:
        """The surges that were wanted last, by reference; None where there are none to be had."""
        return self._found[1] if self.known and self._found is not None else None

    @Slot(object)
    def _outdated(self, _: object) -> None:
        self._map_number += 1

    @Slot()
    def _go(self) -> None:
        order, m = self._order, self._bridge.map.copy()
        if order is not None:
            self._desk.order(lambda: (order, _worked_out(m, order.change)))

    @Slot(object)
    def _came(self, result: tuple[_Order, Mapping[str, Surge] | None]) -> None:
        if result[0] == self._order:
            self._found = result
            self.changed.emit()


def _worked_out(m: RailMap, change: WhatIf) -> Mapping[str, Surge] | None:
    """Work the surges out; None where the map refuses it."""
    try:
        return surges(m, change=change)
    except RailmapError:
        return None


class SurgeBox(QWidget):
    """The surge of one rectifier, against its rating where that is known.

    Parameters
    ----------
    bridge : Bridge
        Tells whether a winding feeds the map at all.
    surging : Surging
        The surges.
    theme : Theme
        Colours, and how figures are written.
    ref : str
        The rectifier.
    """

    def __init__(self, bridge: Bridge, surging: Surging, theme: Theme, ref: str) -> None:
        super().__init__()
        self._bridge, self._surging, self._theme, self._ref = bridge, surging, theme, ref
        self.setAccessibleName("Surge at switch-on")
        title = QLabel("At switch-on")
        font = title.font()
        font.setBold(True)
        title.setFont(font)
        self.figures, self.bar = Figures(theme), StressBar(theme)
        self.note = QLabel()
        self.note.setWordWrap(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 2, 0, 2)
        column.setSpacing(2)
        for widget in (title, self.figures, self.bar, self.note):
            column.addWidget(widget)
        surging.changed.connect(self.refresh)

    def show_part(self, ref: str) -> None:
        """Show a rectifier, which may have another name now."""
        self._ref = ref
        self.refresh()

    @Slot()
    def refresh(self) -> None:
        """Show what is known now, and have it worked out if it is not."""
        solution = self._bridge.solution
        part = self._bridge.map.parts.get(self._ref)
        seen = solution is not None and solution.turn is not None and part is not None
        self.setVisible(seen)
        if not seen:
            return
        self._surging.want()
        surge = (self._surging.found or {}).get(self._ref)
        style = self._theme.figures
        peak = "…" if surge is None else _figure(surge.amps_peak, "A", style)
        i2t = "…" if surge is None else _figure(surge.i2t, "A²s", style)
        self.figures.show_rows([[("first peak", peak, ""), ("I²t", i2t, "")]], self._theme)
        rated = getattr(part, "surge_i2t", None)
        self.bar.setVisible(rated is not None)
        if rated is not None:
            ratio = math.nan if surge is None else surge.i2t / rated
            text = f"{i2t} of {_figure(rated, 'A²s', style)}"
            self.bar.show_check(f"Surge  {percent(ratio)}", text, ratio, self._theme)
        self.note.setText(self._words(surge, rated))

    def _words(self, surge: Surge | None, rated: float | None) -> str:
        if surge is not None:
            return BASIS if rated is not None else f"{UNRATED} {BASIS}"
        if not self._surging.known:
            return COMPUTING
        return FAILED if self._surging.found is None else OUT


def _figure(value: float, unit: str, style: Style) -> str:
    """Return a figure with its unit as it is: a thousandth of A²s has no name of its own."""
    return style.sign(f"{value:.3g} {unit}") if math.isfinite(value) else "–"
