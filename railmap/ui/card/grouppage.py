"""The page of the card for several parts: what they have in common, and to change it for all."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from PySide6.QtWidgets import QLabel, QLineEdit

from railmap.bench import groups
from railmap.bench.part_columns import KIND_WORDS
from railmap.errors import MapError
from railmap.model import kinds
from railmap.model.part import Part
from railmap.ui.bridge import Bridge
from railmap.ui.canvas.group import Group
from railmap.ui.card.fields import Field, part_fields
from railmap.ui.card.figures import Figures
from railmap.ui.card.form import Form
from railmap.ui.card.page import Page
from railmap.ui.theme import Theme

MOST_NAMED = 24
"""So many references are listed in full."""


class GroupPage(Page):
    """Several parts."""

    def __init__(self, bridge: Bridge, theme: Theme, group: Group) -> None:
        super().__init__(bridge, theme)
        self._group = group
        self._boards = tuple(bridge.map.boards)
        self.figures = Figures(theme)
        self.column.addWidget(self.figures)
        self.section("The same for all")
        self.form = Form(self._fields(), self._give, theme)
        self.column.addWidget(self.form)
        self.section("Selected")
        self.names = QLabel()
        self.names.setWordWrap(True)
        self.column.addWidget(self.names)
        self.column.addStretch(1)
        self.refresh()

    @property
    def about(self) -> Group:
        """See :class:`Page`."""
        return self._group

    def stands(self) -> bool:
        """See :class:`Page`."""
        m = self.bridge.map
        return self._boards == tuple(m.boards) and all(r in m.parts for r in self._group.refs)

    def refresh(self) -> None:
        """See :class:`Page`."""
        if not self.stands():
            return
        parts = self._parts()
        self.heading.setText(f"{len(parts)} parts selected")
        counts: dict[str, int] = {}
        for part in parts:
            counts[part.kind] = counts.get(part.kind, 0) + 1
        said = [f"{count} × {KIND_WORDS[kind].lower()}" for kind, count in counts.items()]
        self.below.setText(", ".join(said))
        refs = self._group.refs
        more = f" and {len(refs) - MOST_NAMED} more" if len(refs) > MOST_NAMED else ""
        self.names.setText(", ".join(refs[:MOST_NAMED]) + more)
        self._show_common(parts)
        self.figures.show_rows(self._heat(parts), self.theme)

    def _parts(self) -> list[Part]:
        return [self.bridge.map.parts[ref] for ref in self._group.refs]

    def _fields(self) -> list[Field]:
        parts = self._parts()
        known = {f.name: f for f in part_fields(type(parts[0]))}
        known["board"] = Field("board", "Board", "", "choice", ("", *self._boards))
        return [known[name] for name in groups.common_fields(parts)]

    def _show_common(self, parts: list[Part]) -> None:
        found: dict[str, Any] = {}
        for name in groups.common_fields(parts):
            values = {getattr(part, name) for part in parts}
            found[name] = values.pop() if len(values) == 1 else None
            editor = self.form.editors[name]
            if isinstance(editor, QLineEdit):
                editor.setPlaceholderText("various" if values else "not given")
        self.form.show_values(SimpleNamespace(**found))

    def _heat(self, parts: list[Part]) -> list[list[tuple[str, str, str]]]:
        solution = self.bridge.solution
        if solution is None:
            return []
        at = solution.network.part_index
        heat = sum(
            float(solution.watts[at[p.ref]])
            for p in parts
            if p.ref in at and not isinstance(p, kinds.Load)
        )
        return [[("heat in them, loads apart", self.theme.figures.show(heat, "W"), "")]]

    def _give(self, name: str, value: Any) -> str:
        m, refs = self.bridge.map, self._group.refs
        try:
            changes = groups.with_field(m, refs, name, value)
        except MapError as error:
            return str(error)
        return self.edit(f"Change {len(refs)} parts", changes)
