"""A large map like a real one, for measuring how long things take.

Rails hang on two raw sources as a tree, over several boards. Droppers are worked out from the
currents behind them, so that every rail comes near its label and nothing is overloaded.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

import railmap as rm

BOARDS = 10
WATTS = (0.25, 0.5, 1, 2, 3, 5, 7, 10, 17, 25, 50, 100, 300, 1000)
LOADS = ("resistive", "resistive", "steady", "lamp", "zener", "regulator")
DEPTH = 4


@dataclass
class Rail:
    """One rail while the tree grows: its volts, what it takes itself, and what hangs on it."""

    node: str
    volts: float
    board: str
    depth: int
    law: str
    amps: float
    behind: list["Rail"] = field(default_factory=list["Rail"])

    @property
    def own_amps(self) -> float:
        """What its own load takes, with what a zener beside it takes."""
        return self.amps * (1.3 if self.law == "zener" else 1.0)

    @property
    def all_amps(self) -> float:
        """What its dropper carries."""
        return self.own_amps + sum(rail.all_amps for rail in self.behind)


@pytest.fixture(scope="session")
def large_map() -> Callable[[int], rm.RailMap]:
    """Build a map with a number of parts; always the same one."""
    return _build


@pytest.fixture(scope="session")
def thousand(large_map: Callable[[int], rm.RailMap]) -> rm.RailMap:
    """The map that the targets are set for: 1,000 parts over 10 boards."""
    m = large_map(1000)
    assert len(m.parts) == 1000
    s = rm.solve(m)
    assert s.status == "solved"
    assert 0.3 < s.part(s.hottest()[0]).stress < 1.0
    return m


def _build(parts: int) -> rm.RailMap:
    rng = random.Random(1969)
    m = rm.RailMap("Large console", mains_volts=220)
    for i in range(BOARDS):
        m.add_board(f"Board {i + 1}", 520, 340, x_mm=570 * (i % 5), y_mm=390 * (i // 5))
    boards = list(m.boards)
    # A rail makes three parts and sometimes a fourth; what is left is filled with capacitors.
    rails = (parts - 2 - 2 * BOARDS) * 2 // 7
    for sign, name in ((1.0, "P"), (-1.0, "N")):
        _half(m, rng, boards, sign, name, rails // 2)
    _fill_up(m, rng, parts)
    return m


def _half(
    m: rm.RailMap, rng: random.Random, boards: list[str], sign: float, name: str, rails: int
) -> None:
    """Grow the tree of one polarity: a raw rail, a plug to every board, and the rails there."""
    raw = Rail(f"{name}0", sign * 45.0, boards[0], 0, "", 0.0)
    grown: list[Rail] = []
    for board in boards:
        entry = Rail(f"{name}{boards.index(board) + 1}", raw.volts, board, 0, "", 0.0)
        raw.behind.append(entry)
        grown.append(entry)
    for number in range(rails):
        feed = rng.choice([rail for rail in grown if _may_feed(rail)])
        volts = feed.volts * rng.uniform(0.6, 0.9)
        law = rng.choice(LOADS)
        made = Rail(f"{name}{BOARDS + number + 1}", volts, feed.board, feed.depth + 1, law,
                    rng.uniform(2e-3, 20e-3))  # fmt: skip
        feed.behind.append(made)
        grown.append(made)
    m.add(rm.Source(f"V{name}", *_ends(raw.node, sign), volts=45.5, ohms=0.5 / raw.all_amps,
                    follows_mains=True, board=raw.board))  # fmt: skip
    for entry in raw.behind:
        m.add(rm.Link(f"J{entry.node}", raw.node, entry.node, board=entry.board))
        _add_behind(m, entry)


def _may_feed(rail: Rail) -> bool:
    return rail.depth < DEPTH and rail.law != "regulator" and abs(rail.volts) > 9


def _ends(node: str, sign: float) -> tuple[str, str]:
    return (node, "0V") if sign > 0 else ("0V", node)


def _add_behind(m: rm.RailMap, feed: Rail) -> None:
    for rail in feed.behind:
        _add_rail(m, feed, rail)
        _add_behind(m, rail)


def _add_rail(m: rm.RailMap, feed: Rail, rail: Rail) -> None:
    """Add a dropper with what it feeds."""
    number, volts = len(m.parts), abs(rail.volts)
    behind = rail.all_amps + (0.002 if rail.law == "regulator" else 0.0)
    drop = abs(feed.volts) - volts
    needed = drop * behind * 1.3
    m.add(rm.Resistor(f"R{number}", feed.node, rail.node, ohms=drop / behind,
                      rated_watts=next(w for w in WATTS if w > needed), board=rail.board,
                      rated_c=70, zero_c=155))  # fmt: skip
    m.add_rail(rail.node, label_volts=round(rail.volts, 1))
    plus, minus = _ends(rail.node, rail.volts)
    m.add(rm.Capacitor(f"C{number}", plus, minus, farads=100e-6, rated_volts=2 * volts,
                       board=rail.board))  # fmt: skip
    _LOADS[rail.law](m, rail, number)


def _add_load(m: rm.RailMap, rail: Rail, number: int) -> None:
    m.add(rm.Load(f"L{number}", *_ends(rail.node, rail.volts), amps=rail.amps,
                  at_volts=abs(rail.volts), law=rail.law, board=rail.board))  # fmt: skip


def _add_zener(m: rm.RailMap, rail: Rail, number: int) -> None:
    plus, minus = _ends(rail.node, rail.volts)
    volts = abs(rail.volts)
    m.add(rm.Zener(f"D{number}", plus, minus, zener_volts=volts, ohms=5, test_amps=0.3 * rail.amps,
                   rated_watts=2.5, rated_c=50, zero_c=175, board=rail.board))  # fmt: skip
    m.add(rm.Load(f"L{number}", plus, minus, amps=rail.amps, board=rail.board))


def _add_regulator(m: rm.RailMap, rail: Rail, number: int) -> None:
    out, volts = f"{rail.node}R", rail.volts * 0.6
    m.add(rm.Regulator(f"U{number}", rail.node, out, "0V", volts=volts, quiescent_amps=0.002,
                       rated_watts=2, board=rail.board))  # fmt: skip
    m.add(rm.Load(f"L{number}", *_ends(out, volts), amps=rail.amps, board=rail.board))


_LOADS: dict[str, Callable[[rm.RailMap, Rail, int], None]] = {
    "resistive": _add_load,
    "steady": _add_load,
    "lamp": _add_load,
    "zener": _add_zener,
    "regulator": _add_regulator,
}


def _fill_up(m: rm.RailMap, rng: random.Random, parts: int) -> None:
    """Add decoupling capacitors until the map has so many parts."""
    droppers = [p for p in m.parts.values() if isinstance(p, rm.Resistor)]
    for number in range(len(m.parts), parts):
        at = rng.choice(droppers)
        plus, minus = (at.b, "0V") if at.b.startswith("P") else ("0V", at.b)
        m.add(rm.Capacitor(f"C{number}", plus, minus, farads=100e-9, board=at.board))
