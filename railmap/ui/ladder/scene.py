"""What the ladder shows: a map as rungs, its figures, the volts in sight, and what is lit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from railmap.bench.rungs import Ladder, alternating_nodes, ladder_of
from railmap.figures import POINT
from railmap.figures import Figures as Style
from railmap.model.part import Part
from railmap.model.railmap import RailMap
from railmap.solve.solution import Solution
from railmap.ui.canvas.group import Picked, feed_of, keys_of, refs_of
from railmap.ui.faces import Shades
from railmap.ui.ladder.arrange import arrange
from railmap.ui.ladder.figures import Figures, Mark, Sight, around, figures_of, whole
from railmap.ui.ladder.ground import Ground, Order, ground_of
from railmap.ui.ladder.lettering import QtLettering
from railmap.ui.ladder.lit import Lit
from railmap.ui.ladder.shapes import Box, Drawing


class LadderScene:
    """A projection of one map and its solution; it never changes them.

    Parameters
    ----------
    letters : QtLettering
        Fonts.
    style : railmap.figures.Figures
        How figures are written.

    Attributes
    ----------
    ladder : Ladder
        Rungs and drops; another one only when the map has changed.
    figures : Figures
        What they carry now.
    sight : Sight
        The volts in sight.
    lit : Lit
        What is selected, and its feed.
    """

    def __init__(self, letters: QtLettering, style: Style = POINT) -> None:
        self.map = RailMap()
        self.ladder: Ladder = ladder_of(self.map)
        self.figures = Figures()
        self.sight = Sight(-1.0, 1.0)
        self.lit, self._selection = Lit(), Picked()
        self.letters, self.style = letters, style
        self._box = Box(0.0, 0.0, 300.0, 500.0)
        self._marks: tuple[Mark, ...] = ()
        # As they were when the ladder was built: the map may be ahead of it.
        self._parts: dict[str, Part] = {}
        self._solution: Solution | None = None
        self._is_whole = True
        self._stale = self._drifting = False
        self._fresh = True
        self._kept: dict[str, int] = {}
        self._drawing: Drawing | None = None

    @property
    def solution(self) -> Solution | None:
        """The solution whose figures are shown."""
        return self._solution

    @property
    def is_whole(self) -> bool:
        """True while all rungs are in sight."""
        return self._is_whole

    def show_map(self, m: RailMap, anew: bool = False) -> None:
        """Show a map from the next solution on; until then rungs and figures stay.

        Parameters
        ----------
        m : RailMap
            The map.
        anew : bool
            True for another one, so that nothing stays and all of it comes into sight.
        """
        self.map = m
        self._stale = True
        if anew:
            self._is_whole = True
            self._solution = None
            self.ladder, self.figures = ladder_of(RailMap()), Figures()
        self.pick(self._selection)

    def show_solution(
        self, solution: Solution | None, calm: Solution | None = None, drifting: bool = False,
        shades: Shades | None = None,
    ) -> None:  # fmt: skip
        """Show the figures of a solution, with ghosts of the rungs where they are without drift."""
        self._solution = solution
        if self._stale:
            self._build(calm or solution)
        ghost = calm if drifting else None
        self.figures = figures_of(
            self.ladder, solution, ghost, self._marks, shades, self.style
        )  # fmt: skip
        settled = self._drifting and not drifting
        self._drifting = drifting
        if self._is_whole:
            seen = whole(self.ladder, self.figures)
            # It only grows, or nothing would be seen to move.
            self.sight = seen if self._fresh or settled else self.sight.holding(seen)
        self._fresh = False
        self._drawing = None

    def _build(self, solution: Solution | None) -> None:
        alternating = alternating_nodes(self.map, solution)
        volts = {}
        if solution is not None and solution.has_figures:
            volts = {node: solution.volts(node) for node in self.map.nodes}
        self.ladder = ladder_of(self.map, alternating, volts)
        self._parts = dict(self.map.parts)
        # Without figures it is a guess what alternates.
        self._stale = not volts
        self._fresh = True
        self._kept = {}

    def set_marks(self, marks: Iterable[Mark]) -> None:
        """Show readings."""
        self._marks = tuple(marks)
        self.figures = replace(self.figures, marks=self._marks)
        if self._is_whole:
            self.sight = self.sight.holding(whole(self.ladder, self.figures))
        self._drawing = None

    def pick(self, what: Picked) -> None:
        """Light what is selected, its feed path and what it feeds."""
        self._selection = what
        self.lit = Lit(keys_of(what), feed_of(self.map, what))
        self._drawing = None

    def set_room(self, box: Box) -> None:
        """Draw in another box."""
        if box != self._box:
            self._box, self._kept, self._drawing = box, {}, None

    def set_letters(self, letters: QtLettering) -> None:
        """Draw with other letters."""
        self.letters, self._kept, self._drawing = letters, {}, None

    def set_style(self, style: Style) -> None:
        """Write figures in another way, from the next solution on also those of shades."""
        self.style, self._drawing = style, None

    def show_whole(self) -> None:
        """Bring every rung into sight."""
        self._is_whole = True
        self._see(whole(self.ladder, self.figures))

    def show_sight(self, sight: Sight) -> None:
        """Show other volts."""
        self._is_whole = False
        self._see(sight)

    def _see(self, sight: Sight) -> None:
        self.sight, self._kept, self._drawing = sight, {}, None

    def zoom_to(self, what: Picked) -> bool:
        """Bring something into sight with its neighbours; False if it has no volts."""
        nodes = [node for ref in refs_of(what) for node in self.nodes_of(ref)]
        nodes += [what.key] if what.kind == "rail" else []
        found = around((self.figures.of(n) for n in nodes), self.figures.volts.values())
        if found is not None:
            self.show_sight(found)
        return found is not None

    def nodes_of(self, ref: str) -> list[str]:
        """Return the rungs that a part stands on or between, the one it takes from first."""
        ladder = self.ladder
        for drop in ladder.drops:
            if drop.ref == ref:
                return [n for n in (drop.over, drop.under) if n in ladder.rungs]
        found = [f.node for f in ladder.feet if ref in f.refs]
        found += [f.node for f in ladder.feeders if ref in (*f.refs, *f.windings, *f.behind)]
        return found

    def ground(self) -> Ground:
        """Return where things lie now."""
        return ground_of(self._order())

    def drawing(self) -> Drawing:
        """Return what is to be painted now."""
        if self._drawing is None:
            self._drawing = arrange(self._order())
            self._kept = self._drawing.spots
        return self._drawing

    def _order(self) -> Order:
        picked = frozenset(self.lit.picked)
        return Order(
            self.ladder, self._parts, self.figures, self.sight, self._box, self.letters,
            self.letters.usual_size(), picked, self._kept, self.style,
        )  # fmt: skip
