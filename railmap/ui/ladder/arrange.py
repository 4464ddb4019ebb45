"""From a ladder and its figures to shapes in pixels. Qt-free, and quick enough for every frame."""

from __future__ import annotations

import math
from collections.abc import Iterable

from railmap.bench.rungs import Rung
from railmap.model.record import STAGES
from railmap.ui.ladder.crowd import Crowd
from railmap.ui.ladder.falls import falls_of
from railmap.ui.ladder.foot import lay_foot
from railmap.ui.ladder.ground import Ground, Order, ground_of
from railmap.ui.ladder.names import lay_names
from railmap.ui.ladder.notes import FULL_FROM, lay_notes
from railmap.ui.ladder.plan import heading
from railmap.ui.ladder.shapes import Bar, Box, Drawing, Sign, Span, Text

NOTHING_YET = ("No rungs yet.", "A source and what it feeds", "will stand here.")


def arrange(order: Order) -> Drawing:
    """Return the shapes of a ladder.

    Parameters
    ----------
    order : Order
        What is to be drawn, and where.

    Returns
    -------
    Drawing
        No two of its texts overlap, and no text overlaps a tile.
    """
    ground = ground_of(order)
    if not order.ladder.rungs:
        return _nothing(ground)
    bars = _bars(ground)
    falls = [fall for fall in falls_of(ground) if fall is not None]
    texts = _headings(ground)
    swatches, words = lay_foot(ground)
    texts += words
    names, leaders = lay_names(ground, bars)
    texts += names
    ticks = _grid(ground)
    texts += [t for t in _scale(ground, ticks) if not any(t.box.overlaps(n.box) for n in names)]
    signs, limits = _signs(ground), [*_limits(ground)]
    taken = (
        [t.box.grown(2) for t in texts] + [f.tile.grown(1) for f in falls] + [d.box for d in signs]
    )
    lines = [_hit(f.line, True) for f in falls] + [_hit(b.line, False) for b in bars]
    lines += [Box(b.left, min(b.top, b.bottom), b.right, max(b.top, b.bottom)) for b in limits]
    crowd = Crowd(taken, lines, _room(ground), len(falls) + len(signs) + len(bars))
    notes, spots = lay_notes(ground, bars, falls, signs, crowd)
    return Drawing(
        ground.clip, tuple(_columns(ground)), tuple(ticks), _zero(ground),
        tuple(_bands(ground)), tuple(_label_lines(ground)), tuple(limits),
        tuple(_ghosts(ground)), tuple(bars), tuple(falls), tuple(leaders),
        tuple(texts + notes), tuple(signs), tuple(swatches), spots,
    )  # fmt: skip


def _nothing(ground: Ground) -> Drawing:
    """Return a line that says that there is nothing to see yet."""
    order, texts = ground.order, list[Text]()
    high, top = order.letters.height(order.size), ground.clip.top + 12
    for line in NOTHING_YET:
        wide = order.letters.width(line, False, order.size)
        left = max((order.box.left + order.box.right - wide) / 2, order.box.left)
        box = Box(left, top, left + wide, top + high)
        texts.append(Text(box, (Span(line),), order.size, (), True))
        top += high + 2
    no: tuple[()] = ()
    return Drawing(
        ground.clip, no, no, None, no, no, no, no, no, no, no, tuple(texts), no, no, {}
    )  # fmt: skip


def _room(ground: Ground) -> Box:
    """Return where words may be: beside the boards only where lanes are too narrow for them."""
    if ground.lane_width < FULL_FROM or not ground.plan.columns:
        return ground.clip
    return ground.clip._replace(left=ground.plan.columns[0].left - 2)


def _hit(line: Box, upright: bool) -> Box:
    dx, dy = (1.0, 0.0) if upright else (0.0, 1.0)
    return Box(line.left - dx, line.top - dy, line.right + dx, line.bottom + dy)


def _columns(ground: Ground) -> list[Box]:
    top = ground.order.box.top + 2
    return [Box(c.left, top, c.right, ground.clip.bottom) for c in ground.plan.columns]


def _headings(ground: Ground) -> list[Text]:
    order, found = ground.order, list[Text]()
    for column, box in zip(order.ladder.columns, ground.plan.columns, strict=True):
        text, size = heading(column, box.width, order.size - 1, order.letters)
        wide, high = order.letters.width(text, True, size), order.letters.height(size)
        left = box.left + (5 if box.width > wide + 10 else (box.width - wide) / 2)
        place = Box(left, order.box.top + 5, left + wide, order.box.top + 5 + high)
        if text and place.right <= order.box.right:
            found.append(Text(place, (Span(text, True),), size, (("board", column.board),), True))
    return found


