"""The ``.railmap`` file: JSON with a format name and version, read with checks, written whole.

Opening a map runs no code from it and reads no file it names.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import secrets
import stat
from collections import Counter
from pathlib import Path
from typing import Annotated, Any, NoReturn, cast

import msgspec

from railmap.errors import FileError, MapError
from railmap.model.checks import show
from railmap.model.railmap import Document, RailMap
from railmap.store.explain import explain, label_of

FORMAT = "railmap"
VERSION = 1
MAX_BYTES = 256 * 1024 * 1024


class _File(Document, frozen=True, omit_defaults=True, forbid_unknown_fields=True, kw_only=True):
    """What stands in the file: the document behind a format name and a version."""

    format: Annotated[str, msgspec.Meta(pattern=f"^{FORMAT}$")]
    version: Annotated[int, msgspec.Meta(ge=1, le=VERSION)]


class _RefusedError(ValueError):
    """JSON that is well formed but cannot be taken as it stands."""


def dumps(m: RailMap) -> bytes:
    """Return the map as the bytes of a ``.railmap`` file (UTF-8 JSON, indented).

    Examples
    --------
    >>> loads(dumps(RailMap(title="Divider"))).title
    'Divider'
    """
    head = {"format": FORMAT, "version": VERSION}
    body = msgspec.to_builtins(m.document())
    return msgspec.json.format(msgspec.json.encode({**head, **body}), indent=1) + b"\n"


def loads(data: bytes, name: str = "the file") -> RailMap:
    """Build a map from the bytes of a ``.railmap`` file.

    Parameters
    ----------
    data : bytes
        UTF-8 JSON.
    name : str
        What to call it in an error.

    Returns
    -------
    RailMap

    Raises
    ------
    FileError
        One sentence that says where in the file, what is wrong, and what stands there.

    Examples
    --------
    >>> loads(b'{"format": "railmap", "version": 1, "rails": [{"node": "A", "band_pct": -1}]}')
    Traceback (most recent call last):
    railmap.errors.FileError: the file: rails[0] A: band_pct must be at least 0, is -1
    """
    name = _one_line(name)
    raw = _parse(data, name)
    _check_head(raw, name)
    try:
        file = msgspec.convert(raw, _File)
    except (msgspec.ValidationError, MapError, UnicodeEncodeError):
        raise FileError(f"{name}: {explain(raw, _File)}") from None
    try:
        return RailMap.from_document(file)
    except MapError as error:
        raise FileError(f"{name}: {error}") from None


def load(path: str | os.PathLike[str]) -> RailMap:
    """Read a map from a file.

    Parameters
    ----------
    path : str or path
        The file.

    Returns
    -------
    RailMap

    Raises
    ------
    FileError
        If it cannot be read, is no railmap file, is newer than this program, or holds a value
        that cannot be.
    """
    path = Path(path)
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise FileError(f"{_one_line(path)} cannot be read: it is not a file")
        if status.st_size > MAX_BYTES:
            raise FileError(f"{_one_line(path.name)} is larger than {MAX_BYTES // 2**20} MiB")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        raise FileError(f"{_one_line(path)} cannot be read: {_os_trouble(error)}") from None
    return loads(data, path.name)


def save(m: RailMap, path: str | os.PathLike[str]) -> None:
    """Write a map to a file, whole or not at all.

    The bytes go to a temporary file in the same folder, are flushed to the disk, and take the
    name in one step, so that the old file stands until the new one is complete. A symbolic link
    stays; the file it points to is replaced. The permissions of an old file are kept.

    Parameters
    ----------
    m : RailMap
        The map.
    path : str or path
        The file.

    Raises
    ------
    FileError
        If it cannot be written; what stood there is untouched.
    """
    write_whole(dumps(m), path)


def write_whole(data: bytes, path: str | os.PathLike[str]) -> None:
    """Write bytes to a file, whole or not at all, in the way of :func:`save`.

    Parameters
    ----------
    data : bytes
        All that the file is to hold.
    path : str or path
        The file.

    Raises
    ------
    FileError
        If it cannot be written; what stood there is untouched.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     write_whole(b"whole", Path(folder, "note"))
    ...     Path(folder, "note").read_bytes()
    b'whole'
    """
    try:
        target = Path(os.path.realpath(path))
        mode = _mode_of(target)
        _put(data, target, mode)
    except (OSError, ValueError) as error:
        raise FileError(f"{_one_line(path)} cannot be written: {_os_trouble(error)}") from None


def schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the file format.

    It stands in ``railmap.schema.json`` beside this module as ``json.dumps(schema(), indent=1)``.
    It says what each field may be; whether the fields agree with each other, :func:`load` tells.

    Examples
    --------
    >>> schema()["required"]
    ['format', 'version']
    """
    found = json.loads(msgspec.json.encode(msgspec.json.schema(_File)))
    kinds = found["$defs"]
    for kind in kinds.values():
        kind["description"] = kind["description"].split("\n\n")[0]
    root = kinds.pop("_File")
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    return {**head, **root, "title": "railmap file", "$defs": kinds}


