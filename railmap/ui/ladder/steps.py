"""From rung to rung and along a rung: what the keys and the pointer reach."""

from __future__ import annotations

from railmap.bench.rungs import Ladder
from railmap.ui.ladder.figures import Figures
from railmap.ui.ladder.shapes import Box, Drawing, Key

REACH = 5.0
"""How near the pointer has to be to a line, pixels."""


def rungs_in_order(ladder: Ladder, figures: Figures) -> list[str]:
    """Return the nodes of all rungs with volts, the highest first; equal ones from left to right.

    Volts that differ by rounding only count as equal.
    """
    held = [r for r in ladder.rungs.values() if abs(figures.of(r.node)) < float("inf")]
    held.sort(key=lambda r: (-round(figures.of(r.node), 6), r.home, r.first))
    return [rung.node for rung in held]


def row_of(ladder: Ladder, node: str) -> list[Key]:
    """Return a rung and all that stands on it, from left to right; the rung comes first."""
    found: list[tuple[int, int, Key]] = []
    for feeder in ladder.feeders:
        if feeder.node == node:
            refs = (*feeder.refs, *feeder.windings, *feeder.behind)
            found += [(feeder.lane, 0, ("part", ref)) for ref in refs]
    for foot in ladder.feet:
        if foot.node == node:
            found += [(foot.lane, 1, ("part", ref)) for ref in foot.refs]
    for drop in ladder.drops:
        if node in (drop.over, drop.under):
            # What it is fed by comes before what it feeds.
            found.append((drop.lane, 0 if drop.under == node else 2, ("part", drop.ref)))
    found.sort(key=lambda item: item[:2])
    return [("rail", node), *(key for *_, key in found)]


def keys_at(drawing: Drawing, x: float, y: float) -> tuple[Key, ...]:
    """Return what is at a point, nothing where there is nothing.

    Tiles come before words, words before lines.
    """
    point = Box(x, y, x, y)
    for fall in reversed(drawing.falls):
        if _holds(fall.tile.grown(2), point):
            return fall.keys
    for text in drawing.texts:
        if text.keys and _holds(text.box.grown(1), point):
            return text.keys
    near = [(_far(bar.line, x, y), (bar.key,)) for bar in drawing.bars]
    near += [(_far(fall.line, x, y), fall.keys) for fall in drawing.falls]
    far, keys = min(near, default=(REACH + 1, ()), key=lambda pair: pair[0])
    return keys if far <= REACH else ()


def _holds(box: Box, point: Box) -> bool:
    return box.left <= point.left <= box.right and box.top <= point.top <= box.bottom


def _far(line: Box, x: float, y: float) -> float:
    dx = max(line.left - x, 0.0, x - line.right)
    dy = max(line.top - y, 0.0, y - line.bottom)
    return float((dx * dx + dy * dy) ** 0.5)