def _bars(ground: Ground) -> list[Bar]:
    found: list[Bar] = []
    for rung in ground.order.ladder.rungs.values():
        y = ground.node_y(rung.node)
        if not math.isnan(y) and ground.in_sight(y):
            left, right = ground.plan.reach(rung, ground.order.ladder.narrow)
            line, step = Box(left, y, right, y), ground.order.figures.rails.get(rung.node, -1)
            found.append(Bar(line, ("rail", rung.node), rung.rail is None, step))
    return found


def _homes(ground: Ground) -> Iterable[tuple[Rung, float, float]]:
    for rung in ground.order.ladder.rungs.values():
        if rung.rail is not None:
            yield (rung, *ground.plan.home(rung))


def _bands(ground: Ground) -> Iterable[Box]:
    for rung, left, right in _homes(ground):
        band = rung.rail.band_volts if rung.rail is not None else None
        if band is not None:
            top, bottom = ground.y(band[1]), ground.y(band[0])
            if bottom >= ground.clip.top and top <= ground.clip.bottom:
                yield Box(left, max(top, ground.clip.top), right, min(bottom, ground.clip.bottom))


def _label_lines(ground: Ground) -> Iterable[Box]:
    for rung, left, right in _homes(ground):
        if rung.rail is not None and rung.rail.label_volts is not None:
            y = ground.y(rung.rail.label_volts)
            if ground.in_sight(y):
                yield Box(left, y, right, y)


def _limits(ground: Ground) -> Iterable[Box]:
    for rung, left, right in _homes(ground):
        if rung.rail is not None and rung.rail.max_volts is not None:
            y = ground.y(rung.side * rung.rail.max_volts)
            if ground.in_sight(y):
                # Clear of the name on the left; hatched on the side that is forbidden.
                start = left if ground.plan.listed else ground.plan.lines[rung.home] - 10
                yield Box(start, y, right, y - 4 * rung.side)


def _ghosts(ground: Ground) -> Iterable[Box]:
    for node, volts in ground.order.figures.calm.items():
        y = ground.y(volts)
        if ground.in_sight(y):
            rung = ground.order.ladder.rungs[node]
            left, right = ground.plan.reach(rung, ground.order.ladder.narrow)
            yield Box(left, y, right, y)


def _signs(ground: Ground) -> list[Sign]:
    found: list[Sign] = []
    for mark in ground.order.figures.marks:
        rung, y = ground.order.ladder.rungs.get(mark.node), ground.y(mark.volts)
        if rung is not None and ground.in_sight(y):
            x = ground.plan.home(rung)[1] - 7 - 11 * STAGES.index(mark.stage)
            key = ("rail", mark.node)
            found.append(Sign(x, y, mark.verdict, mark.stage, bool(mark.elsewhere), key))
    return found


def _zero(ground: Ground) -> Box | None:
    y, box = ground.y(0.0), ground.clip
    left = box.left if ground.plan.axis is None else ground.plan.axis.right
    left = ground.plan.names.right + 4 if ground.plan.listed else left
    return Box(left, y, box.right - 2, y) if ground.in_sight(y) else None


def _grid(ground: Ground) -> list[Box]:
    """Return lines of round volts, at least some 44 pixels apart."""
    sight = ground.order.sight
    scale = (ground.low_y - ground.high_y) / (sight.high - sight.low)
    step = _round_step(44 / scale)
    left = ground.plan.columns[0].left - 2
    high, low = ground.volts(ground.clip.top), ground.volts(ground.clip.bottom)
    found: list[Box] = []
    for number in range(math.ceil(low / step), math.floor(high / step) + 1):
        y = ground.y(number * step)
        if number:
            found.append(Box(left, y, ground.clip.right - 2, y))
    return found


def _round_step(least: float) -> float:
    """Return the least of 1, 2, 5, 10 ... that is not below a value."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1, 2, 5, 10, 20) if m * power >= least * (1 - 1e-9))


def _scale(ground: Ground, ticks: list[Box]) -> list[Text]:
    """Return the figures of the scale, and that of 0 V."""
    axis, order = ground.plan.axis, ground.order
    if axis is None:
        return []
    size, found = order.size - 2, list[Text]()
    zero = _zero(ground)
    for y in [*(t.top for t in ticks), *([] if zero is None else [zero.top])]:
        volts = ground.volts(y)
        text = order.style.sign(f"{volts:+.4g}").replace("-", "−")
        text = "0 V" if zero is not None and y == zero.top else text
        wide, high = order.letters.width(text, False, size), order.letters.height(size)
        right, top = axis.right - 4, y - high / 2
        inside = top >= ground.clip.top and top + high <= ground.clip.bottom
        if inside and wide <= axis.width - 4:
            box = Box(right - wide, top, right, top + high)
            found.append(Text(box, (Span(text),), size, (), True))
    return found
