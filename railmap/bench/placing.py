"""Finds a place on its board for every part that has none, without overlap.

Parts go in columns from the source outwards, so that the drawing reads from left to right.
Lengths are in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterable

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


def place_parts(m: RailMap) -> dict[str, Place]:
    """Return a place for every part that has none.

    Parameters
    ----------
    m : RailMap
        The map; it is not changed.

    Returns
    -------
    dict of str to Place
        By reference. Parts without a board get a place on the floor, left of the boards.
    """
    depth = depths(m)
    found: dict[str, Place] = {}
    for board in ("", *m.boards):
        here = [p for p in m.parts.values() if p.board == board]
        waiting = sorted((p for p in here if p.place is None), key=lambda p: depth[p.ref])
        if waiting:
            taken = [p.place for p in here if p.place is not None]
            found.update(_fill(m, board, waiting, taken, depth))
    return found


def _fill(
    m: RailMap, board: str, waiting: list[Part], taken: list[Place], depth: dict[str, int]
) -> dict[str, Place]:
    """Place the waiting parts of one board in the free cells of its grid."""
    grid = _grid(m, board, len(waiting) + len(taken))
    ranks = {d: i for i, d in enumerate(sorted({depth[p.ref] for p in waiting}))}
    used: set[tuple[int, int]] = set()
    found: dict[str, Place] = {}
    for part in waiting:
        wish = min(ranks[depth[part.ref]], grid[0] - 1)
        found[part.ref] = _free_cell(wish, grid, taken, used)
    return found


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
    return (
        abs(one.x_mm - other.x_mm) < TILE_MM[0] + 2 and abs(one.y_mm - other.y_mm) < TILE_MM[1] + 2
    )
