"""Drops, feeders and feet as lines with tiles."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from railmap.bench.rungs import Drop, Feeder, Foot
from railmap.ui.ladder.ground import STUB, Ground
from railmap.ui.ladder.shapes import Box, Fall

FOOT = 12.0
MOST_TILE, LEAST_TILE = 26.0, 7.0


def falls_of(ground: Ground) -> Iterable[Fall | None]:
    """Return every drop, feeder and foot; None for those out of sight."""
    ladder, figures = ground.order.ladder, ground.order.figures
    flow = [abs(a) for a in figures.amps.values() if math.isfinite(a)]
    most = max(flow, default=0.0) or 1.0
    for drop in ladder.drops:
        yield _drop(ground, drop, most)
    for feeder in ladder.feeders:
        yield _feeder(ground, feeder, most)
    for foot in ladder.feet:
        yield _foot(ground, foot, most)


def _drop(ground: Ground, drop: Drop, most: float) -> Fall | None:
    start, end = ground.node_y(drop.over), ground.node_y(drop.under)
    if math.isnan(start) and math.isnan(end):
        return None
    outward = 1
    if math.isnan(end):
        end = start + 16 * (1 if start < ground.y(0.0) else -1)
    elif math.isnan(start):
        start = end + 16 * (-1 if end < ground.y(0.0) else 1)
    top, bottom = sorted((start, end))
    if bottom < ground.clip.top or top > ground.clip.bottom:
        return None
    if drop.flat and bottom - top < LEAST_TILE:
        return _fall(ground, "flat", drop.lane, top, bottom, (drop.ref,), most, outward)
    return _fall(ground, "drop", drop.lane, top, bottom, (drop.ref,), most, outward)


def _feeder(ground: Ground, feeder: Feeder, most: float) -> Fall | None:
    y = ground.node_y(feeder.node)
    if math.isnan(y) or not ground.in_sight(y):
        return None
    side = ground.order.ladder.rungs[feeder.node].side
    far = y - side * STUB
    kind = "feeder" if feeder.windings else "source"
    behind = (*feeder.windings, *feeder.behind)
    refs = (*feeder.refs, *behind)
    fall = _fall(ground, kind, feeder.lane, min(y, far), max(y, far), refs, most, -side)
    figures = ground.order.figures
    shade, beyond = figures.shade(feeder.refs), figures.shade(behind)
    return replace(
        fall, step=shade.step, over=shade.over, near=len(feeder.refs),
        far_step=beyond.step, far_over=beyond.over,
    )  # fmt: skip


def _foot(ground: Ground, foot: Foot, most: float) -> Fall | None:
    y = ground.node_y(foot.node)
    if math.isnan(y) or not ground.in_sight(y):
        return None
    side = ground.order.ladder.rungs[foot.node].side
    far = y + side * FOOT
    return _fall(ground, "foot", foot.lane, min(y, far), max(y, far), foot.refs, most, side)


def _fall(
    ground: Ground, kind: str, lane: int, top: float, bottom: float,
    refs: tuple[str, ...], most: float, outward: int,
) -> Fall:  # fmt: skip
    figures = ground.order.figures
    x = ground.plan.lines[lane]
    if kind == "foot":
        x -= 8 if ground.plan.cells[lane].width > 34 else 5
    shade = figures.shade(refs)
    amps = sum(abs(a) for ref in refs[: 1 if kind != "foot" else None]
               if math.isfinite(a := figures.amps.get(ref, math.nan)))  # fmt: skip
    symbol = ground.order.parts[refs[0]].kind
    return Fall(
        kind, Box(x, top, x, bottom), _tile(ground, kind, lane, x, top, bottom, outward),
        tuple(("part", ref) for ref in refs), 1.0 + 3.4 * math.sqrt(min(amps / most, 1.0)),
        shade.step, shade.over, any(ref in figures.out for ref in refs), outward, symbol,
        len(refs),
    )  # fmt: skip


def _tile(
    ground: Ground, kind: str, lane: int, x: float, top: float, bottom: float, outward: int
) -> Box:
    """Return the tile of a line; on the piece of it that is in sight."""
    half = min(max(ground.plan.cells[lane].width * 0.3, 3.0), 8.0)
    if kind == "foot":
        tip = bottom if outward > 0 else top
        half = 4 if ground.plan.cells[lane].width > 20 else 3
        return Box(x - half, tip - 3, x + half, tip + 3)
    if kind == "flat":
        middle = (top + bottom) / 2
        half = min(half * 1.2, 8.0)
        return Box(x - half, middle - 3.5, x + half, middle + 3.5)
    if kind == "source":
        middle = (top + bottom) / 2
        return Box(x - 9, middle - 9, x + 9, middle + 9)
    if kind == "feeder":
        near = top + 6 if outward > 0 else bottom - 6
        first, second = sorted((near, near + outward * 13))
        return Box(x - half, first, x + half, second)
    top, bottom = max(top, ground.clip.top + 2), min(bottom, ground.clip.bottom - 2)
    high = min(max((bottom - top) * 0.55, LEAST_TILE), MOST_TILE)
    middle = (top + bottom) / 2
    return Box(x - half, middle - high / 2, x + half, middle + high / 2)
