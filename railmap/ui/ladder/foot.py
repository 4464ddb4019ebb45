"""Below the ladder: what has no place on the scale, and the legend."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from railmap.model.record import STAGES
from railmap.ui.ladder.figures import Figures
from railmap.ui.ladder.shapes import Box, Lettering, Span, Swatch, Text, elide
from railmap.ui.theme import MOST_SHIFT_PCT

if TYPE_CHECKING:
    from railmap.ui.ladder.ground import Ground, Order

LEGEND_FROM = 330.0
"""Height from which there is room for a legend."""
SWATCH, SPACE, EDGE = 16.0, 12.0, 6.0
MOST_LINES = 3
MARKS = (
    ("forecast", "forecast"), ("label", "label"), ("band", "acceptable"), ("limit", "limit"),
    ("ghost", "without drift"),
)  # fmt: skip
SCALES = {
    "over": ("over", "over rating"),
    "fit": ("fit", "readings ok, watch, act"),
    "shift": ("shift", f"moved by −{MOST_SHIFT_PCT:.0f} to +{MOST_SHIFT_PCT:.0f} %"),
}
READINGS = (*((stage, f"read {stage}") for stage in STAGES), ("elsewhere", "in another setup"),
            ("watch", "watch"), ("act", "act"))  # fmt: skip


def apart_texts(order: Order) -> list[str]:
    """Return what has no place on the scale: rails without a path, and alternating ones."""
    figures, sign = order.figures, order.style.sign
    rails = [r for r in order.ladder.rungs.values() if r.rail is not None]
    dead = [r.title for r in rails if not math.isfinite(figures.of(r.node))]
    found = [f"{name} {sign(f'{volts:.1f}')} V AC" for name, volts in figures.rms.items()]
    if dead:
        head = "No path to 0 V: " if figures.volts else "No figures: "
        found.append(head + ", ".join(dead))
    return found


def foot_height(order: Order) -> float:
    """Return how much room is wanted below the ladder."""
    box, size, letters = order.box, order.size - 2, order.letters
    lines = len(_wrapped(apart_texts(order), box.width - 2 * EDGE, size, letters))
    if box.height >= LEGEND_FROM:
        lines += 1 + max(row for row, *_ in _legend(box, size, letters, _marks(order.figures)))
    return lines * (letters.height(size) + 2) + 4


def lay_foot(ground: Ground) -> tuple[list[Swatch], list[Text]]:
    """Return the samples and words below the ladder."""
    order = ground.order
    box, size, letters = order.box, order.size - 2, order.letters
    high = letters.height(size)
    top = ground.clip.bottom + 3
    texts: list[Text] = []
    for line in _wrapped(apart_texts(order), box.width - 12, size, letters):
        place = Box(box.left + EDGE, top, box.left + EDGE + letters.width(line, False, size), 0)
        texts.append(Text(place._replace(bottom=top + high), (Span(line, warn=True),), size))
        top += high + 2
    swatches: list[Swatch] = []
    if box.height >= LEGEND_FROM:
        for row, left, mark, word in _legend(box, size, letters, _marks(order.figures)):
            y = top + row * (high + 2)
            swatches.append(Swatch(mark, Box(left, y + 1, left + SWATCH, y + high - 1)))
            start = left + SWATCH + 4
            room = Box(start, y, start + letters.width(word, False, size), y + high)
            texts.append(Text(room, (Span(word),), size, (), True))
    return swatches, texts


def _marks(figures: Figures) -> list[tuple[str, str]]:
    """Return the marks that the legend explains; those of readings only where there are any."""
    taken = {word for r in figures.marks for word in (r.stage, r.verdict)}
    taken |= {"elsewhere" for reading in figures.marks if reading.elsewhere}
    return [*MARKS, SCALES[figures.scale], *(mark for mark in READINGS if mark[0] in taken)]


def _legend(
    box: Box, size: int, letters: Lettering, marks: Sequence[tuple[str, str]]
) -> list[tuple[int, float, str, str]]:
    """Return row, place, mark and word of every sample, set from left to right."""
    found: list[tuple[int, float, str, str]] = []
    row, left = 0, box.left + EDGE
    for mark, word in marks:
        wide = SWATCH + 4 + letters.width(word, False, size)
        if left + wide > box.right - EDGE and left > box.left + EDGE:
            row, left = row + 1, box.left + EDGE
        found.append((row, left, mark, word))
        left += wide + SPACE
    return found


def _wrapped(texts: Sequence[str], room: float, size: int, letters: Lettering) -> list[str]:
    """Return texts in lines, the last one cut if there are too many."""
    lines: list[str] = []
    for text in texts:
        line = ""
        for word in text.split(" "):
            longer = f"{line} {word}".strip()
            if line and letters.width(longer, False, size) > room:
                lines.append(line)
                longer = word
            line = longer
        lines.append(line)
    if len(lines) > MOST_LINES:
        lines = [*lines[: MOST_LINES - 1], " ".join(lines[MOST_LINES - 1 :])]
    return [elide(line, room, False, size, letters) for line in lines]
