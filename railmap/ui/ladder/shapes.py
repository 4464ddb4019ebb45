"""What a ladder is drawn from: plain shapes in pixels, known to neither map nor painter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

Key = tuple[str, str]
"""What a shape stands for: ``rail`` and a node, or ``part`` and a reference."""


HAIR = 1e-6
"""Pixels that are nothing, for sums that end in rounding."""


class Box(NamedTuple):
    """A rectangle, or a level or upright line."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Its width."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Its height."""
        return self.bottom - self.top

    def grown(self, by: float) -> Box:
        """Return the box with an edge around it."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def overlaps(self, other: Box) -> bool:
        """Tell whether two boxes have more than an edge in common."""
        return (
            self.left < other.right - HAIR and other.left < self.right - HAIR
            and self.top < other.bottom - HAIR and other.top < self.bottom - HAIR
        )  # fmt: skip


class Lettering(Protocol):
    """Measures text; sizes are those of the font in pixels."""

    def width(self, text: str, bold: bool, size: int) -> float:
        """Return the width of a text, in pixels."""
        ...

    def height(self, size: int) -> float:
        """Return the height of a line, in pixels."""
        ...


class Span(NamedTuple):
    """A piece of a line in one weight; ``warn`` sets it in the colour of warnings."""

    text: str
    bold: bool = False
    warn: bool = False


@dataclass(frozen=True)
class Text:
    """A line of text.

    Attributes
    ----------
    box : Box
        Its room; it begins on the left.
    spans : tuple of Span
        What it says.
    size : int
        Size of its font, pixels.
    keys : tuple of Key
        What it belongs to; empty for what belongs to the ladder itself.
    soft : bool
        True in the colour of what matters less.
    filled : bool
        True on a ground of its own, so that lines go under it.
    """

    box: Box
    spans: tuple[Span, ...]
    size: int
    keys: tuple[Key, ...] = ()
    soft: bool = False
    filled: bool = False

    @property
    def plain(self) -> str:
        """What it says, in one piece."""
        return "".join(span.text for span in self.spans)


@dataclass(frozen=True)
class Bar:
    """A rung: a level line, ``thin`` where it is no named rail; its colour step, -1 for plain."""

    line: Box
    key: Key
    thin: bool
    step: int = -1


@dataclass(frozen=True)
class Fall:
    """A drop, the stub of a feeder or a foot: an upright line with a tile on it.

    Attributes
    ----------
    kind : str
        ``drop``, ``flat`` for one of hardly any volts, ``feeder``, ``source`` or ``foot``.
    line, tile : Box
        Both in pixels.
    keys : tuple of Key
        The parts it stands for.
    thick : float
        Width of the line, pixels.
    step : int
        Colour step, -1 for plain.
    over, out : bool
        Above its rating; out of the circuit.
    outward : int
        -1 where its far end is above, 1 where it is below.
    symbol : str
        Kind of part, for its symbol.
    near : int
        How many of the parts its tile stands for; the others, as windings, are behind it.
    far_step : int
        Colour step of those behind.
    far_over : bool
        True if one of those is above its rating.
    """

    kind: str
    line: Box
    tile: Box
    keys: tuple[Key, ...]
    thick: float
    step: int
    over: bool
    out: bool
    outward: int = 1
    symbol: str = ""
    near: int = 1
    far_step: int = -1
    far_over: bool = False


@dataclass(frozen=True)
class Sign:
    """A reading on a rung: where it is, what was made of it, and when it was taken.

    Attributes
    ----------
    x, y : float
        Its middle.
    verdict, stage : str
        As in the mark that it stands for.
    elsewhere : bool
        True if it was read in another setup than is shown.
    key : Key
        Its rung.
    """

    x: float
    y: float
    verdict: str
    stage: str
    elsewhere: bool
    key: Key

    @property
    def box(self) -> Box:
        """Its room."""
        return Box(self.x, self.y, self.x, self.y).grown(5)


class Swatch(NamedTuple):
    """A sample of a mark in the legend."""

    mark: str
    box: Box


@dataclass(frozen=True)
class Drawing:
    """Everything that is drawn, in the order it is drawn in.

    Attributes
    ----------
    clip : Box
        Where volts are shown.
    columns : tuple of Box
        Grounds of the boards.
    grid : tuple of Box
        Lines of round volts.
    zero : Box or None
        The line of 0 V, where it is in sight.
    bands, labels, limits, ghosts : tuple of Box
        Acceptable volts, label volts, absolute limits, and rungs as they are without drift.
    bars, falls, leaders, texts, signs
        Rungs, drops, lines from rungs to their names, words and readings.
    legend : tuple of Swatch
        Samples of the marks, beside their words.
    spots : dict of str to int
        Which of its possible spots a text has, by name.
    """

    clip: Box
    columns: tuple[Box, ...]
    grid: tuple[Box, ...]
    zero: Box | None
    bands: tuple[Box, ...]
    labels: tuple[Box, ...]
    limits: tuple[Box, ...]
    ghosts: tuple[Box, ...]
    bars: tuple[Bar, ...]
    falls: tuple[Fall, ...]
    leaders: tuple[tuple[Box, Key], ...]
    texts: tuple[Text, ...]
    signs: tuple[Sign, ...]
    legend: tuple[Swatch, ...]
    spots: dict[str, int]


def elide(text: str, room: float, bold: bool, size: int, letters: Lettering) -> str:
    """Return a text cut to a width, with an ellipsis; nothing where not even that fits."""
    if letters.width(text, bold, size) <= room:
        return text
    for count in range(len(text) - 1, 0, -1):
        cut = text[:count].rstrip() + "…"
        if letters.width(cut, bold, size) <= room:
            return cut
    return ""
