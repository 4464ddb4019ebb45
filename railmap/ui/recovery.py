"""Offers unsaved work that a run left behind which did not end as usual; it blocks nothing."""

from __future__ import annotations

from datetime import datetime

from PySide6.QtCore import QDateTime, QEvent, QLocale, Slot
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QToolButton

from railmap.bench.difference import changes_between
from railmap.errors import FileError
from railmap.model.railmap import RailMap
from railmap.store.autosave import Draft, left_over
from railmap.store.autosave import Slot as DraftSlot
from railmap.store.files import load
from railmap.ui.bridge import Bridge
from railmap.ui.files import FileDesk
from railmap.ui.icons import icon
from railmap.ui.keeper import Keeper
from railmap.ui.settings import Settings

RESTORE = "Restore unsaved work"
LATER, AWAY = "Ask again at the next start", "Put this away"


class RecoveryBar(QFrame):
    """A line about unsaved work, with buttons to restore it, discard it, or leave it for later.

    Parameters
    ----------
    bridge, desk, settings, keeper
        The map, its files, where drafts lie, and what keeps them.
    """

    def __init__(self, bridge: Bridge, desk: FileDesk, settings: Settings, keeper: Keeper) -> None:
        super().__init__()
        self._bridge, self._desk, self._settings, self._keeper = bridge, desk, settings, keeper
        self._found: list[tuple[DraftSlot, Draft]] = []
        self._notes: list[str] = []
        self.text, self._mark = QLabel(), QLabel()
        self.text.setWordWrap(True)
        self.restore_button = QPushButton("&Restore")
        self.discard_button = QPushButton("&Discard")
        self.later_button = QToolButton()
        self.later_button.setAutoRaise(True)
        self.restore_button.setToolTip("Show it; it is not saved until you save it")
        self.discard_button.setToolTip("Throw it away for good")
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 8, 6)
        row.addWidget(self._mark)
        row.addWidget(self.text, 1)
        for button in (self.restore_button, self.discard_button, self.later_button):
            row.addWidget(button)
        self.restore_button.clicked.connect(self.restore)
        self.discard_button.clicked.connect(self.discard)
        self.later_button.clicked.connect(self.later)
        self.setAutoFillBackground(True)
        self.setBackgroundRole(QPalette.ColorRole.AlternateBase)
        self.setVisible(False)
        self._ink()

    def look(self) -> None:
        """Look for unsaved work that was left, and offer what is found."""
        try:
            slots = left_over(self._settings.unsaved_folder)
        except FileError as error:
            self._notes.append(f"{error}.")
            slots = []
        for slot in slots:
            self._take(slot)
        self._show()

    def _take(self, slot: DraftSlot) -> None:
        """Keep a draft to offer; a damaged one is set aside, a saved one needs no offer."""
        when = _moment(slot.written)
        try:
            draft = slot.read()
        except FileError as error:
            place = slot.set_aside()
            self._notes.append(
                f"Unsaved work of {when} cannot be restored: {error}. It is kept as {place}."
            )
            return
        if draft is None or _saved(draft) == draft.map:
            slot.remove()
        else:
            self._found.append((slot, draft))

    def _show(self) -> None:
        """Show what cannot be restored, then one by one what can."""
        self.setVisible(bool(self._notes or self._found))
        offer = bool(self._found) and not self._notes
        self.restore_button.setVisible(offer)
        self.discard_button.setVisible(offer)
        self.later_button.setToolTip(LATER if offer else AWAY)
        self.later_button.setAccessibleName(LATER if offer else AWAY)
        text = self._notes[0] if self._notes else self._offer() if offer else ""
        self.text.setText(text)
        self.text.setAccessibleName(text)
        self.text.setToolTip(str(self._found[0][1].path or "") if offer else "")

    def _offer(self) -> str:
        draft = self._found[0][1]
        text = f"Unsaved work on {_name(draft)}, last changed {_moment(draft.written)}, is left "
        text += "from a run that did not end as usual."
        if _saved_after(draft):
            text += " The file has been saved since."
        if len(self._found) > 1:
            text += f" ({len(self._found) - 1} more)"
        return text

    @Slot()
    def restore(self) -> None:
        """Show the work as an edit of its file that can be undone and is not saved yet."""
        if not self._found or not self._desk.may_leave():
            return
        slot, draft = self._found.pop(0)
        base = _saved(draft) or RailMap()
        if not base.parts and not base.boards:
            base.about = draft.map.about
        self._bridge.open_map(base, draft.path)
        self._bridge.do(RESTORE, changes_between(base, draft.map))
        if self._bridge.history.clean:
            slot.remove()
        else:
            self._keeper.adopt(slot)
        self._show()

    @Slot()
    def discard(self) -> None:
        """Throw the work away."""
        if self._found:
            self._found.pop(0)[0].remove()
        self._show()

    @Slot()
    def later(self) -> None:
        """Put a note away, or else leave all that is offered for the next start."""
        if self._notes:
            self._notes.pop(0)
        else:
            self.let_go()
        self._show()

    def let_go(self) -> None:
        """Leave for the next start what was not restored."""
        for slot, _ in self._found:
            slot.let_go()
        self._found.clear()

    def _ink(self) -> None:
        ink = self.palette().color(QPalette.ColorRole.WindowText)
        accent = self.palette().color(QPalette.ColorRole.Link)
        self._mark.setPixmap(icon("reset", accent, accent).pixmap(18, 18))
        self.later_button.setIcon(icon("close", ink, ink))

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            self._ink()


def _saved(draft: Draft) -> RailMap | None:
    """Return what the draft's own file holds now, if it can be read."""
    if draft.path is None:
        return None
    try:
        return load(draft.path)
    except FileError:
        return None


def _saved_after(draft: Draft) -> bool:
    try:
        return draft.path is not None and draft.path.stat().st_mtime > draft.written.timestamp()
    except OSError:
        return False


def _name(draft: Draft) -> str:
    if draft.path is not None:
        return draft.path.name
    return f"{draft.map.title or 'a map without a title'}, which was never saved"


def _moment(when: datetime) -> str:
    """Return a date and time as the desktop writes them."""
    return QLocale.system().toString(
        QDateTime.fromSecsSinceEpoch(int(when.timestamp())), QLocale.FormatType.ShortFormat
    )
