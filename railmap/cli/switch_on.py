"""The verb about the moment the mains is switched on."""

from __future__ import annotations

from pathlib import Path

import click

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
from railmap.cli.output import put, put_json, put_lines, put_table
from railmap.solve.surge import surges


@click.command("surge", epilog=keys(
    "rectifiers: list of ref, amps_peak, i2t, rated_i2t, ratio, over",
))  # fmt: skip
@file_argument
@asked_options
@as_json_option
def surge(file: Path, asked: Asked, as_json: bool) -> int:
    """Forecast what rectifiers of FILE carry at switch-on.

    The mains may be switched on at any moment of its turn; the worst of them is told. The
    integral of the current squared is taken over the first half turn.
    """
    case = Case.read(file, asked)
    solution = case.solve()
    found = surges(case.m, mains_volts=case.mains_volts, setup=case.setup)
    if as_json:
        rows = [
            {
                "ref": ref, "amps_peak": one.amps_peak, "i2t": one.i2t,
                "rated_i2t": one.rated_i2t,
                "ratio": one.stress if one.rated_i2t else None, "over": one.stress > 1,
            }
            for ref, one in found.items()
        ]  # fmt: skip
        put_json(case.head(solution) | {"rectifiers": rows})
        return exit_code(solution)
    put(f"{case.headline}\n")
    if found:
        put_table(words.SURGES, [words.surge_cells(ref, one) for ref, one in found.items()])
    elif solution.has_figures:
        put_lines("No winding feeds a rectifier in this map, so nothing surges.")
    put_lines(*words.notes(solution), words.CAUTION)
    return exit_code(solution)
