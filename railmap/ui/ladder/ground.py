"""What is to be drawn and where: turns volts and lanes into pixels."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from railmap.bench.rungs import Ladder
from railmap.figures import POINT
from railmap.figures import Figures as Style
from railmap.model.part import ZERO_NODE, Part
from railmap.ui.ladder.figures import Figures, Sight
from railmap.ui.ladder.foot import foot_height
from railmap.ui.ladder.plan import Plan, plan_of
from railmap.ui.ladder.shapes import Box, Key, Lettering

STUB = 40.0
"""Length of what stands before a raw rung: rectifier and winding, or a source."""


@dataclass(frozen=True)
class Order:
    """What is to be drawn, and where.

    Attributes
    ----------
    ladder : Ladder
        Rungs and drops.
    parts : dict of str to Part
        Parts by reference.
    figures : Figures
        Volts, amps and stress.
    sight : Sight
        Volts to show.
    box : Box
        Where to draw, pixels.
    letters : Lettering
        Measures text.
    size : int
        Size of text, pixels.
    first : frozenset of Key
        What gets its words before all others: what is selected.
    kept : dict of str to int
        Spots that texts had before, see :class:`Drawing`.
    style : railmap.figures.Figures
        How figures are written.
    """

    ladder: Ladder
    parts: Mapping[str, Part]
    figures: Figures
    sight: Sight
    box: Box
    letters: Lettering
    size: int = 12
    first: frozenset[Key] = frozenset()
    kept: Mapping[str, int] = field(default_factory=dict)
    style: Style = POINT


@dataclass(frozen=True)
class Ground:
    """An order with its plan: turns volts and lanes into pixels.

    Attributes
    ----------
    clip : Box
        Where volts are shown; ``high_y`` and ``low_y`` are where its sight ends.
    """

    order: Order
    plan: Plan
    clip: Box
    high_y: float
    low_y: float

    def y(self, volts: float) -> float:
        """Return the height of some volts."""
        sight = self.order.sight
        part = (sight.high - volts) / (sight.high - sight.low)
        # Far out of sight is far enough; painters do not like larger numbers.
        return min(max(self.high_y + part * (self.low_y - self.high_y), -1e5), 1e5)

    def volts(self, y: float) -> float:
        """Return the volts at a height."""
        sight = self.order.sight
        return sight.high - (y - self.high_y) / (self.low_y - self.high_y) * (
            sight.high - sight.low
        )

    def in_sight(self, y: float) -> bool:
        """Tell whether a height is within the drawing."""
        return self.clip.top <= y <= self.clip.bottom

    @property
    def lane_width(self) -> float:
        """Width of the widest lane."""
        return max((cell.width for cell in self.plan.cells), default=0.0)

    def column_at(self, x: float) -> Box:
        """Return the column at a place from left to right."""
        for column in self.plan.columns:
            if column.left <= x <= column.right:
                return column
        return self.clip

    def node_y(self, node: str) -> float:
        """Return the height of a node, nan where it has no volts."""
        volts = 0.0 if node == ZERO_NODE else self.order.figures.of(node)
        return self.y(volts) if math.isfinite(volts) else math.nan


def ground_of(order: Order) -> Ground:
    """Return where things lie for an order."""
    box, letters, ladder = order.box, order.letters, order.ladder
    foot = foot_height(order)
    top = box.top + letters.height(order.size - 1) + 9
    clip = Box(box.left, top, box.right, max(box.bottom - foot, top + 40))
    plan = plan_of(ladder, clip, letters, order.size, order.figures.volts)
    sides = {ladder.rungs[f.node].side for f in ladder.feeders if f.node in ladder.rungs}
    line = letters.height(order.size) + 6
    least = min(max(clip.height * 0.2, 12.0), STUB + 10)
    above = min(STUB + 10 if 1 in sides else line, least)
    below = min(STUB + 10 if -1 in sides else line, least)
    return Ground(order, plan, clip, clip.top + above, clip.bottom - below)
