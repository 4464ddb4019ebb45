"""What makes one map out of another, as changes that a history can carry out and undo."""

from __future__ import annotations

from typing import Any

from railmap.model.railmap import SINGLE, Change, Document, RailMap

_TABLES = tuple(name for name in Document.__struct_fields__ if name not in SINGLE)


def changes_between(old: RailMap, new: RailMap) -> list[Change]:
    """Return the changes that make an old map equal to a new one, order of items included.

    Parameters
    ----------
    old, new : RailMap
        The maps; neither is touched.

    Returns
    -------
    list of Change
        To be carried out together; empty if the maps are equal.

    Examples
    --------
    >>> old, new = RailMap(title="Divider"), RailMap(title="Divider")
    >>> rail = new.add_rail("A", "+12")
    >>> [(change.table, change.item.name) for change in changes_between(old, new)]
    [('rails', '+12')]
    """
    changes: list[Change] = []
    for name in SINGLE:
        if getattr(old, name) != getattr(new, name):
            changes.append(Change(name, None, getattr(new, name)))
    for name in _TABLES:
        changes += _of_table(name, old.table(name), new.table(name))
    return changes


def _of_table(name: str, old: dict[str, Any], new: dict[str, Any]) -> list[Change]:
    if list(old) == list(new):
        return [Change(name, key, item) for key, item in new.items() if old[key] != item]
    # The order is part of the map: all go out, and all come in as they shall stand.
    gone = [Change(name, key, None) for key in old]
    return gone + [Change(name, None, item) for item in new.values()]
