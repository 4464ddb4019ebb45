"""Undo and redo: every edit of a map goes through one history, which keeps both ways."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable
from contextlib import contextmanager

import msgspec

from railmap.errors import MapError
from railmap.model.railmap import Change, RailMap


class Edit(msgspec.Struct, frozen=True):
    """One step to undo or redo.

    Parameters
    ----------
    name : str
        What was done, for a person; for example ``Move 3 parts``.
    changes : tuple of Change
        What it does, in order.
    undone : tuple of Change
        What takes it back, in order.
    """

    name: str
    changes: tuple[Change, ...]
    undone: tuple[Change, ...]


class History:
    """The edits of one map, done and undone.

    While it is in use, the map is changed through it alone; an edit that the map refuses leaves
    both as they were.

    Parameters
    ----------
    m : RailMap
        The map to edit. It counts as clean, that is as saved.
    changed : callable, optional
        Called after each step with the changes that the map has just been through.

    Examples
    --------
    >>> from railmap import Rail
    >>> m = RailMap(title="Bench divider")
    >>> history = History(m)
    >>> history.do("Name rail +12", [Change("rails", None, Rail("A", "+12"))])
    >>> list(m.rails), history.undo_name, history.clean
    (['A'], 'Name rail +12', False)
    >>> history.undo().name
    'Name rail +12'
    >>> list(m.rails), history.redo_name, history.clean
    ([], 'Name rail +12', True)
    """

    def __init__(
        self, m: RailMap, changed: Callable[[tuple[Change, ...]], None] | None = None
    ) -> None:
        self._map = m
        self._changed = changed
        self._done: list[Edit] = []
        self._undone: list[Edit] = []
        self._groups: list[list[Edit]] = []
        self._clean_at: int | None = 0

    @property
    def undo_name(self) -> str | None:
        """Name of the edit that :meth:`undo` would take back; None if there is none."""
        return self._done[-1].name if self._done else None

    @property
    def redo_name(self) -> str | None:
        """Name of the edit that :meth:`redo` would do again; None if there is none."""
        return self._undone[-1].name if self._undone else None

    @property
    def clean(self) -> bool:
        """True if the map is as it was at the clean mark."""
        return self._clean_at == len(self._done) and not any(self._groups)

    def mark_clean(self) -> None:
        """Take the map as it is now for clean; call it when the map has been saved.

        Raises
        ------
        MapError
            Inside :meth:`together`: its edit is not complete.
        """
        self._refuse_in_group()
        self._clean_at = len(self._done)

    def do(self, name: str, changes: Iterable[Change]) -> None:
        """Carry out an edit; one that changes nothing is not kept.

        Parameters
        ----------
        name : str
            What it does, for a person.
        changes : iterable of Change
            All or none are carried out.

        Raises
        ------
        MapError
            If the map refuses; map and history are then as they were.
        """
        changes = tuple(changes)
        undone = self._map.change(changes)
        if undone:
            self._keep(Edit(name, changes, undone))
            self._tell(changes)

    def undo(self) -> Edit:
        """Take back the last edit and return it.

        Raises
        ------
        MapError
            If there is none, or inside :meth:`together`.
        """
        self._refuse_in_group()
        if not self._done:
            raise MapError("there is nothing to undo")
        edit = self._done[-1]
        self._map.change(edit.undone)
        self._undone.append(self._done.pop())
        self._tell(edit.undone)
        return edit

    def redo(self) -> Edit:
        """Do the edit again that was taken back last, and return it.

        Raises
        ------
        MapError
            If there is none, or inside :meth:`together`.
        """
        self._refuse_in_group()
        if not self._undone:
            raise MapError("there is nothing to redo")
        edit = self._undone[-1]
        self._map.change(edit.changes)
        self._done.append(self._undone.pop())
        self._tell(edit.changes)
        return edit

    @contextmanager
    def together(self, name: str) -> Generator[None, None, None]:
        """Collect the edits of a block into one; if the block raises, take them back.

        Each edit is carried out at once. A block inside a block becomes part of the outer one,
        and is taken back by itself if it raises.

        Parameters
        ----------
        name : str
            Name of the edit they become.

        Examples
        --------
        >>> from railmap import Rail
        >>> m = RailMap()
        >>> history = History(m)
        >>> with history.together("Name 2 rails"):
        ...     for node in "AB":
        ...         history.do(f"Name {node}", [Change("rails", None, Rail(node))])
        >>> history.undo().name, len(m.rails)
        ('Name 2 rails', 0)
        """
        group: list[Edit] = []
        self._groups.append(group)
        try:
            yield
        except BaseException:
            self._groups.pop()
            self._take_back(group)
            raise
        self._groups.pop()
        if group:
            self._keep(_merged(name, group))

    def _keep(self, edit: Edit) -> None:
        """Add an edit to the innermost open group, else to what can be undone."""
        if self._groups:
            self._groups[-1].append(edit)
            return
        if self._clean_at is not None and self._clean_at > len(self._done):
            self._clean_at = None
        self._done.append(edit)
        self._undone.clear()

    def _take_back(self, group: list[Edit]) -> None:
        undone = _merged("", group).undone
        if undone:
            self._map.change(undone)
            self._tell(undone)

    def _refuse_in_group(self) -> None:
        if self._groups:
            raise MapError("an edit is still under way")

    def _tell(self, changes: tuple[Change, ...]) -> None:
        if self._changed is not None:
            self._changed(changes)


def _merged(name: str, edits: list[Edit]) -> Edit:
    changes = tuple(change for edit in edits for change in edit.changes)
    undone = tuple(change for edit in reversed(edits) for change in edit.undone)
    return Edit(name, changes, undone)
