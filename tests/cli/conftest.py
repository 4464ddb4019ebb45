"""What the tests of the command line share: a way to run it, and maps to run it on."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import railmap as rm
from railmap.cli import build
from railmap.model.railmap import Change


def no_window(path: Path | None) -> int:
    raise AssertionError("the window was opened")


def no_picture(*args: Any, **more: Any) -> None:
    raise AssertionError("a picture was drawn")


@pytest.fixture
def run() -> Callable[..., Result]:
    """Run the command in this process."""

    def invoke(
        *words: str | Path,
        open_window: Callable[[Path | None], int] = no_window,
        draw_picture: Callable[..., None] = no_picture,
    ) -> Result:
        return CliRunner().invoke(build(open_window, draw_picture), [str(word) for word in words])

    return invoke


@pytest.fixture
def process() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run the command in a process of its own."""

    def start(*words: str | Path, **more: Any) -> subprocess.CompletedProcess[str]:
        more.setdefault("stdout", subprocess.PIPE)
        return subprocess.run(
            [sys.executable, "-m", "railmap", *map(str, words)],
            cwd=Path(rm.__file__).parents[1], stderr=subprocess.PIPE, encoding="utf-8",
            check=False, timeout=60, **more,
        )  # fmt: skip

    return start


@pytest.fixture
def refused() -> Callable[[Result, int], str]:
    """Check that there is one sentence, an exit code and nothing else; return the sentence."""

    def sentence_of(result: Result, code: int) -> str:
        assert result.exit_code == code, result.output
        assert result.stdout == ""
        assert result.stderr.startswith("railmap: ")
        assert result.stderr.count("\n") == 1
        return result.stderr.removeprefix("railmap: ").rstrip()

    return sentence_of


@pytest.fixture
def line_of() -> Callable[[str, str], list[str]]:
    """Return the words of the table line that begins with a name."""

    def words_of(text: str, name: str) -> list[str]:
        return next(line.split() for line in text.splitlines() if line.startswith(f"{name} "))

    return words_of


@pytest.fixture
def saved(tmp_path: Path) -> Callable[..., Path]:
    """Save a map into the test's own folder."""

    def save(m: rm.RailMap, name: str = "divider.railmap") -> Path:
        path = tmp_path / name
        rm.save(m, path)
        return path

    return save


@pytest.fixture
def divider() -> rm.RailMap:
    """12 V over 100 and 200 ohms, and -10 V over twice 100 ohms: 8 V and -5 V by Ohm's law."""
    m = rm.RailMap("Divider", mains_volts=230)
    m.add_board("Main", 160, 100)
    m.add_board("Side", 80, 60)
    m.add(rm.Source("V1", "RAW", "0V", volts=12, follows_mains=True))
    m.add(rm.Resistor("R1", "RAW", "A", ohms=100, rated_watts=1, board="Main"))
    m.add(rm.Resistor("R2", "A", "0V", ohms=200, rated_watts=0.5, board="Main"))
    m.add(rm.Source("V2", "0V", "NEG", volts=10))
    m.add(rm.Resistor("R3", "NEG", "N1", ohms=100, rated_watts=0.5, board="Side"))
    m.add(rm.Resistor("R4", "N1", "0V", ohms=100, board="Side"))
    m.add(rm.Capacitor("C1", "A", "0V", farads=470e-6, rated_volts=25))
    m.add(rm.Link("W1", "N1", "PLUG"))
    m.add(rm.Resistor("R5", "PLUG", "0V", ohms=100e3))
    m.add_rail("A", "plus eight", label_volts=8.5, max_volts=9)
    m.add_rail("N1", "minus five", label_volts=-5, order=1)
    m.add_setup("high", mains_volts=253)
    m.add_setup("side out", unplugged=("Side",))
    m.add_revision("late", values={"R1": {"ohms": 200}})
    return m


@pytest.fixture
def file(divider: rm.RailMap, saved: Callable[..., Path]) -> Path:
    return saved(divider)


@pytest.fixture
def hot_file(divider: rm.RailMap, saved: Callable[..., Path]) -> Path:
    """R2 takes 0.32 W of 0.25 W, and rail A stands at 8 V above its 7 V."""
    divider.change(
        [
            Change("parts", "R2", divider.parts["R2"].changed(rated_watts=0.25)),
            Change("rails", "A", rm.Rail("A", "plus eight", max_volts=7)),
        ]
    )
    return saved(divider, "hot.railmap")


@pytest.fixture
def faulty(divider: rm.RailMap, saved: Callable[..., Path]) -> Path:
    """Two sources without resistance side by side."""
    divider.add(rm.Source("V9", "RAW", "0V", volts=9))
    return saved(divider, "faulty.railmap")


@pytest.fixture
def islands(divider: rm.RailMap, saved: Callable[..., Path]) -> Path:
    """X and Y have no path to 0 V."""
    divider.add(rm.Resistor("R8", "X", "Y", ohms=10))
    divider.add(rm.Resistor("R9", "Y", "X", ohms=10))
    return saved(divider, "islands.railmap")
