"""The one object between the map and the window: edits go in, changes and solutions come out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import perf_counter

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from railmap.bench.history import History
from railmap.errors import MapError, NotYetError
from railmap.figures import POINT
from railmap.model.part import Part
from railmap.model.railmap import Change, RailMap
from railmap.solve.assemble import Network, with_part
from railmap.solve.front import solve_circuit, solve_network, solve_on, turns
from railmap.solve.solution import Solution
from railmap.solve.turning import Turning
from railmap.solve.what_if import WhatIf, as_asked, carry_out, what_if
from railmap.ui.canvas.group import Group, Picked, picked_of
from railmap.ui.faces import BY_FIT, BY_STRESS, Colouring, Fits, Shades
from railmap.ui.work import Desk

Edits = list[Change] | Callable[[], list[Change]]
"""An edit, or what makes it."""


class Bridge(QObject):
    """Holds the map that the window shows, with its history, what is tried on it, and its solution.

    Views listen to the signals and never change the map themselves.

    Attributes
    ----------
    map_changed : Signal(object)
        A tuple of changes the map went through; empty for a new map.
    solved : Signal(object)
        The new solution.
    picked : Signal(object)
        What is selected now (:class:`~railmap.ui.canvas.group.Picked`).
    state_changed : Signal()
        The file, its clean mark, or undo and redo changed.
    unsolved : Signal()
        The map cannot be solved as it is now, so there are no figures; ``trouble`` says why.
    coloured : Signal()
        The views are to be coloured by something else (:attr:`colouring`).
    trouble : Signal(str)
        One sentence about something that could not be done.
    """

    map_changed = Signal(object)
    solved = Signal(object)
    unsolved = Signal()
    picked = Signal(object)
    state_changed = Signal()
    coloured = Signal()
    trouble = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.map = RailMap()
        self.path: Path | None = None
        self.history = History(self.map, self._map_went_through)
        self.mains_volts = self.map.mains_volts
        self.setup_name = ""
        self.drift: dict[str, float] = {}
        self.selection = Picked()
        self.colouring = BY_STRESS
        self.fits: Fits = {}
        self.solution: Solution | None = None
        self.calm: Solution | None = None
        self.solve_ms = 0.0
        self.turning: Turning | None = None
        self._network: Network | None = None
        self.desk = Desk(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self.solve_now)

    def open_map(self, m: RailMap, path: Path | None) -> None:
        """Show another map."""
        self.map, self.path = m, path
        self.history = History(m, self._map_went_through)
        self.mains_volts = m.mains_volts
        self.setup_name = ""
        self.drift = {}
        self._forget()
        self.pick(Picked())
        self.map_changed.emit(())
        self.solve_now()
        self.state_changed.emit()

    def do(self, name: str, changes: Edits) -> bool:
        """Carry out an edit; say so if the map refuses it.

        Returns
        -------
        bool
            True if it was carried out.
        """
        reason = self.refusal_of(name, changes)
        if reason:
            self.trouble.emit(sentence(reason))
        return not reason

    def refusal_of(self, name: str, changes: Edits) -> str:
        """Carry out an edit; return the reason if it was refused, else nothing.

        Parameters
        ----------
        name : str
            What it does, for a person.
        changes : list of Change, or callable
            What to carry out, or what makes that and may refuse to.
        """
        try:
            self.history.do(name, changes() if callable(changes) else changes)
        except MapError as error:
            return str(error)
        self.state_changed.emit()
        return ""

    @Slot()
    def undo(self) -> None:
        """Take back the last edit."""
        if self.history.undo_name is not None:
            self.history.undo()
            self.state_changed.emit()

    @Slot()
    def redo(self) -> None:
        """Do the edit again that was taken back last."""
        if self.history.redo_name is not None:
            self.history.redo()
            self.state_changed.emit()

    def change_part(self, name: str, part: Part, old_ref: str | None = None) -> bool:
        """Put a changed part in place of the one with its reference."""
        return self.do(name, [Change("parts", old_ref or part.ref, part)])

    def saved(self, path: Path) -> None:
        """Note that the map has been saved."""
        self.path = path
        self.history.mark_clean()
        self.state_changed.emit()

    def pick(self, what: Picked) -> None:
        """Select something in all views."""
        if what != self.selection:
            self.selection = what
            self.picked.emit(what)

    def set_colouring(self, colouring: Colouring) -> None:
        """Colour parts and rails by something else in all views."""
        if colouring != self.colouring:
            self.colouring = colouring
            self.coloured.emit()

    def shades(self) -> Shades:
        """Return what colours parts and rails now."""
        return self.colouring.make(self.solution, self.calm, POINT, self.fits)

    def set_fits(self, fits: Fits) -> None:
        """Tell how the readings of the map fit their forecasts."""
        if fits != self.fits:
            self.fits = fits
            if self.colouring == BY_FIT:
                self.coloured.emit()

    def set_mains(self, volts: float) -> None:
        """Try other mains volts."""
        if volts != self.mains_volts:
            self.mains_volts = volts
            self._network = self.calm = None
            self.solve_soon()

    def set_setup(self, name: str) -> None:
        """Put the map into one of its setups; empty for all boards plugged."""
        self.setup_name = name
        setup = self.map.setups.get(name)
        kept = None if setup is None else setup.mains_volts
        self.mains_volts = self.map.mains_volts if kept is None else kept
        self._network = self.calm = None
        self.solve_soon()
        self.state_changed.emit()

    def set_drift(self, ref: str, value: float | None) -> bool:
        """Try another value of a part without writing it into the map; None ends that.

        Returns
        -------
        bool
            False if the part cannot have that value.
        """
        if value == self.drift.get(ref):
            return True
        part = self.map.parts[ref].settled()
        if value is None:
            del self.drift[ref]
        else:
            try:
                part = part.with_value(value)
            except MapError as error:
                self.trouble.emit(sentence(error))
                return False
            self.drift[ref] = value
        if self._network is not None:
            self._network = with_part(self._network, part)
        self.solve_soon()
        return True

    def end_drift(self) -> None:
        """Put every part back to its value."""
        if self.drift:
            self.drift = {}
            self._network = None
            self.solve_soon()

    def solve_soon(self) -> None:
        """Solve when the present events are through; many calls make one solution."""
        if not self._timer.isActive():
            self._timer.start()

    @Slot()
    def solve_now(self) -> None:
        """Solve the map with everything that is tried on it."""
        self._timer.stop()
        began = perf_counter()
        try:
            self.solution = self._solution()
            self.calm = self._undisturbed() if self.drift else self.solution
        except (MapError, NotYetError) as error:
            self._forget()
            self.trouble.emit(sentence(error))
            self.unsolved.emit()
            return
        self.solve_ms = 1000 * (perf_counter() - began)
        self.solved.emit(self.solution)

    def _solution(self) -> Solution:
        """Solve as things are, from the last solution on where that is of use."""
        if self._network is not None and self.solution is not None:
            return solve_network(self.map, self._network, self.solution.operating)
        circuit = carry_out(self.map, self.what_is_tried())
        solution, self.turning = solve_on(self.map, circuit, self.turning)
        self._network = None if turns(circuit) else solution.network
        return solution

    def what_is_tried(self, drift: bool = True) -> WhatIf:
        """Return mains, setup and, if wanted, drift as one what-if."""
        change = what_if(self.drift if drift else {})
        return as_asked(self.map.setups.get(self.setup_name), change, self.mains_volts)

    def _undisturbed(self) -> Solution:
        """Return the solution without drift, which other views show as a ghost."""
        if self.calm is not None:
            return self.calm
        circuit = carry_out(self.map, self.what_is_tried(drift=False))
        return solve_circuit(self.map, circuit, self.turning)

    def _forget(self) -> None:
        """Drop every figure: none of them belongs to the map as it is now."""
        self.solution = self.calm = self._network = self.turning = None

    def _still_meant(self, ref: str) -> bool:
        """Tell whether the value that is tried on a part is still one of the same kind."""
        if ref not in self.map.parts or self.solution is None:
            return False
        before = self.solution.network.circuit.parts.get(ref)
        now = self.map.parts[ref]
        return before is not None and (before.kind, before.main_field) == (now.kind, now.main_field)

    def _map_went_through(self, changes: tuple[Change, ...]) -> None:
        self.drift = {ref: v for ref, v in self.drift.items() if self._still_meant(ref)}
        self._network = self.calm = None
        if self.setup_name not in self.map.setups:
            self.setup_name = ""
        self._keep_selection()
        self.map_changed.emit(changes)
        self.solve_soon()

    def _keep_selection(self) -> None:
        """Leave out of the selection what the map has no more."""
        what = self.selection
        if isinstance(what, Group):
            self.pick(picked_of(ref for ref in what.refs if ref in self.map.parts))
            return
        tables = {"part": self.map.parts, "board": self.map.boards, "rail": self.map.nodes}
        kept = tables.get(what.kind)
        if kept is not None and what.key not in kept:
            self.pick(Picked())


def sentence(reason: Exception | str) -> str:
    """Return a reason as a sentence: with a capital and a full stop, but names as they are.

    Examples
    --------
    >>> sentence("ohms must be above 0, is -1"), sentence("r1: there is no such part")
    ('Ohms must be above 0, is -1.', 'r1: there is no such part.')
    """
    text = str(reason)
    if text.split(" ", 1)[0].isalpha():
        text = f"{text[:1].upper()}{text[1:]}"
    return text if text.endswith(".") else f"{text}."
