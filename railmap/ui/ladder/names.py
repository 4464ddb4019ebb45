"""The names of rungs with their volts: over each rung, or in one list on the left."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from railmap.bench.rungs import Rung
from railmap.model.part import ZERO_NODE
from railmap.ui.ladder.crowd import spread
from railmap.ui.ladder.ground import Ground
from railmap.ui.ladder.plan import named_rungs, short_volts, title_of
from railmap.ui.ladder.shapes import Bar, Box, Key, Span, Text, elide

Leader = tuple[Box, Key]
RISE = 2.0
"""Room between a rung and the name over it."""


def lay_names(ground: Ground, bars: Sequence[Bar]) -> tuple[list[Text], list[Leader]]:
    """Return the names of the rungs in sight, and the lines that lead to those moved away.

    How many more there are above and below what is in sight comes last.
    """
    at = {bar.key[1]: bar.line for bar in bars}
    named = named_rungs(ground.order.ladder)
    rungs = [rung for rung in named if rung.node in at]
    more = _more(ground, named)
    room = ground.clip
    if ground.plan.listed:
        for text in more:
            above = text.box.top < (room.top + room.bottom) / 2
            room = (
                room._replace(top=text.box.bottom) if above else room._replace(bottom=text.box.top)
            )
        texts, leaders = _list(ground, rungs, at, room)
    else:
        texts, leaders = _over(ground, rungs, at)
    return texts + more, leaders


def _more(ground: Ground, named: Sequence[Rung]) -> list[Text]:
    """Return how many rungs are above and below what is in sight."""
    order, clip, found = ground.order, ground.clip, list[Text]()
    size = order.size - 2
    high, left = order.letters.height(size), clip.left + 4
    heights = [y for rung in named if not math.isnan(y := ground.node_y(rung.node))]
    above, below = sum(y < clip.top for y in heights), sum(y > clip.bottom for y in heights)
    for count, sign, top in ((above, "▲", clip.top + 1), (below, "▼", clip.bottom - high - 1)):
        text = f"{sign} {count}"
        if count:
            box = Box(left, top, left + order.letters.width(text, False, size), top + high)
            found.append(Text(box, (Span(text),), size, (), True))
    return found


def spans_of(ground: Ground, rung: Rung, room: float) -> tuple[Span, ...]:
    """Return what the name of a rung says; its volts are marked where they are not acceptable."""
    plan, order = ground.plan, ground.order
    volts = order.figures.of(rung.node)
    mark = verdict_mark(rung, volts)
    figure = f" {short_volts(volts, order.style, plan.decimals)}{mark}"
    left = room - order.letters.width(figure, False, plan.size)
    title = title_of(rung, left, plan.size, order.letters)
    return Span(title, True), Span(figure, False, bool(mark))


def verdict_mark(rung: Rung, volts: float) -> str:
    """Return an arrow where a rung is above or below what is acceptable, ! beyond its limit."""
    rail = rung.rail
    if rail is None or not math.isfinite(volts):
        return ""
    if rail.max_volts is not None and abs(volts) > rail.max_volts:
        return " !"
    band = rail.band_volts
    if band is None or band[0] <= volts <= band[1]:
        return ""
    return " ▲" if volts > band[1] else " ▼"


def _wide(ground: Ground, spans: Iterable[Span]) -> float:
    size = ground.plan.size
    return sum(ground.order.letters.width(s.text, s.bold, size) for s in spans)


def _over(
    ground: Ground, rungs: Sequence[Rung], at: dict[str, Box]
) -> tuple[list[Text], list[Leader]]:
    """Set each name over its rung, on the far side from 0 V; those of one lane in a row."""
    high = ground.order.letters.height(ground.plan.size)
    lanes: dict[int, list[tuple[float, Rung]]] = {}
    for rung in rungs:
        y = at[rung.node].top
        wanted = y - high - RISE if rung.side > 0 else y + RISE
        lanes.setdefault(rung.home, []).append((wanted, rung))
    texts: list[Text] = []
    leaders: list[Leader] = []
    for lane, some in lanes.items():
        some.sort(key=lambda pair: (pair[0], at[pair[1].node].top))
        kept = _as_many(ground, some, high, ground.clip)
        tops = spread([w for w, _ in kept], high, ground.clip.top, ground.clip.bottom)
        for (_, rung), top in zip(kept, tops, strict=True):
            text = _name_in(ground, rung, lane, top, high)
            texts.append(text)
            leaders += _leader_over(text, rung, at[rung.node])
    return texts, leaders


def _as_many(
    ground: Ground, rows: list[tuple[float, Rung]], high: float, room: Box
) -> list[tuple[float, Rung]]:
    """Return as many rows as there is room for, what is selected first."""
    count = max(int(room.height / high), 1)
    if len(rows) <= count:
        return rows
    first = ground.order.first
    best = sorted(rows, key=lambda row: ("rail", row[1].node) not in first)[:count]
    return [row for row in rows if row in best]


def _name_in(ground: Ground, rung: Rung, lane: int, top: float, high: float) -> Text:
    cell = ground.plan.cells[lane]
    room = cell.width - 4
    spans = spans_of(ground, rung, min(room, ground.plan.lines[lane] - cell.left - 9))
    left = cell.left + 3
    box = Box(left, top, left + _wide(ground, spans), top + high)
    return Text(box, spans, ground.plan.size, (("rail", rung.node),), False, True)


def _leader_over(text: Text, rung: Rung, line: Box) -> list[Leader]:
    """Return a line from a name to its rung, if it had to move away from it."""
    box, y = text.box, line.top
    gap = y - box.bottom if rung.side > 0 else box.top - y
    if -1.0 <= gap <= 6.0:
        return []
    middle = (box.top + box.bottom) / 2
    return [(Box(box.right + 1, middle, box.right + 6, y), ("rail", rung.node))]


def _list(
    ground: Ground, rungs: Sequence[Rung], at: dict[str, Box], room: Box
) -> tuple[list[Text], list[Leader]]:
    """Set all names in one list on the left, in the order of their volts."""
    plan, high = ground.plan, ground.order.letters.height(ground.plan.size)
    rows = [(at[rung.node].top, rung) for rung in rungs]
    rows.sort(key=lambda row: (row[0], at[row[1].node].left))
    rows = _as_many(ground, rows, high, room)
    lines: list[tuple[float, Rung | None]] = [*rows]
    zero = ground.y(0.0)
    if ground.in_sight(zero) and (len(rows) + 1) * high <= room.height:
        lines = sorted([*lines, (zero, None)], key=lambda line: line[0])
    tops = spread([y - high / 2 for y, _ in lines], high, room.top, room.bottom)
    texts: list[Text] = []
    leaders: list[Leader] = []
    for (y, rung), top in zip(lines, tops, strict=True):
        spans = (Span("0 V"),) if rung is None else spans_of(ground, rung, plan.names.width)
        wide = _wide(ground, spans)
        left = plan.names.right - wide if rung is None else plan.names.left
        key = ("rail", ZERO_NODE if rung is None else rung.node)
        box = Box(left, top, left + wide, top + high)
        texts.append(Text(box, spans, plan.size, () if rung is None else (key,), rung is None))
        edge = plan.names.right + 3
        leaders.append((Box(box.right + 2, top + high / 2, edge, y), key))
        if rung is not None and at[rung.node].left > edge:
            leaders.append((Box(edge, y, at[rung.node].left, y), key))
    return texts, leaders


def thin_text(ground: Ground, rung: Rung, size: int) -> str:
    """Return what is said of a rung that is no rail."""
    order = ground.order
    text = f"{rung.title} {short_volts(order.figures.of(rung.node), order.style, 1)}"
    return elide(text, 90.0, False, size, order.letters)
