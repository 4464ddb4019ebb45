"""The line at the foot of the window: power, time, the hottest part, cautions."""

from __future__ import annotations

import math

from PySide6.QtWidgets import QLabel, QStatusBar, QToolButton

from railmap.figures import Figures
from railmap.solve.solution import Solution
from railmap.ui.faces import percent

BALANCE = 1e-3
"""Part of the power by which what goes in and what comes out may differ."""


class StatusLine:
    """Fills a status bar.

    Attributes
    ----------
    hint, power : QLabel
        What the gesture under way would do; power and time.
    hottest, cautions : QToolButton
        The most loaded part, and how many cautions there are.
    """

    def __init__(self, bar: QStatusBar) -> None:
        self.hint, self.power = QLabel(), QLabel()
        self.hottest, self.cautions = QToolButton(), QToolButton()
        self.hottest.setToolTip("Select it, and show the hot list")
        self.cautions.setToolTip("Show them")
        bar.addWidget(self.hint, 1)
        for button in (self.hottest, self.cautions):
            button.setAutoRaise(True)
        for widget in (self.power, self.hottest, self.cautions):
            bar.addPermanentWidget(widget)

    def show_solution(self, solution: Solution, solve_ms: float, figures: Figures) -> None:
        """Show the figures of a solution."""
        self.power.setText(f"{balance_text(solution, figures)}     solved in {solve_ms:.0f} ms   ")
        order = solution.hottest()
        self.hottest.setVisible(bool(order))
        if order:
            at = solution.network.part_index[order[0]]
            self.hottest.setText(f"hottest {order[0]} {percent(float(solution.stress[at]))}")

    def show_nothing(self) -> None:
        """Say that there are no figures."""
        self.power.setText("no figures: not solved   ")
        self.hottest.setVisible(False)

    def show_cautions(self, count: int) -> None:
        """Show how many cautions there are."""
        self.cautions.setText(f"{count} caution{'' if count == 1 else 's'}")


def balance_text(solution: Solution, figures: Figures) -> str:
    """Return the power that goes in and comes out, with an equals sign only where it is equal."""
    if not solution.has_figures:
        return f"no figures: {solution.status}"
    came, went = solution.power_in, solution.power_out
    same = math.isclose(came, went, rel_tol=BALANCE, abs_tol=1e-6)
    into, out = figures.show(came, "W"), figures.show(went, "W")
    return f"power in {into} {'=' if same else '≠'} out {out}"
