"""Help inside the program: plain pages that can be searched, in a window that blocks nothing."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Mapping
from importlib.resources import files

from PySide6.QtCore import QEvent, QUrl, Slot
from PySide6.QtGui import QAction, QKeySequence, QPalette, QShortcut, QTextCursor, QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QTextBrowser,
    QTextEdit,
    QVBoxLayout,
    QWidget,
)

PAGES = ("start", "paper", "words", "keys", "computed", "cautions")
KEYS_MARK = "<!-- keys of {} -->"
"""Where a page shows the keys of some part of the window."""
Sources = Mapping[str, Callable[[], Iterable[QAction]]]


def page(name: str) -> str:
    """Return a page as it is shipped, in HTML."""
    return (files("railmap.ui") / "help_pages" / f"{name}.html").read_text(encoding="utf-8")


def title_of(text: str) -> str:
    """Return the title of a page.

    Examples
    --------
    >>> title_of(page("words"))
    'Words'
    """
    found = re.search("<title>(.*?)</title>", text)
    return html.unescape(found.group(1)) if found else ""


def keys_table(actions: Iterable[QAction]) -> str:
    """Return a table of all actions that have a key, in HTML: key, what it does."""
    rows: list[str] = []
    for action in actions:
        keys = ", ".join(
            key.toString(QKeySequence.SequenceFormat.NativeText) for key in action.shortcuts()
        )
        if keys:
            # What can be undone stands behind a colon.
            text = action.text().replace("&", "").split(":")[0].rstrip("…")
            rows.append(f"<tr><td>{html.escape(keys)}</td><td>{html.escape(text)}</td></tr>")
    return f"<table>{''.join(rows)}</table>"


class HelpWindow(QDialog):
    """The pages with a list of them and a line to search them all.

    Parameters
    ----------
    sources : mapping of str to callable
        Gives the actions whose keys are listed, by the name that the page has for them.
    parent : QWidget
        The main window.
    """

    def __init__(self, sources: Sources, parent: QWidget) -> None:
        super().__init__(parent)
        self._sources = sources
        self.setWindowTitle("Help")
        self.setModal(False)
        self.resize(860, 640)
        self.list, self.search, self.count = QListWidget(), QLineEdit(), QLabel()
        self.browser = QTextBrowser()
        self._texts: dict[str, str] = {}
        self._plain: dict[str, str] = {}
        self._prepare()
        self._lay_out()
        self._connect()
        self.show_page(PAGES[0])

    def _prepare(self) -> None:
        self.search.setPlaceholderText("Search all pages")
        self.search.setAccessibleName("Search all pages")
        self.search.setClearButtonEnabled(True)
        self.list.setAccessibleName("Pages")
        self.browser.setAccessibleName("Page")
        self.browser.setOpenLinks(False)
        self.browser.setFrameShape(QTextBrowser.Shape.NoFrame)
        self.browser.document().setDocumentMargin(16)
        for name in PAGES:
            self.list.addItem(title_of(page(name)))

    def _lay_out(self) -> None:
        side = QVBoxLayout()
        side.addWidget(self.search)
        side.addWidget(self.list, 1)
        side.addWidget(self.count)
        self.list.setFixedWidth(190)
        row = QHBoxLayout(self)
        row.addLayout(side)
        row.addWidget(self.browser, 1)

    def _connect(self) -> None:
        self.list.currentRowChanged.connect(self._chosen)
        self.browser.anchorClicked.connect(self._followed)
        self.search.textChanged.connect(self._searched)
        self.search.returnPressed.connect(self.find_next)
        for keys, slot in (
            (QKeySequence.StandardKey.Find, self._to_search), ("F3", self.find_next),
        ):  # fmt: skip
            QShortcut(QKeySequence(keys), self, slot)

    def open_at(self, name: str) -> None:
        """Show the window with a page, its keys as they are now."""
        self._read()
        self.show_page(name)
        self.show()
        self.raise_()
        self.activateWindow()
        self.browser.setFocus()

    def show_page(self, name: str) -> None:
        """Show a page by its name."""
        if not self._texts:
            self._read()
        self.list.blockSignals(True)
        self.list.setCurrentRow(PAGES.index(name))
        self.list.blockSignals(False)
        self.browser.document().setDefaultStyleSheet(self._style())
        self.browser.setHtml(self._texts[name])
        self._mark()

    @property
    def name(self) -> str:
        """Name of the page that is shown."""
        return PAGES[max(self.list.currentRow(), 0)]

    def _read(self) -> None:
        """Read the pages, with a table of the present keys."""
        for name in PAGES:
            text = page(name)
            for source, actions in self._sources.items():
                mark = KEYS_MARK.format(source)
                if mark in text:
                    text = text.replace(mark, keys_table(actions()))
            document = QTextDocument()
            document.setHtml(text)
            self._texts[name], self._plain[name] = text, document.toPlainText().casefold()

    def _style(self) -> str:
        colours = self.palette()
        link = colours.color(QPalette.ColorRole.Link).name()
        return (
            "h1 { font-size: x-large; } h2 { font-size: large; margin-top: 14px; }"
            "p, li { margin-bottom: 6px; } td { padding: 3px 14px 3px 0; }"
            f"a {{ color: {link}; }}"
        )

    @Slot(int)
    def _chosen(self, row: int) -> None:
        self.show_page(PAGES[max(row, 0)])

    @Slot(QUrl)
    def _followed(self, url: QUrl) -> None:
        name = url.path().removesuffix(".html")
        if name in PAGES:
            self.show_page(name)

    @Slot()
    def _to_search(self) -> None:
        self.search.setFocus()
        self.search.selectAll()

    @Slot(str)
    def _searched(self, _: str) -> None:
        """Say how often each page has the text, and go to the first that has it."""
        found = self._counts()
        for row, name in enumerate(PAGES):
            count = f"   {found[name]}" if found[name] else ""
            self.list.item(row).setText(title_of(self._texts[name]) + count)
        total = sum(found.values())
        self.count.setText("" if not self._sought else f"{total} found" if total else "Not found")
        if total and not found[self.name]:
            self.show_page(next(name for name in PAGES if found[name]))
        self._mark()

    @property
    def _sought(self) -> str:
        return self.search.text().strip()

    def _counts(self) -> dict[str, int]:
        sought = self._sought.casefold()
        return {name: self._plain[name].count(sought) if sought else 0 for name in PAGES}

    @Slot()
    def find_next(self) -> None:
        """Go to the next place that has the text, on the next page if need be."""
        found = self._counts()
        if not any(found.values()) or self.browser.find(self._sought):
            return
        here = PAGES.index(self.name)
        order = [*PAGES[here + 1 :], *PAGES[: here + 1]]
        self.show_page(next(name for name in order if found[name]))
        self.browser.moveCursor(QTextCursor.MoveOperation.Start)
        self.browser.find(self._sought)

    def _mark(self) -> None:
        """Mark all places on the page that have the text."""
        marks: list[QTextEdit.ExtraSelection] = []
        cursor = QTextCursor(self.browser.document())
        while self._sought:
            cursor = self.browser.document().find(self._sought, cursor)
            if cursor.isNull():
                break
            mark = QTextEdit.ExtraSelection()
            mark.cursor = cursor
            mark.format.setBackground(self.palette().color(QPalette.ColorRole.Highlight))
            mark.format.setForeground(self.palette().color(QPalette.ColorRole.HighlightedText))
            marks.append(mark)
        self.browser.setExtraSelections(marks)

    def changeEvent(self, event: QEvent) -> None:
        """See Qt."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and self._texts:
            self.show_page(self.name)
