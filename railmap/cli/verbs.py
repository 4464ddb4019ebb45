"""The verbs: what each is asked with, and what it answers."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Final

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
from railmap.cli.codes import Code
from railmap.cli.output import os_trouble, plain, put, put_json, put_lines, put_table
from railmap.errors import FileError, MapError, UnitError
from railmap.model.railmap import RailMap
from railmap.report import tables
from railmap.solve.solution import PARTLY, SOLVED
from railmap.solve.what_if import OPEN, SHORT, Fault, what_if
from railmap.units import parse

PICTURES: Final = (".png", ".svg", ".pdf")
VIEWS: Final = ("floor", "ladder")


@click.command("rails", epilog=keys(
    "power_in_watts, power_out_watts",
    "hottest: ref, what, ratio, over; null without a rating",
    "rails: list of node, name, order, boards, label_volts, volts, difference_pct,",
    "    low_volts, high_volts, verdict, max_volts, over_limit",
))  # fmt: skip
@file_argument
@asked_options
@as_json_option
def rails(file: Path, asked: Asked, as_json: bool) -> int:
    """Forecast the volts of every rail of FILE.

    Rails that have a place in the order of probing come first, the others follow by volts. Each
    is compared with its label, its acceptable band and its limit; the label is what the drawing
    says, not what is right.
    """
    case = Case.read(file, asked)
    solution = case.solve()
    rows = tables.rail_rows(case.m, solution)
    worst = tables.hot_rows(case.m, solution)[:1]
    if as_json:
        known = solution.status in (SOLVED, PARTLY)
        names = ("ref", "what", "ratio", "over")
        put_json(case.head(solution) | {
            "power_in_watts": solution.power_in if known else None,
            "power_out_watts": solution.power_out if known else None,
            "hottest": next(({n: row[n] for n in names} for row in plain(worst)), None),
            "rails": plain(rows),
        })  # fmt: skip
    else:
        put(f"{case.headline}\n")
        put_table(words.RAILS, [words.rail_cells(row) for row in rows])
        put_lines(words.balance(solution), words.hottest(worst), *words.notes(solution))
        put(words.CAUTION)
    return exit_code(solution)


@click.command("hot", epilog=keys(
    "parts: list of ref, kind, board, value, unit, state, watts, what, amount, allowed,",
    "    amount_unit, ratio, over",
    "unrated: list of refs of parts that the map gives no rating for",
))  # fmt: skip
@file_argument
@asked_options
@as_json_option
def hot(file: Path, asked: Asked, as_json: bool) -> int:
    """List the parts of FILE by how hard they work, the hardest first.

    Each part is measured against the rating it comes nearest to, derated for the air around it.
    A part above its rating carries the word over.
    """
    case = Case.read(file, asked)
    solution = case.solve()
    rows, unrated = tables.hot_rows(case.m, solution), tables.unrated(solution)
    if as_json:
        put_json(case.head(solution) | {"parts": plain(rows), "unrated": unrated})
    else:
        put(f"{case.headline}\n")
        put_table(words.PARTS, [words.hot_cells(row) for row in rows])
        put_lines(words.among("Not judged, as the map gives no rating", unrated))
        put_lines(*words.notes(solution), words.CAUTION)
    return exit_code(solution)


@click.command("drift", epilog=keys(
    "status_before; status and findings are those after the changes",
    "changes: part to its new value, or to open or short",
    "rails: list of node, name, boards, before_volts, after_volts, change_volts, change_pct,",
    "    verdict, max_volts, over_limit",
    "parts: list of ref, kind, board, before_text, after_text, before_watts, after_watts,",
    "    before_ratio, after_ratio, over",
))  # fmt: skip
@file_argument
@click.argument("changes", nargs=-1, required=True, metavar="PART=VALUE...")
@asked_options
@as_json_option
def drift(file: Path, changes: tuple[str, ...], asked: Asked, as_json: bool) -> int:
    """Try other values of parts of FILE, and show what the rails do.

    A value is written as on the bench (R7=236, R7=1k2, C1=470u), as open or short, or as a change
    of the present value (R8=+20%, R8=-10%). Every rail is shown before and after; below stand the
    parts that were changed and those whose heat or stress changes notably. The file itself stays
    as it is.
    """
    case = Case.read(file, asked)
    wanted = _changes(case.m, changes)
    before, after = case.solve(), case.solve(what_if(wanted))
    rail_rows, parts = tables.drift_rows(before, after), tables.drift_parts(before, after)
    if as_json:
        values = {ref: v.value if isinstance(v, Fault) else v for ref, v in wanted.items()}
        put_json(case.head(after) | {
            "status_before": before.status, "changes": values,
            "rails": plain(rail_rows), "parts": plain(parts),
        })  # fmt: skip
    else:
        put(f"{case.headline}\n")
        put_table(words.DRIFT_RAILS, [words.drift_cells(row) for row in rail_rows])
        put_table(words.DRIFT_PARTS, [words.part_cells(row) for row in parts])
        put_lines(*words.notes(after), words.CAUTION)
    return exit_code(before, after)


@click.command("check", epilog=keys(
    "ok; board_count, part_count, rail_count",
    "over_parts: refs; over_rails, outside_rails: nodes",
))  # fmt: skip
@file_argument
@asked_options
@as_json_option
def check(file: Path, asked: Asked, as_json: bool) -> int:
    """Read FILE, solve it, and say whether anything is wrong with it.

    Trouble is anything that stands in the way of a full solution, a part above its rating, or a
    rail above its limit; the exit code is then 1. A rail outside its band is named but is no
    trouble of the map: the label may be wrong.
    """
    case = Case.read(file, asked)
    solution = case.solve()
    over = [row for row in tables.hot_rows(case.m, solution) if row.over]
    rows = tables.rail_rows(case.m, solution)
    high = [row for row in rows if row.over_limit]
    outside = [row for row in rows if row.verdict == "outside"]
    trouble = [*(f.sentence for f in solution.findings), *map(words.over_part, over),
               *map(words.over_rail, high)]  # fmt: skip
    if as_json:
        put_json(case.head(solution) | {
            "ok": not trouble, "board_count": len(case.m.boards),
            "part_count": len(case.m.parts), "rail_count": len(case.m.rails),
            "over_parts": [row.ref for row in over], "over_rails": [row.node for row in high],
            "outside_rails": [row.node for row in outside],
        })  # fmt: skip
    else:
        put_lines(f"{'not ok' if trouble else 'ok'}: {words.counts(case.m)}", *trouble)
        put_lines(words.among("Outside the band", [row.name for row in outside]))
    return Code.UNSOLVED if trouble else exit_code(solution)


def picture_verb(draw_picture: Callable[..., None]) -> click.Command:
    """Make the verb that draws floor or ladder."""

    @click.command("picture")
    @file_argument
    @click.option(
        "-o",
        "--out",
        required=True,
        type=click.Path(path_type=Path),
        metavar="OUT",
        help="The picture to write; its name ends in .png, .svg or .pdf.",
    )
    @click.option(
        "--view",
        type=click.Choice(VIEWS),
        default=VIEWS[0],
        show_default=True,
        help="The boards to scale, or the rails by their volts.",
    )
    @asked_options
    @click.option("--dark", is_flag=True, help="Draw for a dark screen instead of for paper.")
    @click.option(
        "--width",
        type=click.IntRange(100, 20000),
        default=1600,
        show_default=True,
        metavar="PIXELS",
        help="Width of the picture.",
    )
    def picture(
        file: Path, out: Path, view: str, asked: Asked, dark: bool, width: int,
    ) -> int:  # fmt: skip
        """Draw FILE as a picture file, with volts and stress.

        At the foot stands what it shows and when. A PDF is one page as wide as a sheet.
        """
        if out.suffix.lower() not in PICTURES:
            endings = ", ".join(PICTURES)
            raise click.BadParameter(f"{str(out)!r} ends in none of {endings}", param_hint="-o")
        case = Case.read(file, asked)
        solution = case.solve()
        _must_be_writable(out)
        if sys.platform == "linux":
            # A picture needs no screen, and one that cannot be reached would make Qt abort.
            os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
        try:
            draw_picture(
                case.m, solution, out=out, width_px=width, dark=dark, view=view,
                setup=asked.setup or "",
            )  # fmt: skip
        except OSError as error:
            raise FileError(f"{out} cannot be written: {os_trouble(error)}") from None
        put_lines(f"{out} is written.", *words.notes(solution))
        return exit_code(solution)

    return picture


def _must_be_writable(out: Path) -> None:
    """Refuse a picture's name before anything is drawn."""
    if out.is_dir():
        raise FileError(f"{out} cannot be written: it is a folder")
    if not out.absolute().parent.is_dir():
        raise FileError(f"{out} cannot be written: there is no folder {out.parent}")
    if not os.access(out if out.exists() else out.absolute().parent, os.W_OK):
        raise FileError(f"{out} cannot be written: permission denied")


