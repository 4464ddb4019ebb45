"""Slots for unsaved work: who holds them, what is found after a process ended, damage."""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime
from io import FileIO
from pathlib import Path

import pytest
from hypothesis import given
from strategies import maps

import railmap as rm
from railmap.errors import FileError
from railmap.store import autosave
from railmap.store.autosave import Slot, left_over, open_slot

WORK = rm.RailMap(title="work")
HOLD = """
import sys
from pathlib import Path
import railmap as rm
from railmap.store.autosave import open_slot
slot = open_slot(Path(sys.argv[1]))
slot.write(rm.RailMap(title="of another process"), None)
print(slot.folder.name, flush=True)
sys.stdin.read()
"""


@pytest.fixture
def slots(tmp_path: Path) -> Path:
    return tmp_path / "settings" / "unsaved"


@pytest.fixture(autouse=True)
def released(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let go of every lock that a test still holds, as the end of a process does."""
    held: list[FileIO] = []
    real = Slot.__init__

    def note(slot: Slot, folder: Path, lock: FileIO) -> None:
        held.append(lock)
        real(slot, folder, lock)

    monkeypatch.setattr(Slot, "__init__", note)
    yield
    for lock in held:
        lock.close()


def leave(slots: Path, m: rm.RailMap = WORK, path: Path | None = None) -> Path:
    """Leave work behind as a process that ended does; returns the draft."""
    slot = open_slot(slots)
    slot.write(m, path)
    slot.let_go()
    return slot.folder / "draft"


@given(maps())
def test_work_that_was_left_is_found_as_it_was(m: rm.RailMap) -> None:
    with tempfile.TemporaryDirectory() as folder:
        leave(Path(folder), m, Path(folder, "set.railmap"))
        (slot,) = left_over(Path(folder))
        draft = slot.read()
        assert draft is not None
        assert (draft.map, draft.path) == (m, Path(folder, "set.railmap"))
        slot.remove()
        assert os.listdir(folder) == []  # noqa: PTH208


def test_a_file_name_of_any_bytes_is_kept(slots: Path) -> None:
    for name in ("Plan für Gerät.railmap", os.fsdecode(b"/tmp/\xff.railmap"), "a\nb"):
        leave(slots, WORK, Path("/", name))
        (slot,) = left_over(slots)
        draft = slot.read()
        assert draft is not None
        assert draft.path == Path("/", name)
        slot.remove()


def test_a_slot_is_held_while_it_is_open(slots: Path) -> None:
    mine, other = open_slot(slots), open_slot(slots)
    mine.write(rm.RailMap(title="mine"), None)
    other.write(rm.RailMap(title="other"), None)
    assert mine.folder != other.folder
    assert left_over(slots) == []
    other.let_go()
    (found,) = left_over(slots)
    assert found.folder == other.folder
    assert left_over(slots) == [], "it has been claimed"
    found.let_go()
    mine.let_go()
    assert len(left_over(slots)) == 2


def test_another_process_holds_its_slot_until_it_ends(slots: Path) -> None:
    words = [sys.executable, "-c", HOLD, str(slots)]
    with subprocess.Popen(
        words, cwd=Path(rm.__file__).parents[1], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        name = process.stdout.readline().strip()
        assert (slots / name / "draft").exists()
        assert left_over(slots) == []
        process.kill()
        process.wait()
    (slot,) = left_over(slots)
    draft = slot.read()
    assert draft is not None
    assert draft.map.title == "of another process"


def test_the_latest_comes_first(slots: Path) -> None:
    for age, title in ((300, "older"), (100, "newer"), (200, "between")):
        draft = leave(slots, rm.RailMap(title=title))
        when = draft.stat().st_mtime - age
        os.utime(draft, (when, when))
    drafts = [slot.read() for slot in left_over(slots)]
    assert [draft.map.title for draft in drafts if draft] == ["newer", "between", "older"]


def test_without_unsaved_work_nothing_stays(slots: Path) -> None:
    slot = open_slot(slots)
    slot.write(WORK, None)
    slot.clear()
    slot.clear()
    assert slot.read() is None
    assert abs((datetime.now() - slot.written).total_seconds()) < 3600
    slot.let_go()
    assert list(slots.iterdir()) == []
    slot.remove()


def test_what_a_killed_process_left_half_is_tidied_up(slots: Path) -> None:
    draft = leave(slots)
    draft.rename(draft.with_name(".railmap-0123456789abcdef.tmp"))
    (slots / "0123456789abcdef").mkdir()
    (slots / "a file").touch()
    assert left_over(slots) == []
    assert [path.name for path in slots.iterdir()] == ["a file"]


def test_no_folder_yet_is_no_trouble(tmp_path: Path) -> None:
    assert left_over(tmp_path / "none") == []
    assert not (tmp_path / "none").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="permissions of POSIX")
def test_it_is_the_users_alone(slots: Path) -> None:
    assert open_slot(slots).folder.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "the draft does not begin as a draft does"),
        (b"[]\n{}", "the draft does not begin as a draft does"),
        (b"\xff\x00\n", "the draft does not begin as a draft does"),
        (b'{"format": "railmap draft"}\n', "the draft does not begin as a draft does"),
        (b'{"format": "railmap draft", "version": 2}\n', "the draft is of a newer railmap"),
        (b'{"format": "railmap draft", "version": 1}\n', "the draft is empty"),
        (b'{"format": "railmap draft", "version": 1}\n{"format"', "is not a railmap file"),
        (b"[" * 100_000, "the draft does not begin as a draft does"),
    ],
)
def test_damage_is_one_sentence_and_set_aside(slots: Path, content: bytes, why: str) -> None:
    leave(slots).write_bytes(content)
    (slot,) = left_over(slots)
    with pytest.raises(FileError) as refused:
        slot.read()
    assert why in str(refused.value)
    assert "\n" not in str(refused.value)
    kept = slot.set_aside()
    assert kept.read_bytes() == content
    assert kept.parent == slots / autosave.ASIDE
    assert left_over(slots) == []
    assert [path.name for path in slots.iterdir()] == [autosave.ASIDE]


def test_every_cut_of_a_draft_is_refused(slots: Path) -> None:
    """Whatever a disk kept of it, half a draft is never taken for a whole one."""
    draft = leave(slots, rm.RailMap(title="whole"))
    whole = draft.read_bytes().rstrip()
    (slot,) = left_over(slots)
    for length in range(len(whole)):
        draft.write_bytes(whole[:length])
        with pytest.raises(FileError):
            slot.read()


def test_a_draft_that_cannot_be_moved_stays(slots: Path) -> None:
    draft = leave(slots)
    draft.write_bytes(b"damaged")
    (slots / autosave.ASIDE).touch()
    (slot,) = left_over(slots)
    assert slot.set_aside() == draft
    assert draft.read_bytes() == b"damaged"
    assert [found.folder for found in left_over(slots)] == [slot.folder]


def test_a_draft_that_is_no_file_is_told(slots: Path) -> None:
    draft = leave(slots)
    draft.unlink()
    draft.mkdir()
    (slot,) = left_over(slots)
    with pytest.raises(FileError, match="the draft cannot be read"):
        slot.read()
    with pytest.raises(FileError, match="cannot be cleared"):
        slot.clear()
    slot.remove()


def test_a_place_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for use in (open_slot, lambda folder: left_over(folder.parent)):
        place = tmp_path / "file" / "unsaved"
        if use is open_slot:
            with pytest.raises(FileError, match="cannot be used for unsaved work: not a directory"):
                use(place)
        else:
            assert use(place) == []


def test_a_folder_that_cannot_be_looked_through(
    slots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_: Path) -> None:
        raise PermissionError(13, "Permission denied")

    leave(slots)
    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(FileError, match="cannot be used for unsaved work: permission denied"):
        left_over(slots)


def test_a_slot_taken_away_while_it_is_made_is_made_anew(
    slots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when another window tidies up between the making of the folder and of its lock."""
    real, taken = autosave._claim, []

    def claim(place: Path) -> Slot | None:
        if len(taken) < 2:
            taken.append(place)
            place.rmdir()
        return real(place)

    monkeypatch.setattr(autosave, "_claim", claim)
    slot = open_slot(slots)
    slot.write(WORK, None)
    assert slot.folder not in taken
    monkeypatch.setattr(autosave, "_claim", lambda place: None)
    with pytest.raises(FileError, match="cannot be used for unsaved work: it is in use"):
        open_slot(slots)


def test_a_lock_whose_name_is_gone_holds_nothing(
    slots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = autosave._hold

    def hold(lock: object) -> bool:
        for path in slots.glob("*/lock"):
            path.unlink()
        return real(lock)  # type: ignore[arg-type]

    leave(slots)
    monkeypatch.setattr(autosave, "_hold", hold)
    assert left_over(slots) == []


def test_a_write_that_fails_leaves_the_draft_before_it(
    slots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    slot = open_slot(slots)
    slot.write(WORK, None)
    monkeypatch.setattr("os.replace", refuse)
    with pytest.raises(FileError, match="no space left on device"):
        slot.write(rm.RailMap(title="more"), None)
    draft = slot.read()
    assert draft is not None
    assert draft.map == WORK


def test_the_first_line_says_what_it_is(slots: Path) -> None:
    head = leave(slots, WORK, Path("/maps/set.railmap")).read_bytes().splitlines()[0]
    path = str(Path("/maps/set.railmap").absolute())
    assert json.loads(head) == {"format": "railmap draft", "version": 1, "path": path}


def test_keeping_work_loads_no_qt() -> None:
    code = (
        "import sys, railmap.store.autosave;"
        "print([name for name in sys.modules if name.startswith(('PySide6', 'shiboken6'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
