"""The verbs about what moves: ripple, and sweeps of a value or of the mains."""

from __future__ import annotations

import math
from pathlib import Path

import click
import numpy as np

from railmap.bench.sweeps import Sweep, sweep_mains, sweep_part
from railmap.cli import words
from railmap.cli.case import (
    Asked,
    Case,
    as_json_option,
    asked_options,
    exit_code,
    file_argument,
    keys,
)
from railmap.cli.codes import Code
from railmap.cli.output import plain, put, put_json, put_lines, put_table
from railmap.errors import MapError
from railmap.report import tables
from railmap.solve.what_if import what_if
from railmap.units import code, parse, show

MOST_POINTS = 1001


@click.command("ripple", epilog=keys(
    "rails: list of node, name, boards, volts, ripple_volts_pp, ripple_hertz, low_volts,",
    "    high_volts, max_ripple_volts, over_limit",
))  # fmt: skip
@file_argument
@asked_options
@as_json_option
def ripple(file: Path, asked: Asked, as_json: bool) -> int:
    """Forecast the ripple of every rail of FILE.

    Peak to peak over one turn of the mains, and how often it comes: at twice the mains frequency
    behind a full-wave rectifier, at the mains frequency behind a half-wave one, or where one of
    two diodes is open.
    """
    case = Case.read(file, asked)
    solution = case.solve()
    rows = tables.ripple_rows(case.m, solution)
    if as_json:
        put_json(case.head(solution) | {"rails": plain(rows)})
    else:
        put(f"{case.headline}\n")
        put_table(words.RIPPLE, [words.ripple_cells(row) for row in rows])
        if solution.has_figures and solution.turn is None:
            put_lines("No winding feeds this map, so nothing in it ripples.")
        put_lines(*words.notes(solution), words.CAUTION)
    return exit_code(solution)


@click.command("sweep", epilog=keys(
    "what: the part, or mains; unit; values: list",
    "rails: node to its list of volts, null where there is no solution",
    "reasons: list of why a value has no solution, empty where it has one",
))  # fmt: skip
@file_argument
@click.argument("what", metavar="PART|mains")
@click.option(
    "--from", "low", metavar="VALUE", help="First value; half the present one if left out."
)
@click.option(
    "--to", "high", metavar="VALUE", help="Last value; twice the present one if left out."
)
@click.option(
    "--points", type=click.IntRange(2, MOST_POINTS), default=9, show_default=True,
    help="How many values, evenly spaced by ratio.",
)  # fmt: skip
@asked_options
@as_json_option
def sweep(
    file: Path, what: str, low: str | None, high: str | None, points: int, asked: Asked,
    as_json: bool,
) -> int:  # fmt: skip
    """Take one part, or the mains, through a range of values.

    Every rail of FILE is shown at every value. Values are written as on the bench: railmap sweep
    FILE R104 --from 180 --to 1k. For the mains the range is 0.9 to 1.1 of the design mains if
    none is given.
    """
    case = Case.read(file, asked)
    values = _values(case, what, low, high, points)
    if what == "mains":
        found = sweep_mains(case.m, values, setup=case.setup)
    else:
        change = what_if(mains_volts=case.mains_volts)
        found = sweep_part(case.m, what, values, change=change, setup=case.setup)
    if as_json:
        put_json(_as_data(found) | {"map": case.m.title, "mains_volts": case.mains_volts})
    else:
        put(f"{case.headline}\n")
        put_table(_columns(case, found), _cells(found))
        reasons = [f"{_written(v, found.unit)}: {why}" for v, why in
                   zip(found.values, found.many.reasons, strict=True) if why]  # fmt: skip
        put_lines(*reasons, words.CAUTION)
    return Code.DONE if found.many.solved.all() else Code.UNSOLVED


def _values(case: Case, what: str, low: str | None, high: str | None, points: int) -> list[float]:
    """Return the values to try, evenly spaced by ratio.

    Raises
    ------
    MapError, UnitError
        If the part, or a value, cannot be.
    """
    if what == "mains":
        unit, base, spread = "V", case.m.mains_volts, (0.9, 1.1)
    elif what in case.m.parts:
        part = case.m.parts[what]
        unit, base, spread = part.unit, part.now() or 0.0, (0.5, 2.0)
    else:
        hint = words.did_you_mean(what, [*case.m.parts, "mains"])
        raise MapError(f"there is no part {what!r} in the map{hint}")
    ends = [
        parse(text, unit) if text else base * f for text, f in zip((low, high), spread, strict=True)
    ]
    if not (ends[0] > 0 and ends[1] > 0):
        raise MapError(f"{what}: a sweep needs values above 0, give them by --from and --to")
    return [float(v) for v in np.geomspace(ends[0], ends[1], points)]


def _as_data(found: Sweep) -> dict[str, object]:
    columns = found.volts.T.tolist()
    return {
        "what": found.what, "unit": found.unit, "values": found.values.tolist(),
        "rails": {node: [None if math.isnan(v) else v for v in column]
                  for node, column in zip(found.nodes, columns, strict=True)},
        "reasons": found.many.reasons,
    }  # fmt: skip


def _written(value: float, unit: str) -> str:
    return show(value, "V") if unit == "V" else code(float(f"{value:.3g}"), unit)


def _columns(case: Case, found: Sweep) -> words.Columns:
    names = [case.m.rails[n].title if n in case.m.rails else n for n in found.nodes]
    first = "Mains" if found.what == "mains" else found.what
    titles = (first, *(f"{name} V" for name in names))
    return words.Columns(titles, tuple(range(len(titles))), "nothing was tried")


def _cells(found: Sweep) -> list[list[str]]:
    return [
        [_written(value, found.unit), *(words.fixed(None if math.isnan(v) else v, 2) for v in row)]
        for value, row in zip(found.values, found.volts.tolist(), strict=True)
    ]
