"""The rows of the tables that the command line prints and the window shows.

Plain frozen data with SI values; the fields are also the keys of the command line's ``--json``.
None stands where there is no figure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from railmap.figures import POINT, Figures
from railmap.model.part import Part
from railmap.model.rail import Rail
from railmap.model.railmap import RailMap
from railmap.solve.solution import Check, Solution
from railmap.solve.what_if import Fault

Verdict = Literal["ok", "outside", "no label", "no figure"]
State = Literal["", "open", "short"]

OVER_RATIO: Final = 1 + 1e-9
"""A part is over above this; the margin is for rounding in the solver."""
NOTABLE_PART: Final = 0.05
"""Least change of a part's heat that is worth a row, as a part of the larger heat."""
NOTABLE_WATTS: Final = 0.001
NOTABLE_RATIO: Final = 0.02
"""Least change of the ratio to a rating that is worth a row."""


@dataclass(frozen=True)
class RailRow:
    """One rail: what it will read, and how that compares with its label and limit.

    Attributes
    ----------
    node, name : str
        The node, and what the rail is called.
    order : int
        Place in the order of probing; 0 for none.
    boards : tuple of str
        Boards of the parts that touch the node, in the order of the map.
    label_volts : float or None
        Volts printed on the drawing.
    volts : float or None
        Volts forecast; None where nothing was solved.
    difference_pct : float or None
        How far the forecast is from the label, per cent of the label; above zero means farther
        from 0 V than the label, for negative rails too.
    low_volts, high_volts : float or None
        The acceptable band.
    verdict : str
        ``ok`` or ``outside`` the band, ``no label`` or ``no figure``.
    max_volts : float or None
        Absolute limit, as a magnitude.
    over_limit : bool
        True if the forecast is above that limit.
    """

    node: str
    name: str
    order: int
    boards: tuple[str, ...]
    label_volts: float | None
    volts: float | None
    difference_pct: float | None
    low_volts: float | None
    high_volts: float | None
    verdict: Verdict
    max_volts: float | None
    over_limit: bool


@dataclass(frozen=True)
class HotRow:
    """One part: its heat, and the rating that it comes nearest to.

    Attributes
    ----------
    ref, kind, board : str
        Which part, and where; ``board`` is empty on the chassis.
    value : float or None
        Its main value as solved, in ``unit``.
    unit : str
        Unit of the main value, as :mod:`railmap.units` knows it.
    state : str
        ``open`` or ``short`` for a part that is out of the circuit or bridged, else empty.
    watts : float or None
        Heat in the part.
    what : str
        What limits it, for example ``power``; empty for a part without a figure for any rating.
    amount, allowed : float or None
        What it carries and what it may carry, in ``amount_unit``.
    amount_unit : str
        Unit of the two.
    ratio : float or None
        The one over the other, 1.0 at the rating; infinite where nothing is allowed.
    over : bool
        True above the rating.
    """

    ref: str
    kind: str
    board: str
    value: float | None
    unit: str
    state: State
    watts: float | None
    what: str
    amount: float | None
    allowed: float | None
    amount_unit: str
    ratio: float | None
    over: bool

    @property
    def value_text(self) -> str:
        """Its state, else its value as the bench writes it."""
        return self.value_in(POINT)

    def value_in(self, figures: Figures) -> str:
        """Return the same with figures written in some way."""
        if self.state:
            return self.state
        return "" if self.value is None else figures.code(self.value, self.unit)


@dataclass(frozen=True)
class DriftRow:
    """One rail before and after a what-if.

    Attributes
    ----------
    node, name, boards
        As in :class:`RailRow`.
    before_volts, after_volts : float or None
        The two forecasts.
    change_volts : float or None
        After minus before.
    change_pct : float or None
        The change, per cent of the volts before; above zero means farther from 0 V.
    verdict, max_volts, over_limit
        As in :class:`RailRow`, after the what-if.
    """

    node: str
    name: str
    boards: tuple[str, ...]
    before_volts: float | None
    after_volts: float | None
    change_volts: float | None
    change_pct: float | None
    verdict: Verdict
    max_volts: float | None
    over_limit: bool


@dataclass(frozen=True)
class PartDriftRow:
    """One part before and after a what-if.

    Attributes
    ----------
    ref, kind, board : str
        As in :class:`HotRow`.
    before_text, after_text : str
        Its value as the bench writes it, or ``open`` or ``short``.
    before_watts, after_watts : float or None
        Heat in the part.
    before_ratio, after_ratio : float or None
        Highest ratio to a rating, 1.0 at the rating.
    over : bool
        True if it is above its rating after the what-if.
    """

    ref: str
    kind: str
    board: str
    before_text: str
    after_text: str
    before_watts: float | None
    after_watts: float | None
    before_ratio: float | None
    after_ratio: float | None
    over: bool


