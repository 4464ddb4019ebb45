"""From rung to rung and along a rung: what the keys and the pointer reach."""

from __future__ import annotations

from collections.abc import Sequence

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


def part_beside(ladder: Ladder, node: str, refs: Sequence[str], by: int) -> str:
    """Return the next part on a rung that is not among some; nothing where there is none.

    Parameters
    ----------
    ladder : Ladder
        The ladder.
    node : str
        The rung.
    refs : sequence of str
        The parts that are selected; it goes on from the last of them.
    by : int
        To the right above 0, to the left below.
    """
    row = [key for kind, key in row_of(ladder, node) if kind == "part"]
    at = row.index(refs[-1]) if refs and refs[-1] in row else -1 if by > 0 else len(row)
    ahead = row[at + 1 :] if by > 0 else row[:at][::-1]
    return next((ref for ref in ahead if ref not in refs), "")


def part_beyond(
    ladder: Ladder, order: Sequence[str], node: str, refs: Sequence[str], by: int
) -> str:
    """Return a part on a rung, not among some, that leads on from it; nothing where none does.

    Parameters
    ----------
    ladder : Ladder
        The ladder.
    order : sequence of str
        Its rungs, the highest first.
    node : str
        The rung.
    refs : sequence of str
        The parts that are selected.
    by : int
        Downwards above 0, upwards below. Where no drop leads further that way, it is what stands
        on the rung with one end only: a load, a source, a winding.
    """
    ends = {d.ref: (d.over, d.under) for d in ladder.drops}
    free = [ref for kind, ref in row_of(ladder, node) if kind == "part" and ref not in refs]
    here = order.index(node)
    further = [
        ref for ref in free
        if any(by * (order.index(n) - here) > 0 for n in ends.get(ref, ()) if n in order)
    ]  # fmt: skip
    return next(iter([*further, *(ref for ref in free if ref not in ends)]), "")


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
