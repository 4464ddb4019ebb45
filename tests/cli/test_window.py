"""The window, pictures and help, and the joints between the command and the window."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import Result

import railmap as rm
from railmap import __main__ as command
from railmap.cli import NoWindowError, build, window_libraries
from railmap.ui import theme as themes

Run = Callable[..., Result]
Refused = Callable[[Result, int], str]
Saved = Callable[..., Path]
Process = Callable[..., subprocess.CompletedProcess[str]]
VERBS = ("rails", "hot", "drift", "check")
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="a matter of Linux")


class Window:
    """Takes the place of the window and notes what it was asked to show."""

    def __init__(self, code: int = 0) -> None:
        self.shown: list[Path | None] = []
        self.code = code

    def __call__(self, path: Path | None) -> int:
        self.shown.append(path)
        return self.code


@pytest.fixture
def screenless(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)


def test_nothing_opens_the_first_page(run: Run) -> None:
    window = Window()
    assert run(open_window=window).exit_code == 0
    assert window.shown == [None]


def test_a_file_opens_the_window_and_its_exit_code_is_kept(run: Run, file: Path) -> None:
    window = Window(7)
    assert run(file, open_window=window).exit_code == 7
    assert window.shown == [file]


def test_a_file_without_an_ending_opens_too(
    run: Run, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file.rename(tmp_path / "recorder")
    monkeypatch.chdir(tmp_path)
    window = Window()
    assert run("recorder", open_window=window).exit_code == 0
    assert window.shown == [Path("recorder")]


def test_a_file_that_is_not_there_opens_no_window(
    run: Run, refused: Refused, tmp_path: Path
) -> None:
    path = tmp_path / "nowhere.railmap"
    assert refused(run(path), 3) == f"{path} cannot be read: no such file or directory"


@linux_only
@pytest.mark.usefixtures("screenless")
def test_without_a_screen_the_other_ways_are_named(
    run: Run, refused: Refused, saved: Saved, divider: rm.RailMap
) -> None:
    path = saved(divider, "my recorder.railmap")
    sentence = refused(run(path), 4)
    assert "there is no screen here" in sentence
    assert f"`railmap rails '{path}'`" in sentence
    assert f"`railmap picture '{path}' -o out.png`" in sentence
    assert "`railmap rails FILE`" in refused(run(), 4)


@linux_only
@pytest.mark.usefixtures("screenless")
def test_the_process_without_a_screen_does_not_abort(process: Process, file: Path) -> None:
    result = process(file)
    assert result.returncode == 4
    assert result.stderr.count("\n") == 1


@linux_only
@pytest.mark.usefixtures("screenless")
@pytest.mark.parametrize(("variable", "code"), [("DISPLAY", 4), ("WAYLAND_DISPLAY", 0)])
def test_a_library_that_only_a_display_needs(
    run: Run,
    refused: Refused,
    variable: str,
    code: int,
    file: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def load(name: str) -> None:
        if name == "libxcb-cursor.so.0":
            raise OSError(f"{name}: cannot open shared object file")

    monkeypatch.setattr("ctypes.CDLL", load)
    monkeypatch.setenv(variable, ":0")
    window = Window()
    result = run(file, open_window=window)
    assert result.exit_code == code
    if code:
        sentence = refused(result, 4)
        assert "libxcb-cursor.so.0 is missing" in sentence
        assert "sudo apt install libegl1 " in sentence
    assert len(window.shown) == (0 if code else 1)


@linux_only
@pytest.mark.usefixtures("screenless")
def test_a_display_with_its_libraries_opens_the_window(
    run: Run, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ctypes.CDLL", lambda name: None)
    monkeypatch.setenv("DISPLAY", ":0")
    window = Window()
    assert run(file, open_window=window).exit_code == 0
    assert window.shown == [file]


def test_a_library_that_is_missing_at_import(run: Run, refused: Refused, file: Path) -> None:
    def fail(path: Path | None) -> int:
        with window_libraries():
            raise ImportError("libEGL.so.1: cannot open shared object file: No such file")

    sentence = refused(run(file, open_window=fail), 4)
    assert "the system library libEGL.so.1 is missing" in sentence
    assert "libxkbcommon0" in sentence
    assert "libxcb-cursor0" in sentence


def test_a_package_that_is_missing_is_named() -> None:
    sentence = "cannot be loaded: No module named 'PySide6'"
    with pytest.raises(NoWindowError, match=sentence), window_libraries():
        raise ModuleNotFoundError("No module named 'PySide6'")


class Pen:
    """Takes the place of the drawing: notes what it was asked for, and writes a file."""

    def __init__(self) -> None:
        self.asked: dict[str, Any] = {}
        self.platform: str | None = None

    def __call__(self, m: rm.RailMap, solution: rm.Solution, **more: Any) -> None:
        self.asked = {"m": m, "solution": solution, **more}
        self.platform = os.environ.get("QT_QPA_PLATFORM")
        more["out"].write_bytes(b"picture")


@pytest.mark.parametrize("name", ["out.png", "out.SVG", "out.pdf"])
def test_a_picture(run: Run, divider: rm.RailMap, name: str, file: Path, tmp_path: Path) -> None:
    out, pen = tmp_path / name, Pen()
    result = run("picture", file, "-o", out, "--mains", "253", draw_picture=pen)
    assert (result.exit_code, result.stdout) == (0, f"{out} is written.\n")
    assert out.read_bytes() == b"picture"
    assert pen.asked["m"] == divider
    assert pen.asked["solution"].volts("A") == pytest.approx(8.8)
    assert (pen.asked["width_px"], pen.asked["dark"]) == (1600, False)
    assert (pen.asked["view"], pen.asked["setup"]) == ("floor", "")


def test_a_picture_dark_and_wide(run: Run, file: Path, tmp_path: Path) -> None:
    pen = Pen()
    words = ["-o", tmp_path / "o.png", "--dark", "--width", "800", "--setup", "high"]
    assert run("picture", file, *words, draw_picture=pen).exit_code == 0
    assert (pen.asked["width_px"], pen.asked["dark"]) == (800, True)
    assert pen.asked["solution"].volts("A") == pytest.approx(8.8)


def test_a_picture_of_something_unsolved_says_so(run: Run, faulty: Path, tmp_path: Path) -> None:
    result = run("picture", faulty, "-o", tmp_path / "o.png", draw_picture=Pen())
    assert result.exit_code == 1
    assert "Note: " in result.stdout


@linux_only
@pytest.mark.usefixtures("screenless")
def test_a_picture_needs_no_screen(
    run: Run, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # So that what the command sets is taken back after the test.
    monkeypatch.setenv("QT_QPA_PLATFORM", "")
    monkeypatch.delenv("QT_QPA_PLATFORM")
    pen = Pen()
    assert run("picture", file, "-o", tmp_path / "o.png", draw_picture=pen).exit_code == 0
    assert pen.platform == "offscreen"


@linux_only
def test_a_picture_keeps_the_platform_that_was_asked_for(
    run: Run, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("QT_QPA_PLATFORM", "vnc")
    pen = Pen()
    assert run("picture", file, "-o", tmp_path / "o.png", draw_picture=pen).exit_code == 0
    assert pen.platform == "vnc"


def test_a_picture_into_a_folder_that_is_not_there(
    run: Run, refused: Refused, file: Path, tmp_path: Path
) -> None:
    sentence = refused(run("picture", file, "-o", tmp_path / "no" / "o.png"), 3)
    assert sentence.endswith(f"cannot be written: there is no folder {tmp_path / 'no'}")


def test_a_picture_onto_a_folder(run: Run, refused: Refused, file: Path, tmp_path: Path) -> None:
    (tmp_path / "o.png").mkdir()
    assert refused(run("picture", file, "-o", tmp_path / "o.png"), 3).endswith("it is a folder")


def test_a_picture_where_nothing_may_be_written(
    run: Run, refused: Refused, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: path != tmp_path)
    assert "permission denied" in refused(run("picture", file, "-o", tmp_path / "o.png"), 3)


def test_a_picture_that_cannot_be_written(
    run: Run, refused: Refused, file: Path, tmp_path: Path
) -> None:
    def fail(*args: Any, **more: Any) -> None:
        raise OSError(28, "No space left on device")

    result = run("picture", file, "-o", tmp_path / "o.png", draw_picture=fail)
    assert refused(result, 3).endswith("o.png cannot be written: no space left on device")


def test_a_key_that_stops_it(run: Run, file: Path, tmp_path: Path) -> None:
    def stop(*args: Any, **more: Any) -> None:
        raise KeyboardInterrupt

    result = run("picture", file, "-o", tmp_path / "o.png", draw_picture=stop)
    assert result.exit_code == 130
    assert "Traceback" not in result.output
    assert result.stderr.strip() == ""


def test_help_names_every_verb_and_exit_code(run: Run) -> None:
    result = run("--help")
    assert result.exit_code == 0
    for verb in (*VERBS, "picture"):
        assert f"\n  {verb} " in result.stdout
    for code in (0, 1, 2, 3, 4, 5, 130):
        assert f"\n    {code} " in result.stdout
    assert "..." not in result.stdout.split("Commands:")[1].split("Exit codes")[0]


@pytest.mark.parametrize("words", [[], *([verb] for verb in (*VERBS, "picture"))])
def test_help_prints_on_any_stream(run: Run, words: list[str]) -> None:
    result = run(*words, "-h")
    assert result.exit_code == 0
    assert result.stdout.isascii()
    assert all(len(line) <= 100 for line in result.stdout.splitlines())


def test_it_can_be_called_from_python(file: Path) -> None:
    group = build(Window(), Pen())
    assert group.main(["check", str(file)], standalone_mode=False) == 0
    with pytest.raises(click.UsageError):
        group.main(["hto"], standalone_mode=False)


def test_main_takes_the_arguments_of_the_process(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["railmap", "check", str(file)])
    with pytest.raises(SystemExit) as end:
        command.main()
    assert end.value.code == 0
    assert capsys.readouterr().out.startswith("ok: ")


def test_main_hands_the_file_to_the_window(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    window = Window(3)
    monkeypatch.setitem(sys.modules, "railmap.ui.app", Module(run=window))
    monkeypatch.setattr(sys, "argv", ["railmap", str(file)])
    with pytest.raises(SystemExit) as end:
        command.main()
    assert (end.value.code, window.shown) == (3, [file])


def test_main_hands_the_solution_to_the_drawing(
    divider: rm.RailMap, file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, pen = tmp_path / "o.svg", Pen()
    monkeypatch.setitem(sys.modules, "railmap.ui.picture", Module(draw=pen))
    words = ["--view", "ladder", "--setup", "high"]
    monkeypatch.setattr(sys, "argv", ["railmap", "picture", str(file), "-o", str(out), *words])
    with pytest.raises(SystemExit) as end:
        command.main()
    assert end.value.code == 0
    asked = pen.asked
    assert asked.pop("m") == divider
    assert asked.pop("solution").volts("A") == pytest.approx(8.8)
    assert asked == {
        "out": out, "width_px": 1600, "theme": themes.light(), "view": "ladder", "setup": "high"
    }  # fmt: skip


class Module:
    """Takes the place of a module of the window."""

    def __init__(self, **names: Any) -> None:
        vars(self).update(names)
