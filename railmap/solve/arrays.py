"""Small helpers for arrays whose first axis is the what-if."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

from numpy import add

from railmap.solve.laws import Floats, Ints


def add_along(target: Floats, *places: Ints, values: Floats) -> None:
    """Add values at places behind the first axis; a place that comes twice gets both.

    Parameters
    ----------
    target : ndarray, shape (rows, ...)
        What is added to.
    *places : ndarray of int
        Index along the second axis, the third, ...
    values : ndarray
        Values for all rows.
    """
    where: Any = (slice(None), *places)
    add.at(target, where, values)


def numbers_of(family: Any) -> dict[str, Floats]:
    """Return the numbers of a family of laws by name: all but where its rows are."""
    held = cast("dict[str, Floats]", vars(family))
    return {name: value for name, value in held.items() if name not in ("pins", "slots")}


def taken(family: Any, rows: Ints | int) -> Any:
    """Return a family with the numbers of some what-ifs, or of one without their axis."""
    return replace(family, **{name: value[rows] for name, value in numbers_of(family).items()})
