"""The ``railmap`` command: joins the command line with the window and the drawing.

Both are loaded when they are asked for, so that the text verbs do without them.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from railmap.cli import build, window_libraries

if TYPE_CHECKING:
    from railmap.model.railmap import RailMap
    from railmap.solve.solution import Solution


def main() -> None:
    """Run the command with the arguments of the process, and end with its exit code."""
    build(_open_window, _draw_picture)(prog_name="railmap")


def _open_window(path: Path | None) -> int:
    with window_libraries():
        from railmap.ui.app import run
    return run(path)


def _draw_picture(m: RailMap, solution: Solution, out: Path, dark: bool, **more: Any) -> None:
    with window_libraries():
        from railmap.ui import theme as themes
        from railmap.ui.picture import draw
    draw(m, solution, out=out, theme=themes.dark() if dark else themes.light(), **more)


if __name__ == "__main__":
    main()
