"""Cells and sentences: the rows of the tables as text."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from railmap.model.railmap import RailMap
from railmap.report.tables import DriftRow, HotRow, PartDriftRow, RailRow, RippleRow
from railmap.solve.solution import PARTLY, SOLVED, Solution
from railmap.solve.surge import Surge
from railmap.units import show

CAUTION: Final = (
    "Prediction, not permission: mains and stored charge kill. Unplug, discharge and measure first."
)
NOTHING: Final = "\N{EN DASH}"
MINUS: Final = "\N{MINUS SIGN}"


@dataclass(frozen=True)
class Columns:
    """The columns of a table.

    Attributes
    ----------
    titles : tuple of str
        One a column.
    figures : tuple of int
        Numbers of the columns that stand to the right and are never cut.
    without : str
        What to say where there are no rows.
    """

    titles: tuple[str, ...]
    figures: tuple[int, ...]
    without: str


RAILS: Final = Columns(
    ("Rail", "Board", "Label V", "Forecast V", "Off label %", "Band", "Limit V", ""),
    (2, 3, 4, 6),
    "the map names no rail",
)
RIPPLE: Final = Columns(
    ("Rail", "Board", "Mean V", "Ripple", "Hz", "Lowest V", "Highest V", "Limit", ""),
    (2, 3, 4, 5, 6, 7),
    RAILS.without,
)
PARTS: Final = Columns(
    ("Part", "Kind", "Board", "Value", "Limited by", "Carries", "Allowed", "Stress", ""),
    (3, 5, 6, 7),
    "no part has a figure for a rating",
)
DRIFT_RAILS: Final = Columns(
    ("Rail", "Board", "Before V", "After V", "Change V", "Change %", "Band after", ""),
    (2, 3, 4, 5),
    RAILS.without,
)
DRIFT_PARTS: Final = Columns(
    ("Part", "Board", "Value", "Heat before", "Heat after", "Stress before", "Stress after", ""),
    (3, 4, 5, 6),
    "no part changes",
)


def balance(solution: Solution) -> str | None:
    """Say what power goes in and comes out as heat; None where nothing was solved."""
    if solution.status not in (SOLVED, PARTLY):
        return None
    power_in, power_out = solution.power_in, solution.power_out
    sign = "=" if math.isclose(power_in, power_out, rel_tol=1e-3, abs_tol=1e-9) else "but"
    return f"Power in {show(power_in, 'W')} {sign} power out {show(power_out, 'W')}."


def hottest(rows: Sequence[HotRow]) -> str | None:
    """Name the part that works hardest, the first of the rows; None where there are none."""
    if not rows:
        return None
    row = rows[0]
    over = ", over" if row.over else ""
    return f"Hottest part: {row.ref}, {_stress(row.ratio)} of its {row.what} rating{over}."


def notes(solution: Solution) -> list[str]:
    """Return what the circuit itself says, a sentence each."""
    return [f"Note: {finding.sentence}" for finding in solution.findings]


def over_part(row: HotRow) -> str:
    """Say how far a part is above its rating."""
    carries, allowed = _carries(row)
    return f"{row.ref} is at {_stress(row.ratio)} of its {row.what} rating: {carries} of {allowed}."


def over_rail(row: RailRow) -> str:
    """Say how far a rail is above its limit."""
    limit = _volts(row.max_volts)
    return f"Rail {row.name} is forecast at {_volts(row.volts)} V, over its limit of {limit} V."


def counts(m: RailMap) -> str:
    """Count what a map holds."""
    words = ((len(m.boards), "board"), (len(m.parts), "part"), (len(m.rails), "rail"))
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in words)


def among(what: str, names: Sequence[str], most: int = 8) -> str | None:
    """List names under a heading, the first few of many; None where there are none.

    Examples
    --------
    >>> among("Not judged", ["R1", "R2", "R3"], most=2)
    'Not judged: R1, R2 and 1 more.'
    """
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return f"{what}: {', '.join(names[:most])}{more}." if names else None


def fixed(value: float | None, places: int, sign: str = "") -> str:
    """Write a figure with fixed places and a true minus; a dash where there is none."""
    if value is None:
        return NOTHING
    rounded = round(value, places) or 0.0
    return f"{rounded:{sign if rounded else ''}.{places}f}".replace("-", MINUS)


def _volts(value: float | None) -> str:
    return fixed(value, 2)


def _stress(ratio: float | None) -> str:
    """Write a ratio to a rating in per cent."""
    if ratio is None or math.isfinite(ratio):
        return NOTHING if ratio is None else f"{fixed(ratio * 100, 0)} %"
    return "\N{INFINITY} %"


def _watts(value: float | None) -> str:
    return NOTHING if value is None else show(value, "W")


def _carries(row: HotRow) -> tuple[str, str]:
    pair = (row.amount, row.allowed)
    carries, allowed = (NOTHING if x is None else show(x, row.amount_unit) for x in pair)
    return carries, allowed


def _boards(boards: tuple[str, ...]) -> str:
    return ", ".join(boards)


def rail_cells(row: RailRow) -> list[str]:
    """Return the cells of ``rails``."""
    return [
        row.name, _boards(row.boards), _volts(row.label_volts), _volts(row.volts),
        fixed(row.difference_pct, 1, "+"), row.verdict, _volts(row.max_volts),
        "over limit" if row.over_limit else "",
    ]  # fmt: skip


SURGES: Final = Columns(
    ("Ref", "Peak A", "I²t A²s", "Rated", "Stress", ""), (1, 2, 3, 4),
    "No rectifiers in this map.",
)  # fmt: skip


def surge_cells(ref: str, surge: Surge) -> list[str]:
    """Return the cells of a row of ``surge``."""
    rated = surge.rated_i2t
    return [
        ref, f"{surge.amps_peak:.3g}", f"{surge.i2t:.3g}",
        NOTHING if rated is None else f"{rated:g}",
        NOTHING if rated is None else f"{100 * surge.stress:.0f} %",
        "over" if surge.stress > 1 else "",
    ]  # fmt: skip


def ripple_cells(row: RippleRow) -> list[str]:
    """Return the cells of a row of ``ripple``."""
    pp, limit = row.ripple_volts_pp, row.max_ripple_volts
    return [
        row.name, ", ".join(row.boards), fixed(row.volts, 2),
        NOTHING if pp is None else show(pp, "V"),
        NOTHING if row.ripple_hertz is None else f"{row.ripple_hertz:g}",
        fixed(row.low_volts, 2), fixed(row.high_volts, 2),
        NOTHING if limit is None else show(limit, "V"), "over" if row.over_limit else "",
    ]  # fmt: skip


def hot_cells(row: HotRow) -> list[str]:
    """Return the cells of ``hot``."""
    value = row.value_text.replace("-", MINUS)
    return [
        row.ref, row.kind, row.board, value, row.what, *_carries(row), _stress(row.ratio),
        "over" if row.over else "",
    ]  # fmt: skip


def drift_cells(row: DriftRow) -> list[str]:
    """Return the cells of ``drift``'s rails."""
    return [
        row.name, _boards(row.boards), _volts(row.before_volts), _volts(row.after_volts),
        fixed(row.change_volts, 2, "+"), fixed(row.change_pct, 1, "+"), row.verdict,
        "over limit" if row.over_limit else "",
    ]  # fmt: skip


def part_cells(row: PartDriftRow) -> list[str]:
    """Return the cells of ``drift``'s parts."""
    same = row.before_text == row.after_text
    value = row.after_text if same else f"{row.before_text} to {row.after_text}"
    return [
        row.ref, row.board, value.replace("-", MINUS), _watts(row.before_watts),
        _watts(row.after_watts), _stress(row.before_ratio), _stress(row.after_ratio),
        "over" if row.over else "",
    ]  # fmt: skip


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Offer the known name that is most like a word, if any is.

    Examples
    --------
    >>> did_you_mean("rial", ["rails", "hot"])
    '; did you mean rails?'
    """
    names = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold(), names, n=1)
    return f"; did you mean {names[near[0]]}?" if near else ""
