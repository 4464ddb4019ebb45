"""What comes out of the command: text on any stream, and the exit code of the process."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

import railmap as rm
from railmap.cli.output import one_line

Run = Callable[..., Result]
LineOf = Callable[[str, str], list[str]]
Saved = Callable[..., Path]
Process = Callable[..., subprocess.CompletedProcess[str]]
MINUS = "\N{MINUS SIGN}"
ROOT = Path(rm.__file__).parents[1]
VERBS = ("rails", "hot", "drift", "check")
CHANGE = {"drift": ["R1=236"]}
linux_only = pytest.mark.skipif(sys.platform != "linux", reason="a matter of Linux")


@pytest.mark.parametrize("verb", VERBS[:3])
def test_a_table_in_a_pipe_is_plain_text(run: Run, verb: str, hot_file: Path) -> None:
    out = run(verb, hot_file, *CHANGE.get(verb, [])).stdout
    assert "\x1b" not in out
    for line in out.splitlines():
        assert len(line) <= 100
        assert line == line.rstrip()


def test_figures_stand_under_each_other(run: Run, file: Path) -> None:
    lines = run("rails", file).stdout.splitlines()
    five, eight = (next(line for line in lines if line.startswith(n)) for n in ("minus", "plus"))
    assert five.index("5.00") == eight.index("8.50")
    assert five.rindex("5.00") == eight.index("8.00")


def test_names_and_titles_are_printed_as_they_are(
    run: Run, saved: Saved, divider: rm.RailMap
) -> None:
    m = divider
    m.add_rail("RAW", "[bold]raw[/bold] :smile:")
    m.change([rm.model.railmap.Change("about", None, rm.model.railmap.About("\x1b[2J\nTitle"))])
    out = run("rails", saved(m)).stdout
    assert "[bold]raw[/bold] :smile:" in out
    assert out.startswith("?[2J Title: forecast")
    assert one_line("a\x07b") == "a?b"


def test_a_map_without_a_title_goes_by_its_file(run: Run, saved: Saved) -> None:
    assert run("rails", saved(rm.RailMap())).stdout.startswith("divider.railmap: ")


def test_a_long_name_is_folded_and_not_cut(run: Run, saved: Saved, divider: rm.RailMap) -> None:
    m = divider
    m.add_rail("RAW", "x" * 120)
    out = run("rails", saved(m)).stdout
    assert out.count("x") == 120
    assert "12.00" in out


@linux_only
def test_a_narrow_terminal_cuts_no_figure(process: Process, hot_file: Path) -> None:
    import pty

    master, slave = pty.openpty()
    env = {**os.environ, "COLUMNS": "40", "TERM": "xterm", "NO_COLOR": ""}
    assert process("rails", hot_file, stdout=slave, env=env).returncode == 0
    os.close(slave)
    with os.fdopen(master, "rb", buffering=0) as reader:
        out = reader.read(65536).decode()
    assert "\x1b[1;31mover limit" in out
    assert "8.00" in out
    assert f"{MINUS}5.00" in out
    assert "…" not in out


def test_the_process_answers(process: Process) -> None:
    result = process("--version")
    assert (result.returncode, result.stderr) == (0, "")
    assert result.stdout == f"railmap {rm.__version__}\n"


def test_the_process_ends_with_the_exit_code(process: Process, islands: Path) -> None:
    result = process("rails", islands)
    assert result.returncode == 1
    assert f"{MINUS}5.00" in result.stdout
    assert result.stderr == ""
    result = process("drift", islands, "R1=10m")
    assert (result.returncode, result.stdout) == (2, "")
    assert result.stderr.startswith("railmap: R1: '10m' could be")


def test_a_stream_without_the_signs_gets_plain_ones(
    process: Process, line_of: LineOf, file: Path
) -> None:
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    result = process("drift", file, "R1=236", env=env)
    assert result.returncode == 0
    assert result.stdout.isascii()
    assert line_of(result.stdout.replace("|", " "), "minus five")[3] == "-5.00"
    assert "10 mohm or 10 Mohm" in process("drift", file, "R1=10m", env=env).stderr


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
@pytest.mark.parametrize("verb", ["rails", "check"])
def test_a_reader_that_goes_away_is_no_trouble(process: Process, verb: str, file: Path) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    result = process(verb, file, stdout=writer)
    os.close(writer)
    assert (result.returncode, result.stderr) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize("words", [["rails"], ["hot", "--json"]])
def test_a_full_disk_is_one_sentence(process: Process, words: list[str], file: Path) -> None:
    with Path("/dev/full").open("w") as full:
        result = process(words[0], file, *words[1:], stdout=full)
    assert result.returncode == 3
    assert result.stderr == "railmap: the output cannot be written: no space left on device\n"


LOADED = """
import sys
from railmap.__main__ import main
sys.argv[1:] = {words}
try:
    main()
except SystemExit as end:
    code = end.code
print(code, sorted({{name.partition(".")[0] for name in sys.modules}}), file=sys.stderr)
"""


WINDOW = ("PySide6", "shiboken6", "pyqtgraph")


@pytest.mark.parametrize(
    ("words", "absent"),
    [
        (["rails", "{}"], (*WINDOW, "scipy")),
        (["hot", "{}"], (*WINDOW, "scipy")),
        (["drift", "{}", "R1=236"], (*WINDOW, "scipy")),
        (["check", "{}"], (*WINDOW, "scipy", "rich")),
        (["rails", "{}", "--json"], (*WINDOW, "scipy", "rich")),
        (["--help"], (*WINDOW, "scipy", "rich")),
    ],
)
def test_text_verbs_load_no_window(words: list[str], absent: tuple[str, ...], file: Path) -> None:
    script = LOADED.format(words=[word.format(file) for word in words])
    result = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, encoding="utf-8",
        check=True, timeout=60,
    )  # fmt: skip
    assert result.stderr.startswith("0 [")
    assert [name for name in absent if f"'{name}'" in result.stderr] == []
    assert "'click'" in result.stderr
