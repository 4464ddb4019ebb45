"""The program killed in the middle of writing, as real processes: no file is lost or half."""

import subprocess
import sys
from pathlib import Path
from random import Random
from time import sleep

import pytest
from crash_writer import version

from railmap.store.autosave import left_over
from railmap.store.files import load

WRITER = Path(__file__).parents[1] / "crash_writer.py"
ROOT = Path(__file__).parents[2]
WRITES = 200
MOST_PAUSE_S = 0.05


class Run:
    """One process that writes until it is killed, and what it told."""

    def __init__(self, map_file: Path, slots: Path, first: int) -> None:
        words = [sys.executable, str(WRITER), str(map_file), str(slots), str(first)]
        self._process = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True)
        assert self._process.stdout is not None
        self._out = self._process.stdout
        self.slot = self._out.readline().split()[1]

    def kill(self) -> list[tuple[str, int]]:
        """Kill it as ``kill -9`` does; return what it told, in order."""
        self._process.kill()
        lines = self._out.read().split("\n")[:-1]  # the kill may tear the last line
        self._out.close()
        assert self._process.wait() != 0
        return [(word, int(number)) for word, number in map(str.split, lines)]


def last(told: list[tuple[str, int]], word: str) -> int | None:
    return next((number for what, number in reversed(told) if what == word), None)


@pytest.mark.skipif(sys.platform == "win32", reason="kill -9 is of POSIX")
def test_no_file_is_lost_or_half_when_the_program_is_killed(tmp_path: Path) -> None:
    """200 saves and autosaves, killed at random moments of them; the pauses are seeded."""
    chance = Random(20251125)
    map_file, slots = tmp_path / "set.railmap", tmp_path / "slots"
    writes = inside = first = 0
    saved: int | None = None
    while writes < WRITES:
        run = Run(map_file, slots, first)
        assert left_over(slots) == [], "work of a window that runs is not left over"
        sleep(chance.uniform(0.0, MOST_PAUSE_S))
        told = run.kill()
        writes += sum(word in ("save", "keep") for word, _ in told)
        inside += bool(told) and told[-1][0] in ("save", "keep")
        saved = check_map(map_file, told, saved)
        check_draft(slots, run.slot, map_file, told)
        first = 1 + max([first, *(number for _, number in told)])
    assert inside > 0, "no write was interrupted"


def check_map(map_file: Path, told: list[tuple[str, int]], saved: int | None) -> int | None:
    """The file is the last version that was saved, or the one that was being saved."""
    ended = last(told, "saved")
    ended = saved if ended is None else ended
    begun = last(told, "save")
    if ended is None and not map_file.exists():
        return None
    found = load(map_file)
    (number,) = [n for n in {ended, begun} - {None} if found == version(n)]
    return number


def check_draft(slots: Path, name: str, map_file: Path, told: list[tuple[str, int]]) -> None:
    """The draft is absent, or the last version that was kept, or the one being kept."""
    ended, begun = last(told, "kept"), last(told, "keep")
    found = left_over(slots)
    if ended is None and not found:
        return
    (slot,) = found
    draft = slot.read()
    assert draft is not None
    assert slot.folder.name == name
    assert draft.path == map_file
    assert [n for n in {ended, begun} - {None} if draft.map == version(n)]
    slot.remove()
    assert list(slots.iterdir()) == []
