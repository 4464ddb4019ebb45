"""Words beside drops, feeders, feet and readings, each where it is free; the hottest first."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from railmap.bench.rungs import Rung
from railmap.model.kinds import Source, Winding
from railmap.ui.faces import Shade
from railmap.ui.ladder.crowd import Crowd
from railmap.ui.ladder.ground import Ground
from railmap.ui.ladder.names import thin_text
from railmap.ui.ladder.plan import named_rungs, short_volts
from railmap.ui.ladder.shapes import Bar, Box, Fall, Key, Sign, Span, Text

Lines = tuple[tuple[Span, ...], ...]
Form = tuple[Lines, float]
"""Lines of words, and what it costs to say it in that way."""
MOST_COST, FIRST_COST = 11.0, 40.0
"""What a spot may cost at most; more for what is selected."""
BESIDE = 4.0
EDGE_COST = 3.0
"""What it costs to reach over the edge of a board."""
STEPS = (-14.0, 14.0, -28.0, 28.0, -46.0, 46.0)
FULL_FROM = 30.0
"""Width of a lane from which short words are clear about what they belong to."""


def lay_notes(
    ground: Ground,
    bars: Sequence[Bar],
    falls: Sequence[Fall],
    signs: Sequence[Sign],
    crowd: Crowd,
) -> tuple[list[Text], dict[str, int]]:
    """Return words for all that has a free spot beside it, and which spot each has."""
    notes: list[Text] = []
    spots: dict[str, int] = {}
    size = ground.order.size - 1
    first = ground.order.first
    for fall in sorted(falls, key=lambda f: (first.isdisjoint(f.keys), *_rank(ground, f))):
        options = _beside(ground, fall, size)
        name = f"{fall.kind} {fall.keys[0][1]} {fall.outward}"
        notes += _settle(ground, crowd, name, options, fall.keys, size, fall.tile, spots)
    for sign in signs:
        options = _by_sign(ground, sign, size)
        name = f"reading {sign.key[1]} {sign.stage}"
        spot = sign.box
        notes += _settle(ground, crowd, name, options, (sign.key,), size, spot, spots)
    named = {rung.node for rung in named_rungs(ground.order.ladder)}
    for bar in bars:
        rung = ground.order.ladder.rungs[bar.key[1]]
        if rung.node not in named:
            options = _by_bar(ground, bar, rung, size - 1)
            name = f"rung {rung.node}"
            notes += _settle(ground, crowd, name, options, (bar.key,), size - 1, bar.line, spots)
    return notes, spots


def _rank(ground: Ground, fall: Fall) -> tuple[int, float]:
    order = {"feeder": 0, "source": 0, "drop": 1, "flat": 2, "foot": 3}
    weight = _shade(ground, fall).weight
    return order[fall.kind], 0.0 if math.isnan(weight) else -weight


def _shade(ground: Ground, fall: Fall) -> Shade:
    return ground.order.figures.shade(ref for _, ref in fall.keys[: fall.near])


_Option = tuple[Lines, Box, float]


def _settle(
    ground: Ground, crowd: Crowd, name: str, options: Iterable[_Option],
    keys: tuple[Key, ...], size: int, about: Box, spots: dict[str, int],
) -> list[Text]:  # fmt: skip
    order = ground.order
    most = MOST_COST if order.first.isdisjoint(keys) else FIRST_COST
    tried: list[tuple[Lines, Box]] = []

    def offer() -> Iterable[tuple[Box, float]]:
        for lines, box, cost in options:
            tried.append((lines, box))
            yield box, cost

    best = crowd.settle(about, offer(), most, order.kept.get(name, -1))
    if best < 0:
        return []
    spots[name] = best
    lines, box = tried[best]
    crowd.take(box)
    high = order.letters.height(size)
    found: list[Text] = []
    for number, spans in enumerate(lines):
        wide = _wide(ground, spans, size)
        # Lines on the left of what they belong to end there.
        left = box.right - wide if _leans_right(best) else box.left
        top = box.top + number * high
        place = Box(left, top, left + wide, top + high)
        found.append(Text(place, spans, size, keys, size < order.size - 1, True))
    return found


def _leans_right(option: int) -> bool:
    """Tell an option on the left side; they come in turn, see :func:`_around`."""
    return option % 2 == 1


def _wide(ground: Ground, spans: Iterable[Span], size: int) -> float:
    return sum(ground.order.letters.width(s.text, s.bold, size) for s in spans)


def _beside(ground: Ground, fall: Fall, size: int) -> Iterable[_Option]:
    forms = {"foot": _foot_forms, "feeder": _feeder_forms, "source": _source_forms}
    steps = _steps(ground, fall)
    for lines, cost in forms.get(fall.kind, _drop_forms)(ground, fall):
        yield from _around(ground, lines, cost, size, fall.tile, steps)


def _steps(ground: Ground, fall: Fall) -> Sequence[float]:
    """Return how far up and down from its tile the words of a line may be."""
    if fall.kind == "foot":
        return (0.0, 4.0 * fall.outward)
    if fall.kind == "flat":
        return (-13.0, 13.0, -20.0, 20.0)
    if fall.kind == "feeder":
        return (7.0 * fall.outward, 15.0 * fall.outward)
    if fall.kind == "source":
        return (0.0,)
    top, bottom = max(fall.line.top, ground.clip.top), min(fall.line.bottom, ground.clip.bottom)
    room = (bottom - top) / 2 - 8
    return (0.0, *(s for s in STEPS if abs(s) < max(room, 16.0)))


def _around(
    ground: Ground, lines: Lines, cost: float, size: int, tile: Box, steps: Sequence[float]
) -> Iterable[_Option]:
    """Return spots on the right and on the left of a tile, in turn, at some heights."""
    wide = max(_wide(ground, spans, size) for spans in lines)
    high = len(lines) * ground.order.letters.height(size)
    middle = (tile.top + tile.bottom) / 2
    column = ground.column_at((tile.left + tile.right) / 2)
    right, left = tile.right + BESIDE + wide, tile.left - BESIDE - wide
    over_right, over_left = (
        EDGE_COST * (x < column.left or x > column.right) for x in (right, left)
    )
    for step in steps:
        top = middle + step - high / 2
        away = cost + abs(step) * 0.06
        yield lines, Box(tile.right + BESIDE, top, right, top + high), away + over_right
        yield lines, Box(left, top, tile.left - BESIDE, top + high), away + 0.8 + over_left


def _drop_forms(ground: Ground, fall: Fall) -> Iterable[Form]:
    ref = fall.keys[0][1]
    figure = _figure(ground, fall, ref)
    name = Span(ref, True)
    yield (((name,), (figure,)), 0.0)
    yield (((name, Span(" "), figure),), 0.6)


def _figure(ground: Ground, fall: Fall, ref: str) -> Span:
    """Return the figure that colours a tile, as the load; the current where there is none."""
    shade = _shade(ground, fall)
    if fall.out:
        return Span("out", False, True)
    if shade.text:
        return Span(shade.text, False, fall.over)
    amps = abs(ground.order.figures.amps.get(ref, math.nan))
    return Span(ground.order.style.show(amps, "A") if math.isfinite(amps) else "–")


def _foot_forms(ground: Ground, fall: Fall) -> Iterable[Form]:
    figures = ground.order.figures
    if ground.order.first.isdisjoint(fall.keys) and ground.lane_width < FULL_FROM:
        return
    flow = [abs(figures.amps.get(ref, math.nan)) for _, ref in fall.keys]
    total = sum(a for a in flow if math.isfinite(a))
    text = "out" if fall.out and len(flow) == 1 else ground.order.style.show(total, "A")
    if len(flow) == 1:
        yield (((Span(f"{fall.keys[0][1]} "), Span(text)),), 0.0)
    else:
        yield (((Span(f"{len(flow)} loads "), Span(text)),), 0.0)
    yield (((Span(text),),), 1.5)


def _feeder_forms(ground: Ground, fall: Fall) -> Iterable[Form]:
    refs = [ref for _, ref in fall.keys]
    near, behind = refs[: fall.near], refs[fall.near :]
    name = ", ".join(near) if len(near) < 3 else f"{len(near)} diodes"
    first = (Span(name, True), Span(" "), _figure(ground, fall, near[0]))
    windings = [p for ref in behind if isinstance(p := ground.order.parts[ref], Winding)]
    if windings:
        volts = windings[0].now()
        shown = "–" if volts is None else ground.order.style.sign(f"{volts:.4g} V")
        load = f" {ground.order.figures.shade(behind).text}".rstrip()
        several = ", ".join(part.ref for part in windings)
        for head, cost in ((several, 0.0), (windings[0].ref, 0.4), ("∿", 0.8)):
            far = (Span(f"{head} {shown}"), Span(load, False, fall.far_over))
            yield ((far, first) if fall.outward < 0 else (first, far)), cost
    yield (first,), 3.0
    yield ((first[0],),), 5.0


def _source_forms(ground: Ground, fall: Fall) -> Iterable[Form]:
    part = ground.order.parts[fall.keys[0][1]]
    volts = part.now() if isinstance(part, Source) else None
    name = Span(part.ref, True)
    if volts is not None:
        shown = ground.order.style.sign(f"{volts:.4g} V")
        yield ((name,), (Span(shown),)), 0.0
        yield ((name, Span(f" {shown}")),), 0.5
    yield ((name,),), 5.0


def _by_sign(ground: Ground, sign: Sign, size: int) -> Iterable[_Option]:
    text = short_volts(ground.volts(sign.y), ground.order.style, 2)
    lines: Lines = ((Span(f"({text})" if sign.elsewhere else text, False, sign.verdict == "act"),),)
    yield from _around(ground, lines, 0.0, size, sign.box, (0.0, -8.0, 8.0))


def _by_bar(ground: Ground, bar: Bar, rung: Rung, size: int) -> Iterable[_Option]:
    lines: Lines = ((Span(thin_text(ground, rung, size)),),)
    line = bar.line
    ends = Box(line.right + 2, line.top, line.left - 2, line.top)
    yield from _around(ground, lines, 0.0, size, ends, (0.0,))
    wide, high = _wide(ground, lines[0], size), ground.order.letters.height(size)
    for gap in (-high - 2, 2.0):
        for left in (line.left, line.right - wide):
            box = Box(left, line.top + gap, left + wide, line.top + gap + high)
            yield lines, box, 1.0
