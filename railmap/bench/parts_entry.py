"""From good rows of the parts table to the changes of one edit, with boards, rails and places."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from msgspec.structs import replace

from railmap.bench import edits
from railmap.bench.part_columns import PLACE_COLUMNS, label_in, spec_for
from railmap.bench.parts_table import KEYS, Reading
from railmap.bench.placing import MARGIN_MM, PITCH_MM, place_parts
from railmap.model.board import Board
from railmap.model.part import Part
from railmap.model.rail import Rail
from railmap.model.railmap import GAP_MM, Change, RailMap

WIDTH_MM: Final = 186.0
LEAST_ROWS: Final = 3
_BELOW_MM: Final = 20.0
_ACROSS: Final = 1 + int((WIDTH_MM - 2 * MARGIN_MM[0]) // PITCH_MM[0])


def entered(m: RailMap, readings: Iterable[Reading]) -> list[Change]:
    """Return the changes that put the items of good rows into a map.

    Boards that the rows name and the map does not have come into being, and so do the rails of
    nodes that are named by their volts, such as ``+29``. Parts without a place get one on their
    board, apart from the others; a board whose size nobody gave grows with them.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    readings : iterable of Reading
        What was read from the rows; those without an item are left out.

    Returns
    -------
    list of Change

    Raises
    ------
    MapError
        If the map cannot take them together.

    Examples
    --------
    >>> from railmap.bench.parts_table import Row, read_row
    >>> m = RailMap()
    >>> row = Row({"ref": "R1", "drawn": "33R", "from": "P0", "to": "+29", "board": "A"})
    >>> _ = m.change(entered(m, [read_row(m, row)]))
    >>> list(m.boards), list(m.parts), m.rails["+29"].label_volts
    (['A'], ['R1'], 29.0)
    """
    good = [(reading.row, reading.item) for reading in readings if reading.item is not None]
    changes: list[Change] = []
    renamed = m.copy()
    for row, item in good:
        if row.key:
            steps = _renamed(renamed, row.table, row.key, getattr(item, KEYS[row.table]))
            renamed.change(steps)
            changes += steps
    items = [item for _, item in good]
    given = {item.name for item in items if isinstance(item, Board)}
    changes += _new_boards(renamed, items, given)
    changes += [_put(renamed, item) for item in _in_order(items)]
    changes += edits.revisions_beside(renamed, [i for i in items if isinstance(i, Part)])
    if not any(row.exact for row, _ in good):
        changes += _rails_of_labels(renamed, items)
    to_place = [
        item.ref for row, item in good if isinstance(item, Part) and not row.exact
        and not any(row.texts.get(column) for column in PLACE_COLUMNS)
        and (not row.key or m.parts[row.key].board != item.board)
    ]  # fmt: skip
    return changes + _placed(m, changes, to_place)


def _renamed(m: RailMap, table: str, old: str, new: str) -> list[Change]:
    ways = {
        "parts": edits.rename_part, "rails": edits.rename_node, "boards": edits.rename_board
    }  # fmt: skip
    return ways[table](m, old, new) if old != new else []


def _in_order(items: Sequence[Part | Rail | Board]) -> list[Part | Rail | Board]:
    """Return the boards first, for the parts stand on them."""
    return sorted(items, key=lambda item: not isinstance(item, Board))


def _put(m: RailMap, item: Part | Rail | Board) -> Change:
    """Return the change that adds an item, or puts it in the place of the one with its key."""
    table = spec_for(item).table
    key: str = getattr(item, KEYS[table])
    if isinstance(item, Board) and key not in m.boards and (item.x_mm, item.y_mm) == (0.0, 0.0):
        item = replace(item, x_mm=_right_of(m.boards.values()))
    return Change(table, key if key in m.table(table) else None, item)


def _right_of(boards: Iterable[Board]) -> float:
    return max((board.x_mm + board.width_mm + GAP_MM for board in boards), default=0.0)


def _new_boards(
    m: RailMap, items: Sequence[Part | Rail | Board], given: set[str]
) -> list[Change]:  # fmt: skip
    """Return a board for each new name, with room for the parts that are put on it."""
    counts = Counter(item.board for item in items if isinstance(item, Part) and item.board)
    boards = list(m.boards.values()) + [item for item in items if isinstance(item, Board)]
    changes: list[Change] = []
    for name, count in counts.items():
        if name not in m.boards and name not in given:
            rows = max(LEAST_ROWS, math.ceil(count / _ACROSS))
            boards.append(Board(name, WIDTH_MM, _height_mm(rows), _right_of(boards)))
            changes.append(Change("boards", None, boards[-1]))
    return changes


def _height_mm(rows: int) -> float:
    return MARGIN_MM[1] + PITCH_MM[1] * (rows - 1) + _BELOW_MM


def _rails_of_labels(m: RailMap, items: Sequence[Part | Rail | Board]) -> list[Change]:
    """Return the rails of new nodes that are named by their volts."""
    known = {*m.nodes, *m.rails, *(rail.name for rail in m.rails.values())}
    known |= {item.node for item in items if isinstance(item, Rail)}
    nodes = dict.fromkeys(n for item in items if isinstance(item, Part) for n in item.nodes)
    labels = {node: label_in(node) for node in nodes if node not in known}
    return [
        Change("rails", None, Rail(node, label_volts=volts))
        for node, volts in labels.items()
        if volts is not None
    ]


def _placed(m: RailMap, changes: Sequence[Change], refs: Sequence[str]) -> list[Change]:
    """Return the changes that place parts, and that make their boards grow where they must."""
    if not refs:
        return []
    trial = m.copy()
    trial.change(changes)
    loose = [Change("parts", ref, trial.parts[ref].changed(place=None)) for ref in refs]
    trial.change(loose)
    places = place_parts(trial)
    moved = [Change("parts", ref, trial.parts[ref].changed(place=places[ref])) for ref in refs]
    trial.change(moved)
    return moved + _grown(trial, {trial.parts[ref].board for ref in refs} - {""})


def _grown(m: RailMap, names: Iterable[str]) -> list[Change]:
    changes: list[Change] = []
    for name in sorted(names):
        board = m.boards[name]
        lowest = max(
            p.place.y_mm for p in m.parts.values() if p.board == name and p.place is not None
        )
        rows = 1 + math.ceil((lowest - MARGIN_MM[1]) / PITCH_MM[1])
        taller = replace(board, height_mm=max(board.height_mm, _height_mm(rows)))
        if taller != board and _size_is_ours(board) and not _in_the_way(m, taller):
            changes.append(Change("boards", name, taller))
    return changes


def _size_is_ours(board: Board) -> bool:
    """Tell whether a board has a size that the table gave it: a measured one must not change."""
    rows = 1 + (board.height_mm - MARGIN_MM[1] - _BELOW_MM) / PITCH_MM[1]
    return board.width_mm == WIDTH_MM and rows >= LEAST_ROWS and rows.is_integer()


def _in_the_way(m: RailMap, board: Board) -> bool:
    return any(
        other.name != board.name
        and other.x_mm < board.x_mm + board.width_mm
        and board.x_mm < other.x_mm + other.width_mm
        and other.y_mm < board.y_mm + board.height_mm
        and board.y_mm < other.y_mm + other.height_mm
        for other in m.boards.values()
    )


def removed(m: RailMap, keys: Sequence[tuple[str, str]]) -> list[Change]:
    """Return the changes that take rows out of a map, and all mentions of them.

    Parameters
    ----------
    m : RailMap
        The map.
    keys : sequence of (str, str)
        Table and key of each row. The parts of a board go with it.

    Raises
    ------
    MapError
        If the map does not have one of them.
    """
    trial = m.copy()
    changes: list[Change] = []
    for table, key in sorted(set(keys), key=lambda row: row[0] != "boards"):
        if key not in trial.table(table):
            continue
        if table == "boards":
            steps = edits.remove_board(trial, key)
        elif table == "parts":
            steps = edits.remove_parts(trial, [key])
        else:
            steps = [Change("rails", key, None)]
        trial.change(steps)
        changes += steps
    return changes


def removal_name(keys: Sequence[tuple[str, str]]) -> str:
    """Return the name of the edit that takes rows out.

    Examples
    --------
    >>> removal_name([("parts", "R1")]), removal_name([("rails", "P1"), ("parts", "R1")])
    ('Delete R1', 'Delete 2 rows')
    """
    if len(keys) == 1:
        table, key = keys[0]
        return f"Delete {'' if table == 'parts' else table.removesuffix('s') + ' '}{key}"
    return f"Delete {len(keys)} rows"


def paste_name(readings: Sequence[Reading], what: str = "Paste") -> str:
    """Return the name of the edit that enters several rows at once.

    Examples
    --------
    >>> paste_name([])
    'Paste 0 rows'
    """
    good = [reading for reading in readings if reading.item is not None]
    return f"{what} {len(good)} row{'' if len(good) == 1 else 's'}"


def refused_sentence(readings: Sequence[Reading]) -> str:
    """Return one sentence about the rows that are not good yet; empty if all are."""
    waiting = [reading for reading in readings if reading.item is None]
    if not waiting:
        return ""
    first = waiting[0]
    why = next(iter([*first.reasons.values(), *first.missing.values()]), "")
    count = "1 row waits" if len(waiting) == 1 else f"{len(waiting)} rows wait"
    # A reference that was pasted may run over several lines.
    return " ".join(f"{count} to be put right. {why}".splitlines())