@dataclass(frozen=True)
class RippleRow:
    """The ripple of one rail.

    Attributes
    ----------
    node, name : str
        The node, and what the rail is called.
    boards : tuple of str
        Boards of the parts that touch it.
    volts : float or None
        Mean volts.
    ripple_volts_pp, ripple_hertz : float or None
        Ripple peak to peak, and how often it comes; None where there is none.
    low_volts, high_volts : float or None
        The lowest and the highest volts over one turn of the mains.
    max_ripple_volts : float or None
        The limit.
    over_limit : bool
        True above it.
    """

    node: str
    name: str
    boards: tuple[str, ...]
    volts: float | None
    ripple_volts_pp: float | None
    ripple_hertz: float | None
    low_volts: float | None
    high_volts: float | None
    max_ripple_volts: float | None
    over_limit: bool


def ripple_rows(m: RailMap, solution: Solution) -> list[RippleRow]:
    """Return the ripple of every rail, in the order of :func:`rail_rows`.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        Its solution.
    """
    found: list[RippleRow] = []
    for row in rail_rows(m, solution):
        known = row.node in m.nodes
        ripple = solution.ripple(row.node) if known else None
        limit = m.rails[row.node].max_ripple_volts
        swing = None if ripple is None else _figure(ripple.volts_pp)
        found.append(RippleRow(
            row.node, row.name, row.boards, row.volts, swing,
            None if ripple is None else _figure(ripple.hertz),
            None if ripple is None else _figure(ripple.low_volts),
            None if ripple is None else _figure(ripple.high_volts),
            limit, limit is not None and swing is not None and swing > limit,
        ))  # fmt: skip
    return found


def rail_rows(m: RailMap, solution: Solution) -> list[RailRow]:
    """Return a row for every rail, in the order of probing; those without one follow by volts.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        A solution of it.

    Returns
    -------
    list of RailRow

    Examples
    --------
    Nine volts over 100 and 200 ohms, on a rail that the drawing labels +5:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=9))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    >>> _ = m.add(rm.Resistor("R2", "A", "0V", ohms=200))
    >>> _ = m.add_rail("A", "+5", label_volts=5)
    >>> row = rail_rows(m, rm.solve(m))[0]
    >>> row.name, round(row.volts, 6), round(row.difference_pct, 6), row.verdict
    ('+5', 6.0, 20.0, 'outside')
    """
    boards = _boards_by_node(m)
    rows = [
        _rail_row(rail, _figure(solution.volts(rail.node)), boards.get(rail.node, ()))
        for rail in m.rails.values()
    ]
    return sorted(rows, key=_rail_place)


def hot_rows(m: RailMap, solution: Solution) -> list[HotRow]:
    """Return a row for every part with a rating and a figure, the most stressed first.

    Parameters
    ----------
    m : RailMap
        The map.
    solution : Solution
        A solution of it.

    Returns
    -------
    list of HotRow

    Examples
    --------
    Ten volts over 100 ohms make 1 W, in a body that may take 0.5 W:

    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=10))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "0V", ohms=100, rated_watts=0.5))
    >>> row = hot_rows(m, rm.solve(m))[0]
    >>> row.ref, row.value_text, row.what, round(row.ratio, 6), row.over
    ('R1', '100R', 'power', 2.0, True)
    """
    return [_part_row(solution, ref) for ref in solution.hottest() if ref in m.parts]


def unrated(solution: Solution) -> list[str]:
    """Return the references of the parts of which the map gives no rating.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=10))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "0V", ohms=100, rated_watts=0.5))
    >>> unrated(rm.solve(m))
    ['V1']
    """
    return [ref for ref in solution.refs if not solution.part(ref).checks]


def drift_rows(before: Solution, after: Solution) -> list[DriftRow]:
    """Return every rail before and after a what-if, in the order of :func:`rail_rows` before.

    Parameters
    ----------
    before, after : Solution
        Two solutions of one map.

    Returns
    -------
    list of DriftRow

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=9))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    >>> _ = m.add(rm.Resistor("R2", "A", "0V", ohms=200))
    >>> _ = m.add_rail("A", "+6")
    >>> row = drift_rows(rm.solve(m), rm.solve(m, change=rm.what_if(R1=250)))[0]
    >>> round(row.after_volts, 6), round(row.change_volts, 6), round(row.change_pct, 3)
    (4.0, -2.0, -33.333)
    """
    later = {row.node: row for row in rail_rows(after.source, after)}
    return [_drift_row(row, later[row.node]) for row in rail_rows(before.source, before)]


