"""Long work beside the window: in a thread, with its result brought back by a signal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal, Slot


class _Carrier(QObject):
    done = Signal(int, object)


class _Task(QRunnable):
    def __init__(self, number: int, work: Callable[[], Any], carrier: _Carrier) -> None:
        super().__init__()
        self._number, self._work, self._carrier = number, work, carrier

    def run(self) -> None:
        """See Qt."""
        self._carrier.done.emit(self._number, self._work())


class Desk(QObject):
    """Does one kind of work at a time; only the last order's result is delivered.

    Attributes
    ----------
    done : Signal(object)
        A result.
    """

    done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(1)
        self._carrier = _Carrier(self)
        self._carrier.done.connect(self._came)
        self._last = 0
        self._beside: list[Desk] = []

    def beside(self) -> Desk:
        """Return a desk for another kind of work, which stops when this one does."""
        self._beside.append(Desk(self))
        return self._beside[-1]

    def order(self, work: Callable[[], Any]) -> None:
        """Have some work done; what was ordered before is no longer wanted."""
        self._last += 1
        self._pool.clear()
        self._pool.start(_Task(self._last, work, self._carrier))

    def stop(self) -> None:
        """Forget all work, also that of the desks beside, and wait for what is under way."""
        for desk in self._beside:
            desk.stop()
        self._last += 1
        self._pool.clear()
        self._pool.waitForDone()

    def is_wanted(self, number: int) -> bool:
        """Tell whether an order is still the last one."""
        return number == self._last

    @Slot(int, object)
    def _came(self, number: int, result: Any) -> None:
        if self.is_wanted(number):
            self.done.emit(result)