def _changes(m: RailMap, texts: Iterable[str]) -> dict[str, float | Fault]:
    """Read what ``drift`` is to try.

    Raises
    ------
    MapError, UnitError
        One sentence that says which change cannot be, and why.
    """
    found: dict[str, float | Fault] = {}
    for text in texts:
        ref, sign, value = (piece.strip() for piece in text.partition("="))
        if not (ref and sign and value):
            raise MapError(f"{text!r} is no change; write it like R7=236, R9=open or R8=+20%")
        if ref not in m.parts:
            raise MapError(f"there is no part {ref!r} in the map{words.did_you_mean(ref, m.parts)}")
        if ref in found:
            raise MapError(f"{ref} is given twice")
        found[ref] = _new_value(m, ref, value)
    return found


def _new_value(m: RailMap, ref: str, text: str) -> float | Fault:
    part = m.parts[ref]
    fault = {"open": OPEN, "short": SHORT}.get(text.casefold())
    if fault is not None:
        return fault
    try:
        if not text.endswith("%"):
            return parse(text, part.unit)
        if text[0] not in f"+-{words.MINUS}":
            raise MapError(f"{ref}: write +{text} or -{text} to change the present value")
        share = parse(text, "%") / 100
    except UnitError as error:
        raise UnitError(f"{ref}: {error}", error.readings) from None
    present = part.now()
    if not present:
        raise MapError(f"{ref} has no value other than 0, so a percentage changes nothing")
    return present * (1 + share)