def drift_parts(before: Solution, after: Solution) -> list[PartDriftRow]:
    """Return the parts that a what-if changes, and those whose heat or stress changes notably.

    Parameters
    ----------
    before, after : Solution
        Two solutions of one map.

    Returns
    -------
    list of PartDriftRow
        The most stressed afterwards first.

    Examples
    --------
    >>> import railmap as rm
    >>> m = rm.RailMap()
    >>> _ = m.add(rm.Source("V1", "RAW", "0V", volts=9))
    >>> _ = m.add(rm.Resistor("R1", "RAW", "A", ohms=100))
    >>> _ = m.add(rm.Resistor("R2", "A", "0V", ohms=200))
    >>> rows = drift_parts(rm.solve(m), rm.solve(m, change=rm.what_if(R1=250)))
    >>> [(row.ref, row.before_text, row.after_text) for row in rows]
    [('R1', '100R', '250R'), ('R2', '200R', '200R')]
    """
    pairs = [(_part_row(before, ref), _part_row(after, ref)) for ref in before.refs]
    rows = [_part_drift_row(old, new) for old, new in pairs if _is_notable(old, new)]
    return sorted(rows, key=lambda row: -math.inf if row.after_ratio is None else row.after_ratio,
                  reverse=True)  # fmt: skip


def _figure(value: float) -> float | None:
    return None if math.isnan(value) else value


def _boards_by_node(m: RailMap) -> dict[str, tuple[str, ...]]:
    found: dict[str, set[str]] = {}
    for part in m.parts.values():
        for node in part.nodes if part.board else ():
            found.setdefault(node, set()).add(part.board)
    return {node: tuple(b for b in m.boards if b in boards) for node, boards in found.items()}


def _rail_row(rail: Rail, volts: float | None, boards: tuple[str, ...]) -> RailRow:
    low, high = rail.band_volts or (None, None)
    over = volts is not None and rail.max_volts is not None and abs(volts) > rail.max_volts
    return RailRow(
        rail.node, rail.title, rail.order, boards, rail.label_volts, volts,
        _per_cent(volts, rail.label_volts), low, high, _verdict(rail, volts), rail.max_volts, over,
    )  # fmt: skip


def _verdict(rail: Rail, volts: float | None) -> Verdict:
    band = rail.band_volts
    if volts is None:
        return "no figure"
    if band is None:
        return "no label"
    return "ok" if band[0] <= volts <= band[1] else "outside"


def _per_cent(volts: float | None, base: float | None) -> float | None:
    """Return how far volts are from a base, in per cent of it; None where that says nothing."""
    if volts is None or base is None:
        return None
    found = (volts - base) / base * 100 if base else math.nan
    return found if math.isfinite(found) else None


def _rail_place(row: RailRow) -> tuple[bool, int, bool, float]:
    return row.order == 0, row.order, row.volts is None, -(row.volts or 0.0)


def _part_row(solution: Solution, ref: str) -> HotRow:
    """Return what one part does, by the limit that it comes nearest to."""
    result = solution.part(ref)
    circuit = solution.network.circuit
    part, fault = circuit.parts[ref], circuit.faults.get(ref)
    worst = _worst(result.checks)
    ratio = worst.ratio if worst else None
    return HotRow(
        ref, part.kind, part.board, _value_of(part), part.unit, _state(fault),
        _figure(result.watts), worst.what if worst else "", worst.value if worst else None,
        worst.allowed if worst else None, worst.unit if worst else "", ratio,
        ratio is not None and ratio > OVER_RATIO,
    )  # fmt: skip


def _worst(checks: Iterable[Check]) -> Check | None:
    known = [check for check in checks if not math.isnan(check.ratio)]
    return max(known, key=lambda check: check.ratio, default=None)


def _value_of(part: Part) -> float | None:
    return part.now() if part.main_field else None


def _state(fault: Fault | None) -> State:
    if fault is None:
        return ""
    return "open" if fault is Fault.OPEN else "short"


def _drift_row(old: RailRow, new: RailRow) -> DriftRow:
    return DriftRow(
        old.node, old.name, old.boards, old.volts, new.volts, _minus(new.volts, old.volts),
        _per_cent(new.volts, old.volts), new.verdict, new.max_volts, new.over_limit,
    )  # fmt: skip


def _minus(new: float | None, old: float | None) -> float | None:
    return None if new is None or old is None else new - old


def _part_drift_row(old: HotRow, new: HotRow) -> PartDriftRow:
    return PartDriftRow(
        old.ref, old.kind, old.board, old.value_text, new.value_text, old.watts, new.watts,
        old.ratio, new.ratio, new.over,
    )  # fmt: skip


def _is_notable(old: HotRow, new: HotRow) -> bool:
    if (old.value, old.state, old.over) != (new.value, new.state, new.over):
        return True
    larger = max(abs(old.watts or 0.0), abs(new.watts or 0.0))
    least = max(NOTABLE_WATTS, NOTABLE_PART * larger)
    return _moved(old.watts, new.watts, least) or _moved(old.ratio, new.ratio, NOTABLE_RATIO)


def _moved(old: float | None, new: float | None, least: float) -> bool:
    if old is None or new is None:
        return (old is None) != (new is None)
    return old != new and abs(new - old) >= least
