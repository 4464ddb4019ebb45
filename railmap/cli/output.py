"""Printing: tables, JSON and lines, on any stream."""

from __future__ import annotations

import dataclasses
import json
import math
import os
import sys
from collections.abc import Iterable
from typing import Any, Final, TextIO

import click

from railmap.cli.words import MINUS, NOTHING, Columns

PIPE_WIDTH: Final = 100
"""Columns of a table that does not go to a terminal."""
LONGEST_WORD: Final = 10
"""Text of this length is not broken, however narrow the terminal."""

_ALARMS: Final = ("over", "outside")
_PLAIN_SIGNS: Final = str.maketrans(
    {MINUS: "-", NOTHING: "-", "\N{BOX DRAWINGS LIGHT HORIZONTAL}": "-", "°": ""}
    | {"Ω": "ohm", "\N{MICRO SIGN}": "u", "\N{INFINITY}": "infinite"}
)


def put_table(columns: Columns, rows: list[list[str]]) -> None:
    """Print a table, or say why it is empty."""
    if not rows:
        put(f"({columns.without})\n")
        return
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    width = None if sys.stdout.isatty() else PIPE_WIDTH
    console = Console(width=width, markup=False, emoji=False, highlight=False)
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for number, title in enumerate(columns.titles):
        widest = max(len(row[number]) for row in rows)
        if number in columns.figures:
            table.add_column(title, justify="right", min_width=widest, overflow="fold")
        else:
            table.add_column(title, min_width=min(widest, LONGEST_WORD), overflow="fold")
    for row in rows:
        table.add_row(*(Text(c, "bold red" if c.startswith(_ALARMS) else "") for c in row))
    with console.capture() as capture:
        console.print(table, crop=False)
    lines = [line.rstrip() for line in capture.get().rstrip().split("\n")]
    put("\n".join(lines) + "\n")


def plain(rows: Iterable[Any]) -> list[dict[str, Any]]:
    """Return rows as plain data; what is not finite becomes None, which is null in JSON.

    Parameters
    ----------
    rows : iterable
        Dataclass instances.
    """
    return [
        {k: None if isinstance(v, float) and not math.isfinite(v) else v
         for k, v in dataclasses.asdict(row).items()}
        for row in rows
    ]  # fmt: skip


def put_json(data: dict[str, Any]) -> None:
    """Print plain data as JSON, in ASCII alone."""
    put(json.dumps(data, indent=2, allow_nan=False))


def put_lines(*lines: str | None) -> None:
    """Print those of the lines that say something."""
    said = [line for line in lines if line]
    if said:
        put("\n".join(said))


def put(text: str, stream: TextIO | None = None) -> None:
    """Print text in what signs the stream has; a reader that has gone away is no trouble.

    Raises
    ------
    OSError
        If the stream cannot be written for another reason.
    """
    stream = stream or sys.stdout
    if stream is None:
        return
    try:
        click.echo(_writable(text, stream.encoding or "utf-8"), file=stream)
    except BrokenPipeError:
        _silence(stream)
    except OSError:
        _silence(stream)
        raise


def _silence(stream: TextIO) -> None:
    """Send the rest nowhere, so that the interpreter does not stumble over it at its end."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


def _writable(text: str, encoding: str) -> str:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        plain = text.translate(_PLAIN_SIGNS)
        return plain.encode(encoding, "replace").decode(encoding)
    return text


def one_line(text: str) -> str:
    r"""Return text fit for one line of a terminal.

    Examples
    --------
    >>> one_line("two\n lines, \x1b[2J")
    'two lines, ?[2J'
    """
    return "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))


def os_trouble(error: OSError) -> str:
    """Put an error of the system into words.

    Examples
    --------
    >>> os_trouble(FileNotFoundError(2, "No such file or directory"))
    'no such file or directory'
    """
    return (error.strerror or str(error)).lower()
