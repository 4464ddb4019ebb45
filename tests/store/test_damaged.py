"""Files damaged at random: a map, or one sentence in one line; nothing else, and nothing lost."""

import copy
import json
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from strategies import maps

from railmap.errors import FileError
from railmap.store.files import dumps, loads

JUNK = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.sampled_from([10**30, 10**400, -(10**400), 1e308, "R1", "Main", "0V", "\ud800", "\n", ""])
    | st.text(st.characters(codec=None), max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=5,
)


def read(data: bytes) -> None:
    """Read it; hold the reader to its word."""
    try:
        m = loads(data, "x")
    except FileError as error:
        said = str(error)
    else:
        assert loads(dumps(m)) == m
        return
    assert said.isprintable()
    assert said.startswith(("x:", "x is"))
    assert len(said) < 500


@given(st.binary())
def test_any_bytes(data: bytes) -> None:
    read(data)


@given(maps().map(dumps), st.data())
def test_a_valid_file_with_damaged_bytes(whole: bytes, data: st.DataObject) -> None:
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(whole)))
        stop = min(len(whole), start + data.draw(st.integers(0, 8)))
        new = data.draw(st.binary(max_size=4) | st.sampled_from(_TOKENS))
        whole = whole[:start] + new + whole[stop:]
    read(whole)


_TOKENS = [
    b"NaN", b"Infinity", b"1e999", b"-1e999", b"9" * 400, b"9" * 5000, b"null", b"true", b'""',
    b'"', b",", b":", b"{", b"}", b"[", b"]", b'"kind": "Load",', b"\xff", b"\\ud800", b"\0",
    b"[" * 2000,
]  # fmt: skip


@given(maps().map(dumps), st.integers(0, 10**6))
def test_a_file_cut_short(whole: bytes, place: int) -> None:
    read(whole[: place % len(whole)])


@given(maps().map(dumps).map(json.loads), st.data())
def test_a_valid_file_with_damaged_fields(raw: dict[str, Any], data: st.DataObject) -> None:
    raw = copy.deepcopy(raw)
    for _ in range(data.draw(st.integers(1, 3))):
        _damage(raw, data)
    read(json.dumps(raw).encode())


def _damage(raw: dict[str, Any], data: st.DataObject) -> None:
    """Change, drop, add or rename one field or item, anywhere but in the head."""
    at: Any = raw
    keys = [key for key in raw if key not in ("format", "version")]
    while True:
        step = data.draw(st.sampled_from(["replace", "drop", "add", "rename", *["deeper"] * 6]))
        key = data.draw(st.sampled_from(keys)) if keys else None
        if step == "add" or key is None:
            _add(at, data)
            return
        if step == "deeper" and isinstance(at[key], dict | list):
            at = at[key]
            keys = list(at) if isinstance(at, dict) else list(range(len(at)))
            continue
        if step == "drop":
            del at[key]
        elif step == "rename" and isinstance(at, dict):
            at[data.draw(st.text(max_size=5))] = at.pop(key)
        else:
            at[key] = data.draw(JUNK)
        return


def _add(at: Any, data: st.DataObject) -> None:
    if isinstance(at, dict):
        at[data.draw(st.text(max_size=5))] = data.draw(JUNK)
    elif at and data.draw(st.booleans()):
        at.append(at[0])
    else:
        at.append(data.draw(JUNK))
