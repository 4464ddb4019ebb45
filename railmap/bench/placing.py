"""Finds a place on its board for every part that has none, without overlap.

Parts go in columns from the source outwards, so that the drawing reads from left to right.
Lengths are in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import networkx as nx

from railmap.model.kinds import Source, Winding
from railmap.model.part import ZERO_NODE, Part, Place
from railmap.model.railmap import RailMap

TILE_MM = (30.0, 18.0)
PITCH_MM = (44.0, 27.0)
MARGIN_MM = (24.0, 28.0)


def depths(m: RailMap) -> dict[str, int]:
    """Return how many parts lie between a source and each part, along the shortest way.

    Parameters
    ----------
    m : RailMap
        The map.

    Returns
    -------
    dict of str to int
        By reference; 0 for sources and windings, and for what hangs on nothing.
    """
    graph: nx.Graph[str] = nx.Graph()
    for part in m.parts.values():
        live = [n for n in part.nodes if n != ZERO_NODE]
        graph.add_edges_from((f"part {part.ref}", f"node {n}") for n in live)
    feeds = [
        f"part {p.ref}" for p in m.parts.values()
        if isinstance(p, Source | Winding) and f"part {p.ref}" in graph
    ]  # fmt: skip
    far = nx.multi_source_dijkstra_path_length(graph, set(feeds)) if feeds else {}
    return {ref: int(far.get(f"part {ref}", 0)) // 2 for ref in m.parts}


def place_parts(m: RailMap, held: Mapping[str, Place] | None = None) -> dict[str, Place]:
    """Return a place for every part that has none.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.
    held : dict of str to Place, optional
        Places found before, by reference: these parts keep them, and are not among the result.

    Returns
    -------
    dict of str to Place
        By reference. Parts without a board get a place on the floor, left of the boards. What a
        full board has no room for goes on below it, or, if another board lies there, there too.
    """
    depth = depths(m)
    found: dict[str, Place] = {}
    rest: list[Part] = []
    lain = {ref: part.place for ref, part in m.parts.items() if part.place is not None}
    lain |= held or {}
    for board in (*m.boards, ""):
        here = [p for p in m.parts.values() if p.board == board]
        waiting = sorted((p for p in here if p.ref not in lain), key=lambda p: depth[p.ref])
        if waiting:
            taken = [lain[p.ref] for p in here if p.ref in lain]
            found.update(_fill(m, board, waiting, taken, depth))
            rest += [part for part in waiting if part.ref not in found]
    if rest:
        found.update(_beside(m, rest, {**lain, **found}))
    return found


def size_mm(turn: int) -> tuple[float, float]:
    """Return width and height of a part that is turned.

    Examples
    --------
    >>> size_mm(0), size_mm(270)
    ((30.0, 18.0), (18.0, 30.0))
    """
    wide, high = TILE_MM
    return (high, wide) if turn % 180 else (wide, high)


def _beside(m: RailMap, rest: list[Part], lain: dict[str, Place]) -> dict[str, Place]:
    """Place left of all boards what their boards have no room for."""
    grid = _grid(m, "", len(rest) + len(m.parts))
    taken: list[Place] = []
    for ref, place in lain.items():
        x, y = _origin(m, m.parts[ref].board)
        taken.append(place.moved(x, y))
    used: set[tuple[int, int]] = set()
    more: dict[str, Place] = {}
    for part in rest:
        place = _free_cell(grid[0] - 1, grid, taken, used)
        x, y = _origin(m, part.board)
        more[part.ref] = Place(place.x_mm - x, place.y_mm - y)
    return more


def _origin(m: RailMap, board: str) -> tuple[float, float]:
    sheet = m.boards.get(board)
    return (sheet.x_mm, sheet.y_mm) if sheet else (0.0, 0.0)


def _fill(
    m: RailMap, board: str, waiting: list[Part], taken: list[Place], depth: dict[str, int]
) -> dict[str, Place]:
    """Place the waiting parts of one board in the free cells of its grid."""
    grid = _grid(m, board, len(waiting) + len(taken))
    ranks = {d: i for i, d in enumerate(sorted({depth[p.ref] for p in waiting}))}
    used: set[tuple[int, int]] = set()
    found: dict[str, Place] = {}
    lowest = grid[3] + (grid[1] - 0.5) * PITCH_MM[1]
    for part in waiting:
        wish = min(ranks[depth[part.ref]], grid[0] - 1)
        place = _free_cell(wish, grid, taken, used)
        if board and place.y_mm > lowest and _on_another(m, board, place):
            break
        found[part.ref] = place
    return found


def _on_another(m: RailMap, board: str, place: Place) -> bool:
    """Tell whether a place of a board lies on or close to another board."""
    x, y = _origin(m, board)
    wide, high = TILE_MM[0] / 2 + 2, TILE_MM[1] / 2 + 2
    return any(
        other.x_mm - wide < place.x_mm + x < other.x_mm + other.width_mm + wide
        and other.y_mm - high < place.y_mm + y < other.y_mm + other.height_mm + high
        for name, other in m.boards.items()
        if name != board
    )


def _grid(m: RailMap, board: str, parts: int) -> tuple[int, int, float, float]:
    """Return columns, rows, and the first cell's centre."""
    (pitch_x, pitch_y), (margin_x, margin_y) = PITCH_MM, MARGIN_MM
    if board:
        sheet = m.boards[board]
        # A part is in the way of four cells at most, so no board needs more of them.
        across = 1 + int(min(max(0.0, sheet.width_mm - 2 * margin_x) // pitch_x, 4 * parts))
        rows = 1 + int(min(max(0.0, sheet.height_mm - margin_y - 12) // pitch_y, 4 * parts))
        return across, rows, margin_x, margin_y
    rows = max(4, min(parts, 8))
    across = -(-parts // rows)
    left = min((b.x_mm for b in m.boards.values()), default=0.0)
    top = min((b.y_mm for b in m.boards.values()), default=0.0)
    return across, rows, left - 30 - across * pitch_x + pitch_x / 2, top + margin_y


def _free_cell(
    wish: int, grid: tuple[int, int, float, float], taken: Iterable[Place],
    used: set[tuple[int, int]],
) -> Place:  # fmt: skip
    """Return the free cell nearest to the wished column; below the board if it is full.

    ``used`` holds the cells given away so far; the one returned is put into it.
    """
    across, rows, left, top = grid
    held = list(taken)
    order = sorted(range(across), key=lambda c: (abs(c - wish), c))
    row = 0
    while True:
        cells = ((c, r) for c in order for r in range(row, row + rows))
        for column, line in cells:
            if (column, line) in used:
                continue
            place = Place(left + column * PITCH_MM[0], top + line * PITCH_MM[1])
            if not any(_touch(place, other) for other in held):
                used.add((column, line))
                return place
        row += rows


def _touch(one: Place, other: Place) -> bool:
    (wide, high), (other_wide, other_high) = size_mm(one.turn), size_mm(other.turn)
    across = abs(one.x_mm - other.x_mm) < (wide + other_wide) / 2 + 2
    return across and abs(one.y_mm - other.y_mm) < (high + other_high) / 2 + 2
