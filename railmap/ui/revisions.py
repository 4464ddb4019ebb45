"""The menu of revisions: which one the unit is, and keeping and changing them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

import msgspec
from PySide6.QtCore import QObject, QPoint, Slot
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from railmap.bench import revisions
from railmap.bench.revisions import AS_DRAWN, Difference
from railmap.model.railmap import Change
from railmap.ui.canvas.asking import Question
from railmap.ui.canvas.view import FloorView
from railmap.ui.card.revised import difference_lines, place_words, short_words, value_words
from railmap.ui.theme import Theme

LONGEST = 40
"""So many characters of a name stand in the menu."""
ASKED_AT = QPoint(24, 16)
"""Where on the floor a name is asked for, in pixels from its corner."""


class RevisionDesk(QObject):
    """Fits a revision to the unit, keeps what is fitted as one, and changes those that are kept.

    Parameters
    ----------
    view : FloorView
        The floor, on which names are asked for.
    theme : Theme
        How figures are written.
    parent : QWidget
        The window.

    Attributes
    ----------
    menu : QMenu
        The menu; it is filled when it opens.
    """

    def __init__(self, view: FloorView, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._view, self._bridge, self._figures = view, view.bridge, theme.figures
        self.menu = QMenu("Re&visions", parent)
        self.menu.setAccessibleName("Revisions")
        self.menu.setToolTipsVisible(True)
        self.choices = QActionGroup(self)
        self.choices.triggered.connect(self._fit)
        self.keep = QAction("&Keep what is fitted as a revision…", self)
        self.keep.setToolTip("Give a name to the fitted values that differ from the drawing")
        self.keep.triggered.connect(self._ask_to_keep)
        self.changes = {
            name: self._submenu(title, run)
            for name, title, run in (
                ("rename", "&Rename", self._ask_new_name),
                ("notes", "&Notes", self._ask_notes),
                ("renew", "&Take in what is fitted", self._renew),
                ("remove", "Re&move", self._remove),
            )
        }
        self.menu.aboutToShow.connect(self.fill)
        self.fill()

    def _submenu(self, title: str, run: Callable[[QAction], None]) -> QMenu:
        menu = QMenu(title, self.menu)
        menu.setAccessibleName(f"{title.replace('&', '')}: which revision")
        menu.triggered.connect(run)
        return menu

    def set_theme(self, theme: Theme) -> None:
        """Write figures as another theme does."""
        self._figures = theme.figures

    @Slot()
    def fill(self) -> None:
        """Show the revisions that the map has now."""
        m = self._bridge.map
        self.menu.clear()
        for action in self.choices.actions():
            self.choices.removeAction(action)
            action.deleteLater()
        now = revisions.present(m)
        for name in (AS_DRAWN, *m.revisions):
            self._add_choice(name, now)
        self.menu.addSeparator()
        self.menu.addAction(self.keep)
        self.keep.setEnabled(bool(revisions.fitted_values(m)))
        for what, menu in self.changes.items():
            self._fill_change(what, menu)

    def _fill_change(self, what: str, menu: QMenu) -> None:
        names = list(self._bridge.map.revisions)
        menu.clear()
        for name in names:
            action = menu.addAction(_shown(name) + "…" * (what in ("rename", "notes")))
            action.setData(name)
        able = bool(names) and (what != "renew" or self.keep.isEnabled())
        menu.menuAction().setEnabled(able)
        self.menu.addMenu(menu)

    def _add_choice(self, name: str, now: str | None) -> None:
        m = self._bridge.map
        values = short_words(m, revisions.differences(m, AS_DRAWN, name), self._figures)
        text = _shown(name) if name else "As &drawn"
        action = QAction(f"{text} ({values})" if values else text, self.choices)
        action.setCheckable(True)
        action.setChecked(name == now)
        action.setData(name)
        notes = m.revisions[name].notes if name else ""
        moves = difference_lines(m, revisions.from_the_present(m, name), self._figures)
        action.setToolTip("\n".join(filter(None, [notes, *moves])) or "What is fitted now")
        self.menu.addAction(action)

    @Slot(QAction)
    def _fit(self, action: QAction) -> None:
        name = str(action.data())
        bridge = self._bridge
        done = bridge.do(
            f"Fit revision {name}" if name else "Fit as drawn",
            lambda: revisions.fit(bridge.map, name, date.today().isoformat()),
        )
        stay = revisions.standing(bridge.map, name) if done else []
        if stay:
            bridge.trouble.emit(self._stay_words(stay))

    def _stay_words(self, rows: Sequence[Difference]) -> str:
        """Say that a value stays which was fitted from another source than a revision."""
        m, row = self._bridge.map, rows[0]
        value = value_words(m.parts[row.ref], row.field, row.before, self._figures)
        source = m.parts[row.ref].fitted[row.field].source
        known = f" ({source})" if source else ""
        kept = f"{place_words(m, row)} stays {value}{known}"
        if len(rows) == 1:
            return f"{kept}: it was fitted by hand, and not from a revision."
        more = f"{len(rows) - 1} more value{'s' * (len(rows) > 2)}"
        return f"{kept}, and so do {more}: they were fitted by hand, and not from a revision."

    @Slot()
    def _ask_to_keep(self) -> None:
        self._ask("Keep as revision", "", self._keep_as)

    def _keep_as(self, name: str) -> str:
        today = date.today().isoformat()
        return self._bridge.refusal_of(
            f"Keep revision {name}", lambda: revisions.kept(self._bridge.map, name, today)
        )

    @Slot(QAction)
    def _ask_new_name(self, action: QAction) -> None:
        old = str(action.data())
        self._ask(f"New name of {old}", old, lambda name: self._bridge.refusal_of(
            f"Rename revision {old} to {name}",
            lambda: revisions.renamed(self._bridge.map, old, name),
        ))  # fmt: skip

    @Slot(QAction)
    def _ask_notes(self, action: QAction) -> None:
        name = str(action.data())
        before = self._bridge.map.revisions[name].notes
        self._ask(f"Notes on {name}", before, lambda text: self._bridge.refusal_of(
            f"Change notes on revision {name}", lambda: self._with_notes(name, text)
        ))  # fmt: skip

    def _with_notes(self, name: str, text: str) -> list[Change]:
        revision = revisions.revision_named(self._bridge.map, name)
        return [Change("revisions", name, msgspec.structs.replace(revision, notes=text))]

    @Slot(QAction)
    def _renew(self, action: QAction) -> None:
        name = str(action.data())
        self._bridge.do(
            f"Change revision {name}", lambda: revisions.renewed(self._bridge.map, name)
        )

    @Slot(QAction)
    def _remove(self, action: QAction) -> None:
        name = str(action.data())
        self._bridge.do(
            f"Remove revision {name}", lambda: revisions.removed(self._bridge.map, name)
        )

    def _ask(self, label: str, text: str, answer: Callable[[str], str]) -> None:
        question = Question(label, text, lambda typed: answer(typed.strip()))
        self._view.ask(question, self._view.mapToScene(ASKED_AT))


def _shown(name: str) -> str:
    """Return a name as it stands in a menu, where an ampersand would mark a key."""
    short = name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"
    return short.replace("&", "&&")
