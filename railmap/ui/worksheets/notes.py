"""The list of cautions: what the circuit says, what is over a limit, and what always holds."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, Qt, Slot
from PySide6.QtWidgets import QListWidget, QListWidgetItem

from railmap.figures import Figures
from railmap.model.railmap import RailMap
from railmap.report.tables import rail_rows
from railmap.solve.solution import Finding, Solution
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.faces import percent, volts_text
from railmap.ui.theme import Theme

STANDING = (
    "A forecast, not a permission: the map may be wrong, and so may the drawing it was made from.",
    "Mains kills. Unplug, wait, bleed the capacitors through a resistor, and measure to prove it "
    "dead. Follow local codes; leave to licensed people what the law leaves to them.",
    "Power resistors run above 100 °C and stay hot. Old sets may hold asbestos, selenium, "
    "cadmium or PCB oil: do not drill, scrape or overheat what you do not know.",
)

AT_THE_PROBE = (
    "Mains kills and capacitors hold charge: before ohms unplug, bleed, and measure to prove it "
    "dead. One hand, the other lead clipped on. Local codes come first."
)
"""What stands where readings are taken."""


def cautions(m: RailMap, solution: Solution, style: Figures) -> list[tuple[str, Picked]]:
    """Return what deserves a caution now, each with what to select for it.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        What its parts do.
    style : Figures
        How figures are written.
    """
    found = [(said(f, style), _about(f.refs, f.nodes)) for f in solution.findings]
    for row in rail_rows(m, solution):
        if row.over_limit and row.volts is not None and row.max_volts is not None:
            text = (
                f"Rail {row.name} would be at {volts_text(row.volts, style)}, "
                f"above its limit of {style.show(row.max_volts, 'V')}."
            )
            found.append((text, Picked("rail", row.node)))
    for number in np.flatnonzero(solution.stress > 1 + 1e-9):
        ref = solution.refs[number]
        worst = max(solution.part(ref).checks, key=lambda c: c.ratio)
        carried, allowed = (style.show(v, worst.unit) for v in (worst.value, worst.allowed))
        text = (
            f"{ref} would be at {percent(worst.ratio)} of its {worst.what}: "
            f"{carried}, where {allowed} is allowed."
        )
        found.append((text, Picked("part", ref)))
    return found


def said(finding: Finding, style: Figures) -> str:
    """Return the sentence of a finding with its figures written in some way."""
    return style.words(finding.sentence, (*finding.refs, *finding.nodes))


def _about(refs: tuple[str, ...], nodes: tuple[str, ...]) -> Picked:
    if refs:
        return Picked("part", refs[0])
    return Picked("rail", nodes[0]) if nodes else Picked()


class CautionList(QListWidget):
    """Cautions as sentences; choosing one selects what it is about."""

    def __init__(self, bridge: Bridge, theme: Theme) -> None:
        super().__init__()
        self._bridge, self._figures = bridge, theme.figures
        self._about: list[Picked] = []
        self.count_now = 0
        self.setAccessibleName("Cautions")
        self.setWordWrap(True)
        self.setFrameShape(QListWidget.Shape.NoFrame)
        self.setSpacing(2)
        self.currentRowChanged.connect(self._chosen)
        bridge.solved.connect(self._solved)
        bridge.unsolved.connect(self._unsolved)

    def set_theme(self, theme: Theme) -> None:
        """Write figures as another theme does."""
        self._figures = theme.figures
        if self._bridge.solution is not None:
            self._solved(self._bridge.solution)

    @Slot(object)
    def _solved(self, solution: Solution) -> None:
        self._show(cautions(self._bridge.map, solution, self._figures))

    @Slot()
    def _unsolved(self) -> None:
        self._show([])

    def _show(self, found: list[tuple[str, Picked]]) -> None:
        self.count_now = len(found)
        texts = [text for text, _ in found] + list(STANDING)
        self._about = [what for _, what in found]
        if texts == [self.item(i).text() for i in range(self.count())]:
            return
        self.blockSignals(True)
        self.clear()
        for number, text in enumerate(texts):
            item = QListWidgetItem(text)
            if number >= len(found):
                item.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.addItem(item)
        self.blockSignals(False)
        self._ink_standing()

    def _ink_standing(self) -> None:
        """Write what always holds in a softer ink."""
        for row in range(len(self._about), self.count()):
            self.item(row).setForeground(self.palette().placeholderText())

    @Slot(int)
    def _chosen(self, row: int) -> None:
        if 0 <= row < len(self._about) and self._about[row].kind:
            self._bridge.pick(self._about[row])

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self._ink_standing()
