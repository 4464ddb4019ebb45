"""Where the icons and the example maps lie, in a checkout as in an installed package.

The wheel carries the two folders inside the package, under ``_data``; in a checkout and in an
editable installation they stand beside it, at the top level.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from railmap.errors import FileError

Folder = Literal["icons", "example_boards"]


def data_dir(name: Folder) -> Path:
    """Find a folder of data files that belongs to railmap.

    Parameters
    ----------
    name : {"icons", "example_boards"}
        The folder.

    Returns
    -------
    pathlib.Path
        The folder as it was installed, or the one of the checkout.

    Raises
    ------
    FileError
        If this installation lacks it.

    Examples
    --------
    >>> data_dir("icons").name
    'icons'
    """
    package = Path(__file__).parent
    for folder in (package / "_data" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise FileError(f"The folder {name} is missing from {package}; please install railmap again.")


def icon_path(name: str) -> Path:
    """Find an icon by its name.

    Parameters
    ----------
    name : str
        The file's name without ``.svg``, for example ``"kind-resistor"``.

    Returns
    -------
    pathlib.Path
        The SVG file.

    Raises
    ------
    FileError
        If there is no such icon.

    Examples
    --------
    >>> icon_path("kind-resistor").name
    'kind-resistor.svg'
    """
    icons = data_dir("icons")
    path = icons / f"{name}.svg"
    if not path.is_file():
        raise FileError(f"There is no icon {name!r} in {icons}.")
    return path


def example_paths() -> tuple[Path, ...]:
    """List the example maps.

    Returns
    -------
    tuple of pathlib.Path
        The files, in the order of their names.

    Examples
    --------
    >>> "portable_tape_recorder" in [path.stem for path in example_paths()]
    True
    """
    return tuple(sorted(data_dir("example_boards").glob("*.railmap")))
