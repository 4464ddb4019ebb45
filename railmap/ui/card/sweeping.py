"""The sweep curve of the card: ordered when things have come to rest, shown when it is done."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from PySide6.QtCore import QTimer, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from railmap.bench.sweeps import Sweep, sweep_part
from railmap.errors import RailmapError
from railmap.model.railmap import RailMap
from railmap.solve.what_if import WhatIf
from railmap.ui.bridge import Bridge
from railmap.ui.card.curve import SweepCurve
from railmap.ui.theme import Theme

POINTS, RANGE = 17, 5.0
"""Values tried, from the present one over this to the present one times this."""
REST_MS = 250
"""How long nothing may have changed before the curve is worked out."""


@dataclass(frozen=True)
class _Order:
    """What a sweep was ordered for; a result is shown only where it is still that."""

    ref: str
    value: float
    change: WhatIf


class SweepBox(QWidget):
    """The sweep curve of one part.

    Parameters
    ----------
    bridge : Bridge
        Where map, mains and setup come from.
    theme : Theme
        Colours.
    ref : str
        The part.
    """

    def __init__(self, bridge: Bridge, theme: Theme, ref: str) -> None:
        super().__init__()
        self._bridge, self._theme, self._ref = bridge, theme, ref
        self.curve = SweepCurve(theme)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.curve)
        self._order: _Order | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(REST_MS)
        self._timer.timeout.connect(self._go)
        bridge.desk.done.connect(self._came)
        bridge.map_changed.connect(self._outdated)

    def show_part(self, ref: str) -> None:
        """Show a part, which may have another name now.

        Marks the value that is tried, and orders a new curve if anything else has changed.
        """
        self._ref = ref
        part = self._bridge.map.parts.get(self._ref)
        value = None if part is None else part.now()
        if value is None or value <= 0:
            return
        self.curve.show_value(self._bridge.drift.get(self._ref, value))
        others = {r: v for r, v in self._bridge.drift.items() if r != self._ref}
        change = replace(self._bridge.what_is_tried(drift=False), parts=others)
        wanted = _Order(self._ref, value, change)
        if wanted != self._order:
            self._order = wanted
            self._timer.start()

    @Slot(object)
    def _outdated(self, _: object) -> None:
        """Order a new curve: the map is another one."""
        self._order = None

    @Slot()
    def _go(self) -> None:
        order, m = self._order, self._bridge.map.copy()
        if order is not None:
            self._bridge.desk.order(lambda: (order, _swept(m, order)))

    @Slot(object)
    def _came(self, result: tuple[_Order, Sweep | None]) -> None:
        order, sweep = result
        if order != self._order or sweep is None:
            return
        rails = self._bridge.map.rails
        names = [rails[n].title if n in rails else n for n in sweep.nodes]
        self.curve.show_sweep(sweep, names, self._theme)


def _swept(m: RailMap, order: _Order) -> Sweep | None:
    """Work the sweep out; nothing where the map refuses it."""
    values = np.geomspace(order.value / RANGE, order.value * RANGE, POINTS)
    try:
        return sweep_part(m, order.ref, [float(v) for v in values], change=order.change)
    except RailmapError:
        return None
