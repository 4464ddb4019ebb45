"""The block at the foot of a picture: what it shows, of what, when, and under which conditions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter

from railmap.figures import Figures
from railmap.solve.solution import Solution
from railmap.ui.theme import Theme

NOTE = "Forecast from the map, not a permission: prove the unit dead before you touch it."
HEIGHT = 98.0
"""Height of the block, pixels."""
EDGE = 12.0
MOST_TRIED = 4
"""So many values that are tried stand in it."""
WHOLE_FROM = 620.0
"""Width from which the caution stands in one line."""
_LARGE, _USUAL = 17, 12


@dataclass(frozen=True)
class Heading:
    """What the block says.

    Attributes
    ----------
    title : str
        The model of equipment, with the mains.
    under : str
        View, setup and date.
    notes : str
        Serial number or whatever else is noted of the map; one line.
    """

    title: str
    under: str
    notes: str

    @property
    def lines(self) -> tuple[str, ...]:
        """All that it says, from the top; the caution stands last."""
        return tuple(line for line in (self.title, self.under, self.notes, NOTE) if line)


def heading_of(
    solution: Solution, view: str, figures: Figures, setup: str = "", day: date | None = None
) -> Heading:
    """Return the heading of a picture.

    Parameters
    ----------
    solution : Solution
        What is shown.
    view : str
        What it is called, for example ``Floor``.
    figures : Figures
        How figures are written.
    setup : str
        Name of the setup; empty where everything is plugged in.
    day : date, optional
        Today by default.
    """
    m = solution.source
    mains = solution.network.circuit.mains_ratio * m.mains_volts
    title = f"{' '.join(m.title.split()) or 'Map'} at {figures.sign(f'{mains:g}')} V mains"
    powered = f"setup {setup}" if setup else "everything plugged in"
    design = figures.sign(f"{m.mains_volts:g} V")
    under = f"{view} · {powered} · design mains {design} · "
    under += (day or date.today()).isoformat()
    tried = tried_in(solution, figures)
    if tried:
        under += f" · tried: {tried}"
    if not solution.has_figures:
        under += f" · no figures: {solution.status}"
    return Heading(title, under, " ".join(m.about.notes.split()))


def tried_in(solution: Solution, figures: Figures) -> str:
    """Return the parts of a solution that have another value than in the map, with that value."""
    m, circuit = solution.source, solution.network.circuit
    said: list[str] = []
    for ref, part in circuit.parts.items():
        value, known = part.now(), m.parts.get(ref)
        if value is not None and known is not None and value != known.now():
            said.append(f"{ref} {figures.code(value, part.unit)}")
    more = f" and {len(said) - MOST_TRIED} more" if len(said) > MOST_TRIED else ""
    return ", ".join(said[:MOST_TRIED]) + more


def _broken(lines: tuple[str, ...], wide: float) -> list[str]:
    """Return the lines with the caution in two of them where the block is narrow."""
    if wide >= WHOLE_FROM:
        return list(lines)
    first, second = NOTE.split(": ")
    return [*lines[:-1], f"{first}:", second]


def paint_block(painter: QPainter, box: QRectF, heading: Heading, theme: Theme) -> None:
    """Paint the block into a box whose units are pixels; lines are cut where they are too long."""
    painter.save()
    top = box.top() + 8
    for number, line in enumerate(_broken(heading.lines, box.width())):
        font = QFont(painter.font())
        font.setPixelSize(_LARGE if number == 0 else _USUAL)
        font.setBold(number == 0)
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        painter.setPen(theme.ink if number == 0 else theme.soft_ink)
        room = box.width() - 2 * EDGE
        cut = metrics.elidedText(line, Qt.TextElideMode.ElideRight, room)
        painter.drawText(QPointF(box.left() + EDGE, top + metrics.ascent()), cut)
        top += metrics.height() + 2
    painter.restore()
