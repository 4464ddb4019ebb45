"""Saving: whole or not at all, and nothing left behind."""

import errno
import io
import os
import stat
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from strategies import maps

import railmap as rm
from railmap.errors import FileError
from railmap.store import files
from railmap.store.files import dumps, load, save

posix = pytest.mark.skipif(sys.platform == "win32", reason="permissions and links of POSIX")
OLD, NEW = rm.RailMap(title="old"), rm.RailMap(title="new")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "set.railmap"
    save(OLD, path)
    return path


def contents(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def refusal(path: Path | str) -> str:
    with pytest.raises(FileError) as refused:
        save(NEW, path)
    start = f"{path} cannot be written: "
    assert str(refused.value).startswith(start)
    return str(refused.value).removeprefix(start)


@given(maps())
def test_what_is_loaded_equals_what_was_saved(m: rm.RailMap) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.railmap"
        save(m, path)
        assert load(path) == m
        save(NEW, str(path))
        assert load(str(path)) == NEW
        assert contents(Path(folder)) == ["x.railmap"]


def _failing(code: int) -> Callable[..., Any]:
    def fail(*_: object, **__: object) -> None:
        raise OSError(code, os.strerror(code))

    return fail


@pytest.mark.parametrize(
    ("where", "code"),
    [
        ("os.replace", errno.EACCES),
        ("os.replace", errno.EXDEV),
        ("os.fsync", errno.EIO),
        ("os.fsync", errno.ENOSPC),
    ],
)
def test_a_step_that_fails_leaves_the_old_file_whole(
    path: Path, monkeypatch: pytest.MonkeyPatch, where: str, code: int
) -> None:
    before = path.read_bytes()
    monkeypatch.setattr(where, _failing(code))
    assert refusal(path) == os.strerror(code).lower()
    assert path.read_bytes() == before
    assert contents(path.parent) == [path.name]


def test_so_does_a_full_disk(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class FullDisk(io.FileIO):
        def write(self, _: Any) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", lambda self, mode: io.BufferedWriter(FullDisk(self, mode)))
        assert refusal(path) == "no space left on device"
    assert path.read_bytes() == before
    assert contents(path.parent) == [path.name]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_so_does_a_disk_that_is_really_full(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before, real = path.read_bytes(), Path.open
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", lambda self, _: self.touch() or real(Path("/dev/full"), "wb"))
        assert refusal(path) == "no space left on device"
    assert path.read_bytes() == before
    assert contents(path.parent) == [path.name]


def test_an_interruption_leaves_nothing_behind(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    before = path.read_bytes()
    monkeypatch.setattr("os.fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        save(NEW, path)
    assert path.read_bytes() == before
    assert contents(path.parent) == [path.name]


def test_the_reason_is_told_even_if_cleaning_up_fails(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.replace", _failing(errno.EIO))
    monkeypatch.setattr("os.unlink", _failing(errno.EACCES))
    assert refusal(path) == os.strerror(errno.EIO).lower()


def test_a_new_file_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.replace", _failing(errno.EIO))
    refusal(tmp_path / "new.railmap")
    assert contents(tmp_path) == []


def test_the_file_is_complete_on_disk_before_it_takes_the_name(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the order of POSIX fsync and rename: contents, then the name, then the folder."""
    done: list[str] = []
    fsync, replace = os.fsync, os.replace

    def note_sync(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "contents")
        if done[-1] == "contents":
            assert os.fstat(handle).st_size == len(dumps(NEW))
        fsync(handle)

    def note_replace(old: Any, new: Any) -> None:
        done.append("name")
        replace(old, new)

    monkeypatch.setattr("os.fsync", note_sync)
    monkeypatch.setattr("os.replace", note_replace)
    save(NEW, path)
    assert done == ["contents", "name", "folder"]
    monkeypatch.setattr(files.os, "name", "other")
    files._flush_folder(path.parent)
    assert done == ["contents", "name", "folder"]


def test_a_folder_that_cannot_be_flushed_is_no_failure(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fsync = os.fsync

    def refuse_folders(handle: int) -> None:
        if stat.S_ISDIR(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "Invalid argument")
        fsync(handle)

    monkeypatch.setattr("os.fsync", refuse_folders)
    save(NEW, path)
    assert load(path) == NEW


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    assert refusal(tmp_path / "none" / "x.railmap") == "no such file or directory"
    assert contents(tmp_path) == []


def test_so_is_a_path_that_cannot_be(path: Path) -> None:
    assert refusal(path.parent) == "it is not a file"
    assert refusal(path / "x.railmap") == "not a directory"
    assert refusal(path.with_name("x" * 300)) == "file name too long"
    with pytest.raises(FileError, match="embedded null byte"):
        save(NEW, "a\0b")
    with pytest.raises(FileError, match=r"^'' cannot be written: it is not a file$"):
        save(NEW, "")


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_folder_without_permission_is_told(path: Path) -> None:
    path.parent.chmod(0o555)
    try:
        assert refusal(path) == "permission denied"
    finally:
        path.parent.chmod(0o755)
    assert load(path) == OLD


@posix
def test_a_read_only_folder_is_told(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As above, also for root: no file can be made there."""
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", _failing(errno.EROFS))
        assert refusal(path) == "read-only file system"
    assert load(path) == OLD


def test_a_read_only_file_is_respected(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("os.access", lambda _, mode: mode != os.W_OK)
    assert refusal(path) == "it is read-only"
    assert load(path) == OLD


@posix
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o644, 0o664, 0o666])
def test_permissions_are_kept(path: Path, mode: int) -> None:
    path.chmod(mode)
    save(NEW, path)
    assert stat.S_IMODE(path.stat().st_mode) == mode


@posix
@pytest.mark.parametrize(("mask", "mode"), [(0o022, 0o644), (0o027, 0o640), (0o077, 0o600)])
def test_a_new_file_gets_the_usual_permissions(tmp_path: Path, mask: int, mode: int) -> None:
    old = os.umask(mask)
    try:
        save(NEW, tmp_path / "new.railmap")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "new.railmap").stat().st_mode) == mode


@posix
def test_a_link_stays_and_its_file_is_replaced(path: Path, tmp_path: Path) -> None:
    folder = tmp_path / "links"
    folder.mkdir()
    first, second = folder / "first.railmap", folder / "second.railmap"
    first.symlink_to(path)
    second.symlink_to("first.railmap")
    save(NEW, second)
    assert first.is_symlink()
    assert second.is_symlink()
    assert not path.is_symlink()
    assert load(path) == load(second) == NEW
    assert contents(folder) == ["first.railmap", "second.railmap"]


@posix
def test_a_link_to_nothing_yet_makes_its_file(tmp_path: Path) -> None:
    link = tmp_path / "link.railmap"
    link.symlink_to("target.railmap")
    save(NEW, link)
    assert link.is_symlink()
    assert load(tmp_path / "target.railmap") == NEW


@posix
def test_links_in_a_circle_are_told(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.symlink_to(two)
    two.symlink_to(one)
    assert refusal(one) == "it is not a file"
    assert contents(tmp_path) == ["one", "two"]


@posix
def test_a_device_or_pipe_is_not_replaced_nor_read(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert refusal(pipe) == "it is not a file"
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    with pytest.raises(FileError, match="cannot be read: it is not a file"):
        load(pipe)


def test_a_long_name_needs_no_longer_one(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 247 + ".railmap")  # 255 bytes, the most that common systems take
    save(NEW, path)
    assert load(path) == NEW
