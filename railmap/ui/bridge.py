"""The one object between the map and the window: edits go in, changes and solutions come out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from railmap.bench.history import History
from railmap.errors import MapError, NotYetError
from railmap.model.part import Part
from railmap.model.railmap import Change, RailMap
from railmap.solve.assemble import Network, assemble, with_part
from railmap.solve.front import solve_network
from railmap.solve.solution import Solution
from railmap.solve.what_if import carry_out, from_setup, together, what_if


@dataclass(frozen=True)
class Picked:
    """What is selected: ``part``, ``rail`` or ``board`` and its key; ``kind`` empty for nothing."""

    kind: str = ""
    key: str = ""


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
        What is selected now (:class:`Picked`).
    state_changed : Signal()
        The file, its clean mark, or undo and redo changed.
    trouble : Signal(str)
        One sentence about something that could not be done.
    """

    map_changed = Signal(object)
    solved = Signal(object)
    picked = Signal(object)
    state_changed = Signal()
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
        self.solution: Solution | None = None
        self.calm: Solution | None = None
        self.solve_ms = 0.0
        self._network: Network | None = None
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
        self._network = None
        self.pick(Picked())
        self.map_changed.emit(())
        self.solve_now()
        self.state_changed.emit()

    def do(self, name: str, changes: list[Change]) -> bool:
        """Carry out an edit; say so if the map refuses it.

        Returns
        -------
        bool
            True if it was carried out.
        """
        try:
            self.history.do(name, changes)
        except MapError as error:
            self.trouble.emit(_sentence(error))
            return False
        self.state_changed.emit()
        return True

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

    def set_mains(self, volts: float) -> None:
        """Try other mains volts."""
        if volts != self.mains_volts:
            self.mains_volts = volts
            self._network = None
            self.solve_soon()

    def set_setup(self, name: str) -> None:
        """Put the map into one of its setups; empty for all boards plugged."""
        self.setup_name = name
        setup = self.map.setups.get(name)
        if setup is not None and setup.mains_volts is not None:
            self.mains_volts = setup.mains_volts
        self._network = None
        self.solve_soon()
        self.state_changed.emit()

    def set_drift(self, ref: str, value: float | None) -> None:
        """Try another value of a part without writing it into the map; None ends that."""
        if value is None:
            if self.drift.pop(ref, None) is None:
                return
        elif self.drift.get(ref) == value:
            return
        else:
            self.drift[ref] = value
        self._try_part(ref)
        self.solve_soon()

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
            start = self.solution.operating if self.solution and self._network else None
            if self._network is None:
                self._network = self._assembled(self.drift)
            self.solution = solve_network(self.map, self._network, start)
            self.calm = self._undisturbed() if self.drift else self.solution
        except (MapError, NotYetError) as error:
            self.trouble.emit(_sentence(error))
            return
        self.solve_ms = 1000 * (perf_counter() - began)
        self.solved.emit(self.solution)

    def _assembled(self, drift: dict[str, float]) -> Network:
        setup = self.map.setups.get(self.setup_name)
        change = what_if(drift, mains_volts=self.mains_volts)
        if setup is not None:
            change = together(from_setup(setup), change)
        return assemble(carry_out(self.map, change))

    def _undisturbed(self) -> Solution:
        """Return the solution without drift, which other views show as a ghost."""
        if self.calm is not None and self.calm.network.circuit.mains_ratio == (
            self.mains_volts / self.map.mains_volts
        ):
            return self.calm
        return solve_network(self.map, self._assembled({}))

    def _try_part(self, ref: str) -> None:
        """Carry one part's tried value into the network, or have it assembled anew."""
        if self._network is None:
            return
        part = self.map.parts[ref].settled()
        if ref in self.drift:
            part = part.with_value(self.drift[ref])
        self._network = with_part(self._network, part)

    def _map_went_through(self, changes: tuple[Change, ...]) -> None:
        gone = {ref for ref in self.drift if ref not in self.map.parts}
        self.drift = {ref: v for ref, v in self.drift.items() if ref not in gone}
        self._network = None
        self.calm = None
        if self.setup_name not in self.map.setups:
            self.setup_name = ""
        self._keep_selection()
        self.map_changed.emit(changes)
        self.solve_soon()

    def _keep_selection(self) -> None:
        tables = {"part": self.map.parts, "board": self.map.boards, "rail": self.map.nodes}
        kept = tables.get(self.selection.kind)
        if kept is not None and self.selection.key not in kept:
            self.pick(Picked())


def _sentence(error: Exception) -> str:
    text = str(error)
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