def _parse(data: bytes, name: str) -> object:
    if not data.strip():
        raise FileError(f"{name} is empty")
    try:
        text = data.decode("utf-8-sig")
        return json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_to_object)
    except (ValueError, RecursionError) as error:
        raise FileError(f"{name} is not a railmap file: {_json_trouble(error)}") from None


def _refuse_constant(name: str) -> NoReturn:
    raise _RefusedError(f"{name} is no number in JSON")


def _to_object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Build an object; of a field that stands twice, one value would be lost without a word."""
    found = dict(pairs)
    if len(found) < len(pairs):
        counted = Counter(name for name, _ in pairs)
        name, _ = counted.most_common(1)[0]
        raise _RefusedError(
            f"{label_of(found)}: {show(name)} stands twice in one object".removeprefix(": ")
        )
    return found


def _json_trouble(error: Exception) -> str:
    match error:
        case json.JSONDecodeError():
            what = error.msg.removesuffix(" at").lower()
            return f"{what} at line {error.lineno}, column {error.colno}"
        case UnicodeDecodeError():
            return f"byte {error.start} is not UTF-8 text"
        case RecursionError():
            return "its text is nested too deeply"
        case _RefusedError():
            return str(error)
        case _:
            return "it holds a number with too many digits"


def _check_head(raw: object, name: str) -> None:
    head = cast("dict[str, object]", raw) if isinstance(raw, dict) else {}
    if head.get("format") != FORMAT:
        raise FileError(f'{name} is not a railmap file: it does not say "format": "{FORMAT}"')
    version = head.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise FileError(f"{name}: version must be a whole number from 1, is {show(version)}")
    if version > VERSION:
        raise FileError(
            f"{name}: version is {show(version)}, and this program reads up to {VERSION}: "
            "open it with a newer railmap"
        )


def _mode_of(target: Path) -> int | None:
    """Return the permissions of the file to replace, or None if there is none yet."""
    try:
        mode = target.lstat().st_mode
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "it is not a file")
    if not os.access(target, os.W_OK):
        raise OSError(errno.EACCES, "it is read-only")
    return stat.S_IMODE(mode)


def _put(data: bytes, target: Path, mode: int | None) -> None:
    # The name is short whatever the target is called: names have a limit of their own.
    temporary = target.with_name(f".railmap-{secrets.token_hex(8)}.tmp")
    file = temporary.open("xb")
    try:
        with file:
            # A file system without permissions refuses to set any.
            if mode not in (None, stat.S_IMODE(temporary.stat().st_mode)):
                temporary.chmod(mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    """Make the new name last through a power cut, where the system can do that."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _one_line(name: str | os.PathLike[str]) -> str:
    text = os.fspath(name)
    return text if text and text.isprintable() else repr(text)


def _os_trouble(error: OSError | ValueError) -> str:
    text = error.strerror if isinstance(error, OSError) else None
    return (text or str(error)).lower()
