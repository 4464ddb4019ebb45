"""The command itself: its verbs, a file to open in the window, and refusals as sentences."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

import click

from railmap import __version__
from railmap.cli.codes import Code
from railmap.cli.output import one_line, os_trouble, put
from railmap.cli.screen import NoWindowError, need_screen
from railmap.cli.switch_on import surge
from railmap.cli.verbs import check, drift, hot, picture_verb, rails
from railmap.cli.waves import ripple, sweep
from railmap.cli.words import did_you_mean
from railmap.errors import FileError, NotYetError, RailmapError

_GROUP_HELP: Final = """\
Map where each supply rail is made, forecast its volts, and see what runs hot.

With a FILE alone, or with nothing at all, the window opens. The verbs below answer in text from
the same map and load no window.

railmap predicts. It does not say that anything is safe to touch, to connect or to switch on.
"""
_GROUP_EPILOG: Final = """\
\b
Exit codes:
  0    done
  1    the map has something that cannot be solved; or check found trouble
  2    wrong use: an unknown verb, option, part, setup or revision, or a value that cannot be
  3    a file cannot be read or written
  4    the window cannot open: no screen, or a system library is missing
  5    a fault in railmap itself
  130  stopped from the keyboard

\b
Examples:
  railmap recorder.railmap
  railmap rails recorder.railmap --mains 236
  railmap drift recorder.railmap R7=236 R9=open C1=short R8=+20%
  railmap sweep recorder.railmap R104 --from 180 --to 1k
"""


def build(
    open_window: Callable[[Path | None], int], draw_picture: Callable[..., None]
) -> click.Group:
    """Build the ``railmap`` command.

    Parameters
    ----------
    open_window : callable
        Takes the path of a map or None, shows the window until it is closed, and returns the
        exit code.
    draw_picture : callable
        Takes ``(m, solution, out, width_px, dark, view, setup)`` and writes that view to ``out``.

    Returns
    -------
    click.Group
        To be called without arguments; it ends the process with the exit code.

    Examples
    --------
    >>> sorted(build(lambda path: 0, lambda *args: None).commands)
    ['check', 'drift', 'hot', 'picture', 'rails', 'ripple', 'surge', 'sweep']
    """
    group = _Railmap(open_window)
    for verb in (rails, hot, ripple, surge, drift, sweep, check, picture_verb(draw_picture)):
        group.add_command(verb)
    return group


class _Railmap(click.Group):
    """The command itself: verbs, a file to open in the window, and refusals as sentences."""

    def __init__(self, open_window: Callable[[Path | None], int]) -> None:
        super().__init__(
            "railmap", help=_GROUP_HELP, epilog=_GROUP_EPILOG, invoke_without_command=True,
            subcommand_metavar="[FILE | VERB FILE ...]", callback=self._without_verb,
            context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
        )  # fmt: skip
        self.open_window = open_window
        click.version_option(__version__, prog_name="railmap", message="%(prog)s %(version)s")(self)

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """Run the command and end with its exit code."""
        if not standalone_mode:
            return super().main(*args, standalone_mode=False, **extra)
        try:
            found = super().main(*args, standalone_mode=False, **extra)
        except Exception as error:  # whatever it is, nobody at a bench gets a traceback
            sentence, found = _refusal(error)
            if sentence:
                with suppress(OSError):
                    put(f"railmap: {one_line(sentence)}", sys.stderr)
        sys.exit(found)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 (click decides)
        """Name the verbs in the order of the work."""
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the verb, or take a lone file as one to open in the window."""
        word = args[0]
        if word in self.commands or word.startswith("-"):
            return super().resolve_command(ctx, args)
        if not _looks_like_file(word):
            hint = did_you_mean(word, self.commands)
            raise click.UsageError(f"{word!r} is neither a verb nor a file{hint}", ctx)
        argument = click.Argument(["file"], type=click.Path(path_type=Path))
        return "", click.Command("", callback=self._with_file, params=[argument]), args

    def _without_verb(self) -> int:
        ctx = click.get_current_context()
        return Code.DONE if ctx.invoked_subcommand is not None else self._open(None)

    def _with_file(self, file: Path) -> int:
        try:
            with file.open("rb"):
                pass
        except OSError as error:
            raise FileError(f"{file} cannot be read: {os_trouble(error)}") from None
        return self._open(file)

    def _open(self, file: Path | None) -> int:
        need_screen(file)
        return self.open_window(file)


def _looks_like_file(word: str) -> bool:
    path = Path(word)
    return bool(path.suffix) or len(path.parts) > 1 or path.exists()


def _refusal(error: Exception) -> tuple[str, int]:
    """Return the sentence and the exit code for something that went wrong."""
    match error:
        case click.Abort():
            return "", Code.STOPPED
        case click.UsageError():
            path = error.ctx.command_path.strip() if error.ctx else "railmap"
            return f"{error.format_message().rstrip('.')} (see {path} --help)", Code.MISUSE
        case click.ClickException():
            return error.format_message(), Code.MISUSE
        case RailmapError():
            return str(error), _code_of(error)
        case OSError():
            return f"the output cannot be written: {os_trouble(error)}", Code.NO_FILE
        case _:
            return _fault(error), Code.FAULT


def _code_of(error: RailmapError) -> int:
    codes = {FileError: Code.NO_FILE, NoWindowError: Code.NO_WINDOW, NotYetError: Code.UNSOLVED}
    return next((c for kind, c in codes.items() if isinstance(error, kind)), Code.MISUSE)


def _fault(error: Exception) -> str:
    at = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{Path(at.filename).name}, line {at.lineno}"
    what = f"{type(error).__name__} in {where}: {error}"
    return f"a fault in railmap itself ({what}); please report it"
