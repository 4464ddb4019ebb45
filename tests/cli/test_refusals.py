"""What the command line refuses: one sentence and an exit code each."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

import railmap as rm

Run = Callable[..., Result]
Refused = Callable[[Result, int], str]
Saved = Callable[..., Path]
VERBS = ("rails", "hot", "drift", "check")
CHANGE = {"drift": ["R1=236"]}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["hto"], "'hto' is neither a verb nor a file; did you mean hot? (see railmap --help)"),
        (["--what"], "(see railmap --help)"),
        (["rails"], "Missing argument 'FILE' (see railmap rails --help)"),
        (["rails", "{}", "--what"], "(see railmap rails --help)"),
        (["rails", "{}", "more"], "(see railmap rails --help)"),
        (["rails", "{}", "--mains", "x"], "'x' cannot be read as volts"),
        (["rails", "{}", "--mains", "50R"], "'50R' is in ohms; volts are wanted here"),
        (["rails", "{}", "--mains", "0"], "mains volts must be above 0"),
        (["rails", "{}", "--mains=-230"], "mains volts must be above 0"),
        (["hot", "{}", "--setup", "x"], "there is no setup 'x' in the map; it has high, side out"),
        (["rails", "{}", "--revision", "x"], "there is no revision 'x' in the map; it has late"),
        (["drift", "{}"], "(see railmap drift --help)"),
        (["{}", "more"], "(see railmap --help)"),
        (["picture", "{}"], "Missing option '-o' / '--out'"),
        (["picture", "{}", "-o", "a.bmp"], "'a.bmp' ends in none of .png, .svg, .pdf"),
        (["picture", "{}", "-o", "a.png", "--width", "5"], "5 is not in the range"),
    ],
)
def test_wrong_use(run: Run, refused: Refused, file: Path, words: list[str], sentence: str) -> None:
    assert sentence in refused(run(*(word.format(file) for word in words)), 2)


def test_an_unknown_setup_where_there_is_none(run: Run, refused: Refused, saved: Saved) -> None:
    path = saved(rm.RailMap())
    sentence = "there is no setup 'x' in the map; it keeps none"
    assert refused(run("check", path, "--setup", "x"), 2) == sentence


def test_an_unknown_revision_where_there_is_none(run: Run, refused: Refused, saved: Saved) -> None:
    path = saved(rm.RailMap())
    sentence = "there is no revision 'x' in the map; it keeps none"
    assert refused(run("check", path, "--revision", "x"), 2) == sentence


def test_a_revision_that_cannot_be_fitted(
    run: Run, refused: Refused, divider: rm.RailMap, saved: Saved
) -> None:
    divider.add(rm.Load("L1", "A", "0V", amps=0.01))
    divider.add_revision("odd", values={"L1": {"watts": 2}})
    sentence = refused(run("rails", saved(divider), "--revision", "odd"), 2)
    assert sentence.startswith("L1: with its last known values, ")


@pytest.mark.parametrize("verb", VERBS)
def test_a_file_that_is_not_there(run: Run, refused: Refused, verb: str, tmp_path: Path) -> None:
    path = tmp_path / "nowhere.railmap"
    sentence = refused(run(verb, path, *CHANGE.get(verb, [])), 3)
    assert sentence == f"{path} cannot be read: no such file or directory"


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "bad.railmap"),
        (b'{"format": "railmap",', "line 1, column"),
        (b"\xff\xfe\x00", "is not a railmap file"),
        (b"{}", "is not a railmap file"),
        (b'{"format": "railmap", "version": 99}', "open it with a newer railmap"),
        (
            b'{"format": "railmap", "version": 1, "parts": '
            b'[{"kind": "Resistor", "ref": "R1", "a": "A", "b": "B", "ohms": -1}]}',
            "parts[0] R1: ohms must be above 0, is -1",
        ),
    ],
)
def test_a_file_that_cannot_be_read(
    run: Run, refused: Refused, data: bytes, sentence: str, tmp_path: Path
) -> None:
    path = tmp_path / "bad.railmap"
    path.write_bytes(data)
    assert sentence in refused(run("check", path), 3)


def test_a_folder_in_place_of_a_file(run: Run, refused: Refused, tmp_path: Path) -> None:
    assert "cannot be read" in refused(run("rails", tmp_path), 3)


def test_a_law_that_is_not_computed_yet(
    run: Run, refused: Refused, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*args: Any, **more: Any) -> None:
        raise rm.NotYetError("T1: not yet")

    monkeypatch.setattr("railmap.cli.case.solve", refuse)
    assert refused(run("rails", file), 1) == "T1: not yet"


def test_a_fault_in_railmap_itself_is_a_sentence(
    run: Run, refused: Refused, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("railmap.cli.case.solve", lambda *args, **more: 1 / 0)
    sentence = refused(run("rails", file), 5)
    assert sentence.startswith(
        "a fault in railmap itself (ZeroDivisionError in test_refusals.py, line"
    )
    assert sentence.endswith("please report it")
