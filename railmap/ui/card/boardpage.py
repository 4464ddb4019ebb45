"""The page of the card for a board: its name, size and air, its photo and its marks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, cast

import msgspec
from PySide6.QtCore import Slot
from PySide6.QtWidgets import QGridLayout, QPushButton, QToolButton

from railmap.bench import boards, edits
from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.board import Board, Mark, MarkKind, Photo
from railmap.model.part import Part
from railmap.model.railmap import Change
from railmap.ui.bridge import Bridge, Picked
from railmap.ui.canvas.boardwork import BoardWork
from railmap.ui.canvas.marks import MARK_WORDS
from railmap.ui.card.fields import fields_of
from railmap.ui.card.figures import Figures
from railmap.ui.card.form import Form
from railmap.ui.card.page import Page
from railmap.ui.theme import Theme

LONG_NAMES = 2
"""So many of the commands for a photo have long names."""


class BoardPage(Page):
    """One board: its name, size and air, its photo and its marks."""

    def __init__(self, bridge: Bridge, theme: Theme, name: str, work: BoardWork) -> None:
        super().__init__(bridge, theme)
        self.name, self._work = name, work
        self.buttons: dict[str, QPushButton] = {}
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.section("The board")
        self.form = Form(fields_of(Board, frozenset({"photo", "marks"})), self._give, theme)
        self.column.addWidget(self.form)
        self.photo: Form | None = None
        self.marks: list[Form] = []
        self._shape = self._shape_now()
        self._build_photo()
        self._build_marks()
        self.column.addStretch(1)
        self.refresh()

    def _shape_now(self) -> tuple[bool, int]:
        """Return what decides which forms there are: a photo or none, and how many marks."""
        board = self.bridge.map.boards[self.name]
        return board.photo is not None, len(board.marks)

    def _build_photo(self) -> None:
        self.section("Photo")
        there = self.bridge.map.boards[self.name].photo is not None
        wanted = [
            one for one in self._work.photo_commands(self.name) if there or not one.needs_photo
        ]
        names = [f"photo {one.name}" for one in wanted]
        self._add_buttons(names, self._do_with_photo, wide=LONG_NAMES)
        for name, one in zip(names, wanted, strict=True):
            text = one.text.replace("&", "")
            self.buttons[name].setText(text if one.needs_photo else "Put a photo under it…")
            self.buttons[name].setAccessibleName(f"Photo: {text.lower()}")
        if there:
            fields = fields_of(Photo, frozenset({"jpeg"}))
            self.photo = Form(fields, self._give_photo, self.theme)
            self.column.addWidget(self.photo)

    def _add_buttons(self, names: Sequence[str], slot: Callable[[], None], wide: int = 0) -> None:
        """Add buttons: some in rows of their own, the others in two columns."""
        grid = QGridLayout()
        grid.setSpacing(6)
        for number, name in enumerate(names):
            button = self.buttons[name] = QPushButton()
            button.setObjectName(name)
            button.clicked.connect(slot)
            if number < wide:
                grid.addWidget(button, number, 0, 1, 2)
            else:
                row, column = divmod(number - wide, 2)
                grid.addWidget(button, wide + row, column)
        self.column.addLayout(grid)

    def _build_marks(self) -> None:
        self.section("Add a mark")
        self._add_buttons([f"mark {kind}" for kind in MARK_WORDS], self._add_mark)
        for kind, word in MARK_WORDS.items():
            button = self.buttons[f"mark {kind}"]
            button.setText(word)
            button.setAccessibleName(f"Add a mark: {word.lower()}")
            button.setToolTip("It is put where the board is seen; drag it to its place")
        for number, mark in enumerate(self.bridge.map.boards[self.name].marks):
            self.section(f"{MARK_WORDS[mark.kind]} {mark.date}".rstrip())
            fields = fields_of(Mark, frozenset())
            form = Form(fields, partial(self._give_mark, number), self.theme)
            remove = QToolButton()
            remove.setText("Remove")
            remove.setToolTip("Take this mark away")
            remove.setAccessibleName(f"Remove mark {number + 1}")
            remove.setObjectName(f"remove {number}")
            remove.clicked.connect(self._remove_mark)
            self.marks.append(form)
            self.column.addWidget(form)
            self.column.addWidget(remove)

    def refresh(self) -> None:
        """See :class:`Page`."""
        if not self.stands():
            return
        board = self.bridge.map.boards[self.name]
        on = [p for p in self.bridge.map.parts.values() if p.board == self.name]
        self.heading.setText(board.name)
        self.below.setText(f"Board with {len(on)} parts")
        self.form.show_values(board)
        if self.photo is not None and board.photo is not None:
            self.photo.show_values(board.photo)
        for form, mark in zip(self.marks, board.marks, strict=True):
            form.show_values(mark)
        self.figures.show_rows(self._heat(on), self.theme)

    def _heat(self, on: list[Part]) -> list[list[tuple[str, str, str]]]:
        solution = self.bridge.solution
        if solution is None:
            return []
        at = solution.network.part_index
        heat = sum(
            float(solution.watts[at[p.ref]]) for p in on
            if p.ref in at and not isinstance(p, kinds.Load)
        )  # fmt: skip
        return [[("heat in its parts, loads apart", self.theme.figures.show(heat, "W"), "")]]

    @property
    def about(self) -> Picked:
        """See :class:`Page`."""
        return Picked("board", self.name)

    def stands(self) -> bool:
        """See :class:`Page`."""
        return self.name in self.bridge.map.boards and self._shape == self._shape_now()

    def complaint(self) -> str:
        """See :class:`Page`."""
        forms = [form for form in (self.photo, *self.marks) if form is not None]
        reason = next((form.complaint() for form in forms if form.complaint()), "")
        return super().complaint() or (f"{self.name}: {reason}" if reason else "")

    def _give(self, name: str, value: Any) -> str:
        board = self.bridge.map.boards[self.name]
        if name == "name":
            return self._rename(str(value))
        try:
            changed = msgspec.structs.replace(board, **{name: value})
        except MapError as error:
            return str(error)
        return self.edit(f"Change board {self.name}", [Change("boards", self.name, changed)])

    def _give_photo(self, name: str, value: Any) -> str:
        m = self.bridge.map
        photo = m.boards[self.name].photo
        if photo is None:
            return ""
        try:
            changed = msgspec.structs.replace(photo, **{name: value})
        except MapError as error:
            return str(error)
        changes = boards.photo_edit(m, self.name, changed)
        return self.edit(f"Change photo of {self.name}", changes)

    def _give_mark(self, number: int, name: str, value: Any) -> str:
        m = self.bridge.map
        try:
            mark = msgspec.structs.replace(m.boards[self.name].marks[number], **{name: value})
            changes = boards.remarked(m, self.name, number, mark)
        except MapError as error:
            return str(error)
        return self.edit(f"Change mark of {self.name}", changes)

    @Slot()
    def _do_with_photo(self) -> None:
        name = self.sender().objectName().removeprefix("photo ")
        commands = self._work.photo_commands(self.name)
        next(one for one in commands if one.name == name).run()

    @Slot()
    def _add_mark(self) -> None:
        kind = self.sender().objectName().removeprefix("mark ")
        self._work.add_mark_in_sight(self.name, cast("MarkKind", kind))

    @Slot()
    def _remove_mark(self) -> None:
        number = int(self.sender().objectName().removeprefix("remove "))
        self._work.change_mark(self.name, number, None)

    def _rename(self, new: str) -> str:
        try:
            changes = edits.rename_board(self.bridge.map, self.name, new)
        except MapError as error:
            return str(error)
        old, self.name = self.name, new
        reason = self.rename(f"Rename board {old} to {new}", changes)
        if reason:
            self.name = old
        return reason
