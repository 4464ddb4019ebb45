"""The data folders are found in a checkout and in an installed package alike."""

import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import pytest

from railmap import resources
from railmap.errors import FileError


def load_copy(package: Path) -> ModuleType:
    """Load resources.py as if it had been installed in the folder ``package``."""
    package.mkdir(parents=True, exist_ok=True)
    source = package / "resources.py"
    shutil.copy(resources.__file__, source)
    spec = importlib.util.spec_from_file_location("resources_elsewhere", source)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_folder_inside_the_package_comes_first(tmp_path: Path) -> None:
    inside = tmp_path / "railmap" / "_data" / "icons"
    inside.mkdir(parents=True)
    (tmp_path / "icons").mkdir()
    assert load_copy(tmp_path / "railmap").data_dir("icons") == inside


def test_folder_beside_the_package_is_the_fallback(tmp_path: Path) -> None:
    beside = tmp_path / "example_boards"
    beside.mkdir()
    assert load_copy(tmp_path / "railmap").data_dir("example_boards") == beside


def test_missing_folder_is_one_clear_sentence(tmp_path: Path) -> None:
    package = tmp_path / "railmap"
    with pytest.raises(FileError) as caught:
        load_copy(package).data_dir("icons")
    said = f"The folder icons is missing from {package}; please install railmap again."
    assert str(caught.value) == said


def test_every_icon_is_found_and_is_an_svg() -> None:
    names = [path.stem for path in resources.data_dir("icons").glob("*.svg")]
    assert "kind-resistor" in names
    for name in names:
        root = ElementTree.parse(resources.icon_path(name)).getroot()
        assert root.tag == "{http://www.w3.org/2000/svg}svg", name


@pytest.mark.parametrize("name", ["no-such-icon", "", "kind-resistor.svg"])
def test_unknown_icon_is_named(name: str) -> None:
    with pytest.raises(FileError, match="There is no icon") as caught:
        resources.icon_path(name)
    assert repr(name) in str(caught.value)


def test_examples_are_map_files_in_order(tmp_path: Path) -> None:
    boards = tmp_path / "example_boards"
    (boards / "pictures").mkdir(parents=True)
    for name in ("b.railmap", "a.railmap", "notes.txt", "pictures/window.png"):
        (boards / name).touch()
    found = load_copy(tmp_path / "railmap").example_paths()
    assert found == (boards / "a.railmap", boards / "b.railmap")


def test_the_example_that_the_readme_opens_is_there() -> None:
    assert "portable_tape_recorder.railmap" in [path.name for path in resources.example_paths()]


def test_finding_files_loads_no_qt() -> None:
    code = (
        "import sys; from railmap.resources import icon_path; icon_path('kind-resistor');"
        "print([name for name in sys.modules if name.startswith(('PySide6', 'shiboken6'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
